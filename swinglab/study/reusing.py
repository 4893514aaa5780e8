"""Results of a study for notebooks: stored results are read if still valid, otherwise the study is measured."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd

from swinglab.errors import BadRequest
from swinglab.records import Finding
from swinglab.study.answering import answer_study
from swinglab.study.events_by_hand import FILE as BY_HAND
from swinglab.study.excluded_by_hand import FILE as EXCLUDED
from swinglab.study.excluded_by_hand import apply_exclusions
from swinglab.study.gate import quality_columns
from swinglab.study.measuring import Progress, measure_study
from swinglab.study.opening import Study
from swinglab.study.results import Results
from swinglab.study.results_folder import write_results
from swinglab.study.run_record import capture_name, inputs_now, read_record
from swinglab.study.stored_results import read_findings, read_results, why_outdated
from swinglab.study.swing_cache import SWINGS_FOLDER


def session_folder(study: Study) -> Path:
    """Return the folder in which notebooks store results; the folder `results/` is written only by commands."""
    return study.folder / "notebooks" / "measured"


def swings_folder(study: Study) -> Path:
    """Return the folder in which measured swings are stored between runs; it may be deleted at any time."""
    return study.folder / SWINGS_FOLDER


def load_or_measure(study: Study, *, workers: int | None = None, progress: Progress | None = None) -> Results:
    """Return the results of a study: stored results if still valid, otherwise the study is measured and stored.

    Parameters
    ----------
    study : Study
    workers, progress
        As for `measure_study`.

    Returns
    -------
    Results

    Raises
    ------
    StudyFaults
        No swing could be measured.
    """
    for folder in (study.folder / "results", session_folder(study)):
        results = read_results(study, folder)
        if results is not None:
            return results
    results = measure_study(study, workers=workers, progress=progress, cache=swings_folder(study))
    store_results(study, results)
    return results


def load_or_answer(study: Study, results: Results) -> tuple[Finding, ...]:
    """Return the answers to a study's questions: stored answers if still valid, otherwise computed and stored."""
    for folder in (study.folder / "results", session_folder(study)):
        findings = read_findings(study, folder)
        if findings:
            return findings
    findings = answer_study(study, results)
    store_results(study, results, findings)
    return findings


def holding_record(study: Study) -> str:
    """Return a digest of the run.json of stored results that are valid now; empty if no stored results are valid.

    If two digests are equal, the stored results were the same at both times.
    """
    for folder in (study.folder / "results", session_folder(study)):
        record = read_record(folder)
        if not why_outdated(study, folder, record, ("measuring", "answering")):
            return hashlib.sha256(repr(record).encode()).hexdigest()
    return ""


def store_results(study: Study, results: Results, findings: tuple[Finding, ...] = ()) -> bool:
    """Store results for the next notebook session; return False if the study folder cannot be written."""
    try:
        write_results(study, results, findings, session_folder(study))
    except (BadRequest, OSError):
        return False
    return True


def others_are_valid(swing: str, before: Study, after: Study, results: Results) -> bool:
    """Return whether the results of all swings but one are still valid after a study was opened again.

    They are if only exclusions and the events set by hand of this one swing have changed. The captures of the other
    swings are not hashed here, because that would take seconds; their hashes are checked when stored results are read.

    Parameters
    ----------
    swing : str
        Name of the one swing.
    before : Study
        The study from which the results were measured.
    after : Study
        The study as it was opened again.
    results : Results
        Results of all swings, measured from `before`.
    """
    return (
        _other_files(before) == _other_files(after)
        and _events_of_others(before, swing) == _events_of_others(after, swing)
        and inputs_now(after, _still_captures(after, results)) == _still_captures(after, results)
    )


def _other_files(study: Study) -> dict[str, str]:
    return {name: digest for name, digest in study.inputs.items() if name not in (BY_HAND, EXCLUDED)}


def _events_of_others(study: Study, swing: str) -> set[tuple[str, str, float]]:
    rows = study.by_hand[study.by_hand["swing"] != swing]
    return set(zip(rows["swing"], rows["event"], rows["time_s"], strict=True))


def _still_captures(study: Study, results: Results) -> dict[str, str]:
    """Return the neutral and static captures that were read for these results, with their SHA-256."""
    of_swings = {capture_name(swing) for swing in study.swings["swing"]}
    return {name: digest for name, digest in results.inputs.items() if name not in of_swings}


def measure_swing_again(study: Study, results: Results, swing: str) -> Results:
    """Return results in which one swing was measured again, after one of its events was set by hand.

    Parameters
    ----------
    study : Study
        The study, opened again after the event was set.
    results : Results
        Results of all swings before the event was set. They must be valid for the other swings: see `others_are_valid`.
    swing : str
        Name of the swing.

    Raises
    ------
    StudyFaults
        The swing can no longer be measured; the message gives the reason.
    """
    alone = replace(study, swings=study.swings[study.swings["swing"] == swing], excluded=study.excluded[:0])
    fresh = measure_study(alone, workers=1)
    order = {name: place for place, name in enumerate(study.swings["swing"])}
    tables: dict[str, Any] = {
        name: _with_swing(getattr(results, name), getattr(fresh, name), swing, order)
        for name in ("posture", "events", "strike", "left_out", "quality", "gate")
    }
    # An event set by hand does not change segment lengths, so doubts from comparing them remain valid.
    lengths = results.gate[(results.gate["swing"] == swing) & (results.gate["check"] == "same_lengths")]
    if len(lengths):
        tables["gate"] = pd.concat([tables["gate"], lengths], ignore_index=True)
        own = quality_columns(tables["gate"][tables["gate"]["swing"] == swing], [swing])
        row = tables["quality"]["swing"] == swing
        tables["quality"].loc[row, ["gate", "doubts"]] = own[["gate", "doubts"]].to_numpy()
    swings = _with_swing(results.with_excluded, fresh.swings, swing, order)
    joined = replace(
        results, swings=swings, excluded=swings[:0], inputs={**results.inputs, **fresh.inputs}, **tables
    )
    return apply_exclusions(study, joined)


def _with_swing(table: pd.DataFrame, fresh: pd.DataFrame, swing: str, order: dict[str, int]) -> pd.DataFrame:
    """Return a table with the rows of one swing replaced, swings in the study's order."""
    parts = [part for part in (table[table["swing"] != swing], fresh) if len(part)]
    if not parts:
        return table
    joined = pd.concat(parts, ignore_index=True)
    return joined.sort_values("swing", key=lambda names: names.map(order), kind="stable", ignore_index=True)
