"""Tables for a paper: as LaTeX, and as HTML to paste into a word processor."""

from __future__ import annotations

import html
from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from swinglab.records import Finding
from swinglab.report import wording

COLUMNS = ("Question", "Level", "Method", "Of", "Estimate", "95 % interval", "Unit, per", "df", "p", "p (Holm)",
           "Golfers", "Swings", "Reading")  # fmt: skip


def answers_table(findings: tuple[Finding, ...]) -> pd.DataFrame:
    """Return the findings as a table of text for a paper: one row for each finding, columns as in `COLUMNS`."""
    rows = [
        (
            f.name, f.level, f.method, wording.label(f.outcome), wording.rounded(f.estimate, f), wording.interval(f),
            wording.unit_and_per(f), wording.cell(f.df),
            wording.p_value(f.p), wording.p_value(f.p_adjusted) if f.role == "default" else "",
            str(f.n_golfers), str(f.n_swings), f.reading,
        )
        for f in findings
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(COLUMNS))


def write_tables(tables: Mapping[str, pd.DataFrame], folder: Path) -> None:
    """Write each table (name -> table) to a folder, as NAME.tex (a LaTeX tabular) and NAME.html (to copy from)."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, table in tables.items():
        (folder / f"{name}.tex").write_text(_latex(table), encoding="utf-8")
        title = name.replace("_", " ").capitalize()
        head = (
            f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title></head><body>'
        )
        (folder / f"{name}.html").write_text(f"{head}{_html(table)}</body></html>\n", encoding="utf-8")


_LATEX = {"\\": r"\textbackslash{}", "&": r"\&", "%": r"\%", "$": r"\$", "#": r"\#", "_": r"\_", "{": r"\{",
          "}": r"\}", "~": r"\textasciitilde{}", "^": r"\textasciicircum{}", "−": "$-$", "<": "$<$", ">": "$>$",
          "±": r"$\pm$"}  # fmt: skip


def _latex(table: pd.DataFrame) -> str:
    def row(cells: tuple | list) -> str:
        return " & ".join("".join(_LATEX.get(c, c) for c in str(cell)) for cell in cells) + r" \\"

    lines = [row(list(table.columns)), r"\hline", *(row(cells) for cells in table.itertuples(index=False))]
    return "\\begin{tabular}{" + "l" * len(table.columns) + "}\n" + "\n".join(lines) + "\n\\end{tabular}\n"


def _html(table: pd.DataFrame) -> str:
    head = "".join(f"<th>{html.escape(str(name))}</th>" for name in table.columns)
    body = "".join(
        "<tr>" + "".join(f"<td>{html.escape(str(cell))}</td>" for cell in row) + "</tr>"
        for row in table.itertuples(index=False)
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
