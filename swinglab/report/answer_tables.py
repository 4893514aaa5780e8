"""The answers as tables: for LaTeX, and as HTML that pastes into a word processor."""

from __future__ import annotations

import html
from pathlib import Path

import pandas as pd

from swinglab.records import Finding
from swinglab.report import wording

COLUMNS = ("Question", "Level", "Method", "Of", "Estimate", "95 % interval", "Unit, per", "df", "p", "p (Holm)",
           "Golfers", "Swings", "Reading")  # fmt: skip


def answers_table(findings: tuple[Finding, ...]) -> pd.DataFrame:
    """Every line of every answer as printed text."""
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


def write_answer_tables(findings: tuple[Finding, ...], folder: Path) -> list[Path]:
    """Write answers.tex (a tabular) and answers.html (to open and paste) into a folder."""
    table = answers_table(findings)
    folder.mkdir(parents=True, exist_ok=True)
    tex = folder / "answers.tex"
    tex.write_text(_latex(table), encoding="utf-8")
    page = folder / "answers.html"
    head = '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Answers</title></head><body>'
    page.write_text(f"{head}{_html(table)}</body></html>\n", encoding="utf-8")
    return [tex, page]


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
