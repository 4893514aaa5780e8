"""Reading of stored results, if they were computed from the same inputs by the same versions of the software."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from swinglab.errors import BadRequest
from swinglab.records import Finding, finding_of_row
from swinglab.study.csv_tables import guard, unguard, written_path
from swinglab.study.file_hashes import source_hash
from swinglab.study.opening import Study
from swinglab.study.results import Results, with_capture_names, with_posture_errors
from swinglab.study.results_folder import TABLES, finish_interrupted
from swinglab.study.run_record import (
    PAGE,
    STAGES,
    capture_name,
    edited_outputs,
    input_paths,
    inputs_now,
    is_own_record,
    neutral_name,
    package_versions,
    read_record,
    static_name,
)

UNVERIFIED = (
    "the captures are not in the study folder, so these stored results are not verified: "
    "they are shown as they were stored"
)

#: The table with by far the most rows.
LONG = "posture"
#: Column types other than number and text.
_TYPES = {"whole": np.dtype("int64"), "yes_no": np.dtype(bool)}
#: Exceptions from a record that does not fit its tables; records from another computer may contain anything.
_UNFIT = (ValueError, KeyError, TypeError, AttributeError)


def read_results(study: Study, out: Path) -> Results | None:
    """Return the results stored in a folder if they are still valid, otherwise None.

    They are valid if they were computed from the same inputs by the same versions of the software. If no capture
    exists (an archive, another computer), the results are returned with a note that they were not verified.
    """
    out = Path(out)
    with contextlib.suppress(BadRequest):  # another program uses the folder: its content is read as it is
        finish_interrupted(out)
    record = read_record(out)
    if why_outdated(study, out, record, ("measuring",)):
        return None
    try:
        tables = {
            name: _read_back(written_path(out, name), record["types"][name], name == LONG) for name in TABLES
        }
        for name in ("swing_table", "excluded_swings"):
            tables[name] = with_capture_names(with_posture_errors(tables[name], tables["posture"]), study)
    except _UNFIT:
        return None
    captures = {name: digest for name, digest in record["inputs"].items() if name not in study.inputs}
    return Results(
        swings=tables.pop("swing_table"), excluded=tables.pop("excluded_swings"), inputs=captures,
        notes=(UNVERIFIED,) if _captures_are_gone(study, record) else (), **tables,
    )  # fmt: skip


def read_findings(study: Study, out: Path) -> tuple[Finding, ...] | None:
    """Return the findings stored in a folder if they are still valid and answer all questions, otherwise None."""
    out = Path(out)
    record = read_record(out)
    if why_outdated(study, out, record, ("measuring", "answering")):
        return None
    try:
        table = _read_back(out / "findings.csv", record["types"]["findings"])
        if set(table["name"]) != {question.name for question in study.questions}:
            return None
        return tuple(finding_of_row(row) for row in table.to_dict("records"))
    except _UNFIT:
        return None


def is_current(study: Study, out: Path) -> bool:
    """Return whether the results, answers and report in a folder are those that the command `study` would write now."""
    out = Path(out)
    finish_interrupted(out)
    record = read_record(out)
    whole = {"findings.csv", PAGE} <= set(record.get("outputs", {}))
    return (
        whole
        and not why_outdated(study, out, record, tuple(STAGES))
        and not _captures_are_gone(study, record)
    )


class Kept(NamedTuple):
    """The part of valid stored results that the command `study` prints: answers, swings left out, and doubts."""

    findings: tuple[Finding, ...]
    left_out: pd.DataFrame
    gate: pd.DataFrame


def read_kept(study: Study, out: Path) -> Kept | None:
    """Return what the command `study` prints, from stored results; None if they are not valid.

    The large tables are only hashed, not read.
    """
    findings = read_findings(study, out) if is_current(study, out) else None
    if findings is None:
        return None
    types = read_record(Path(out))["types"]
    left_out, gate = (_read_back(Path(out) / f"{name}.csv", types[name]) for name in ("left_out", "gate"))
    return Kept(findings, left_out, gate)


def why_outdated(study: Study, out: Path, record: Mapping[str, Any], stages: tuple[str, ...]) -> str:
    """Return the reason why stored results are no longer valid for a study; empty if they are valid.

    Parameters
    ----------
    study : Study
    out : Path
        The results folder.
    record : mapping
        Its run.json.
    stages : tuple of str
        Names of the stages whose code must be unchanged, such as measuring or answering.
    """
    if not record or any(name not in record["types"] for name in (*TABLES, "findings")):
        return "the folder contains no complete results"
    if not is_own_record(record) and not _captures_are_gone(study, record):
        return "the results come from another computer or account, or run.json was changed"
    for stage in stages:
        parts, packages = STAGES[stage]
        if record["source"].get(stage) != source_hash(parts):
            return f"swinglab's code for {stage} has changed"
        now = package_versions(packages)
        changed = [name for name in packages if record["packages"].get(name) != now[name]]
        if changed:
            return f"another version of {', '.join(changed)} is installed"
    edited = edited_outputs(out, record)
    if edited:
        return f"{', '.join(edited)} changed since the results were written"
    return _changed_inputs(study, record)


def _changed_inputs(study: Study, record: Mapping[str, Any]) -> str:
    written = record["inputs"]
    own = {
        name: digest
        for name, digest in written.items()
        if not name.startswith(("capture ", "neutral ", "static "))
    }
    if own != study.inputs:
        names = sorted({name for name in {*own, *study.inputs} if own.get(name) != study.inputs.get(name)})
        return f"{', '.join(names)} changed"
    if _captures_are_gone(study, record):
        return ""
    expected = {name: path for name, path in input_paths(study).items() if path.is_file()}
    excluded = study.swings.get("exclude", pd.Series("", index=study.swings.index)) != ""
    for swing in study.swings["swing"][excluded]:
        expected.pop(capture_name(swing), None)
    # Neutral and static captures are read only for golfers with a swing that is measured.
    read = set(study.swings["golfer"][~excluded & study.swings["swing"].isin(list(study.captures))])
    for golfer in {*(study.neutral or {}), *study.static} - read:
        expected.pop(neutral_name(golfer), None)
        expected.pop(static_name(golfer), None)
    now = inputs_now(study, {**{n: None for n in written if n not in own}, **expected})
    captures = {name: digest for name, digest in written.items() if name not in own}
    changed = sorted(name for name in {*now, *captures} if now.get(name) != captures.get(name))
    return f"{', '.join(changed[:5])} changed" if changed else ""


def _captures_are_gone(study: Study, record: Mapping[str, Any]) -> bool:
    """Return whether captures were read for these results, and none of the study's captures exists now."""
    read = [name for name in record["inputs"] if name.startswith("capture ")]
    return bool(read) and not any(path.exists() for path in study.captures.values())


def _read_back(path: Path, types: Mapping[str, str], as_categories: bool = False) -> pd.DataFrame:
    """Read a table written by `write_table`, with the original column types.

    types : column -> type, from `column_types`. as_categories : whether columns of text become categories.
    """
    text = {
        str(guard(name)): "category" if as_categories else str
        for name, kind in types.items()
        if kind == "text"
    }
    table = pd.read_csv(path, dtype=text, keep_default_na=False, na_values=[""], encoding="utf-8")
    table = table.rename(columns=unguard)
    for name, kind in types.items():
        if kind == "text" and as_categories:
            words = table[name].cat.rename_categories(
                [unguard(str(word)) for word in table[name].cat.categories]
            )
            table[name] = words.cat.add_categories("").fillna("") if words.isna().any() else words
        elif kind == "text":
            guarded = {word: unguard(word) for word in table[name].dropna().unique() if unguard(word) != word}
            table[name] = table[name].replace(guarded).fillna("") if guarded else table[name].fillna("")
        elif kind == "number":
            table[name] = pd.to_numeric(table[name], errors="coerce").astype(float)
        else:
            table[name] = table[name].astype(_TYPES[kind])
    return table
