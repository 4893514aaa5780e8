"""Results read back from disk, where they were made from the same inputs by the same versions."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd

from swinglab import columns
from swinglab.records import Finding, finding_of_row
from swinglab.study.csv_tables import unguard
from swinglab.study.opening import Study
from swinglab.study.results import Results, with_posture_errors
from swinglab.study.results_folder import RUN, TABLES, run_record

_TEXT = ("swing", "golfer", "session", "phase", "club", "capture", "group", "hand")


def read_results(study: Study, out: Path) -> Results | None:
    """Results kept in a folder, if they were made from exactly these inputs by these versions; else None."""
    out = Path(out)
    if not _still_holds(study, out):
        return None
    tables = {name: _read_back(out / f"{name}.csv") for name in TABLES}
    swings = with_posture_errors(tables.pop("swing_table"), tables["posture"])
    return Results(swings=swings, **tables)


def read_findings(study: Study, out: Path) -> tuple[Finding, ...] | None:
    """Findings kept in a folder for all of the study's questions, if they still hold as its results do; else None."""
    if not _still_holds(study, Path(out)):
        return None
    table = _read_back(Path(out) / "findings.csv")
    if set(table["name"]) != {question.name for question in study.questions}:
        return None
    return tuple(finding_of_row(row) for row in table.to_dict("records"))


def _still_holds(study: Study, out: Path) -> bool:
    """Whether a results folder was made from exactly these inputs by these versions."""
    try:
        kept = json.loads((out / RUN).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    now = run_record(study)
    return all(kept.get(key) == now[key] for key in ("packages", "inputs"))


def _read_back(path: Path) -> pd.DataFrame:
    """A table as `write_table` wrote it. Numbers are read as numbers at once: cell by cell takes seconds."""
    table = pd.read_csv(
        path, dtype=dict.fromkeys(_TEXT, str), keep_default_na=False, na_values=[""], encoding="utf-8"
    )
    for name in table.columns:
        measured = columns.is_column(name) and columns.column(name).kind != "design"
        kind = table[name].dtype
        is_number = pd.api.types.is_numeric_dtype(kind) and not pd.api.types.is_bool_dtype(kind)
        if measured or (is_number and bool(table[name].notna().any())):
            table[name] = pd.to_numeric(table[name], errors="coerce").astype(float)
        else:
            words = {word: unguard(str(word)) for word in table[name].dropna().unique()}
            table[name] = table[name].map(words).fillna("").astype(str)
    return table.rename(columns=unguard)
