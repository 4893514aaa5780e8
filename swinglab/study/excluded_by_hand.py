"""Swings excluded by hand (excluded_by_hand.csv): reading the list, excluding swings and including them again.

Excluding swings after seeing an answer easily produces results that do not replicate. Each exclusion is therefore
recorded with its reason, its time and whether an answer had been seen, and the report shows both answers.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from swinglab.errors import BadRequest, StudyFaults, SwinglabError
from swinglab.study.csv_tables import read_rows_by_hand, store_table

if TYPE_CHECKING:
    from swinglab.study.opening import Study
    from swinglab.study.results import Results

FILE = "excluded_by_hand.csv"
COLUMNS = ["swing", "reason", "who", "when", "answer_seen", "after_registration"]
#: File written by the command `register`; swings excluded while it exists are recorded as excluded after registration.
REGISTRATION = "registered.json"


def read_excluded(folder: Path | None) -> pd.DataFrame:
    """Read excluded_by_hand.csv of a study folder, with all cells as text; the table is empty if there is no file.

    folder : the study folder; None gives an empty table.

    Raises
    ------
    StudyFaults
        A column is missing, a swing has no reason or is listed more than once, or answer_seen is not yes or no.
    """
    table = read_rows_by_hand(folder, FILE, COLUMNS, 2)
    faults = []
    for name, words, bad in (
        ("reason", "the reason is empty, and every exclusion needs one", table["reason"] == ""),
        ("answer_seen", "must be yes, no or empty", ~table["answer_seen"].isin(["yes", "no", ""])),
        ("swing", "appears more than once", table["swing"].duplicated()),
    ):
        rows = ", ".join(str(i + 2) for i in np.flatnonzero(bad))
        if rows:
            faults.append(SwinglabError(f"{name} {words}", file=FILE, where=f"row {rows}"))
    if faults:
        raise StudyFaults(faults)
    return table


def exclude_swing(
    study: Study, swing: str, reason: str, *, who: str = "", answer_seen: bool | None = None
) -> pd.DataFrame:
    """Exclude a swing from the study's answers, with a reason; it is still measured.

    The report counts the exclusions and shows next to each answer the one with these swings included.

    Parameters
    ----------
    study : Study
    swing : str
    reason : str
        Why the swing is excluded; printed in the report.
    who : str
        A code of the person who decided, never a name.
    answer_seen : bool, optional
        Whether an answer that uses this swing had been seen. By default true if answers of this study are stored in
        its results or its notebooks.

    Returns
    -------
    DataFrame
        All exclusions that are now stored. Open the study again to use them.

    Raises
    ------
    BadRequest
        The swing is unknown or excluded already, the reason is empty, or the file cannot be written. The stored
        exclusions are then unchanged.
    """
    study.need_swing(swing)
    if not reason.strip():
        raise BadRequest(
            f"the exclusion of swing {swing} has no reason", do="give a reason: what is wrong with this swing"
        )
    excluded = read_excluded(study.folder)
    if (excluded["swing"] == swing).any():
        raise BadRequest(f"swing {swing} is excluded already", file=FILE, do="include this swing again first")
    if set(study.swings["swing"]) <= {swing, *excluded["swing"]}:
        raise BadRequest(
            f"swing {swing} is the last swing that is not excluded, and a study needs at least one",
            do="include another swing first",
        )
    seen = answers_are_stored(study.folder) if answer_seen is None else answer_seen
    row = {
        "swing": swing, "reason": reason.strip(), "who": who,
        "when": datetime.now(UTC).isoformat(timespec="seconds"), "answer_seen": "yes" if seen else "no",
        "after_registration": "yes" if (study.folder / REGISTRATION).exists() else "no",
    }  # fmt: skip
    return store_table(pd.concat([excluded, pd.DataFrame([row])], ignore_index=True), study.folder / FILE)


def include_swing(study: Study, swing: str) -> pd.DataFrame:
    """Undo the exclusion of a swing by hand, and return the remaining exclusions.

    Raises
    ------
    BadRequest
        The swing is unknown, or was not excluded by hand.
    """
    study.need_swing(swing)
    excluded = read_excluded(study.folder)
    gone = excluded["swing"] == swing
    if not gone.any():
        raise BadRequest(
            f"swing {swing} is not among the swings excluded by hand",
            file=FILE,
            do="check the name; a swing excluded in swings.csv is included again by emptying its cell in the column "
            "exclude",
        )
    return store_table(excluded[~gone].reset_index(drop=True), study.folder / FILE)


def apply_exclusions(study: Study, results: Results) -> Results:
    """Return results that agree with the swings that the study excludes by hand now; nothing is measured again.

    Rows of excluded swings are moved from `swings` to `excluded`, with the reason in `left_out`. Rows of swings that
    are no longer excluded are moved back.
    """
    order = {name: place for place, name in enumerate(study.swings["swing"])}
    words = {row["swing"]: words_of(row) for _, row in study.excluded.iterrows() if row["swing"] in order}
    do = "to include this swing again, remove its row or call study.include_swing"
    rows = pd.DataFrame(
        [[swing, FILE, "study", why, do] for swing, why in words.items()], columns=results.left_out.columns
    )
    others = results.left_out[results.left_out["file"] != FILE]
    left_out = _in_order(pd.concat([part for part in (others, rows) if len(part)] or [others]), order)
    if not words and results.excluded.empty:  # avoids copying a wide table of many swings
        return replace(results, excluded=results.swings.iloc[:0], left_out=left_out)
    table = _in_order(pd.concat([part for part in (results.swings, results.excluded) if len(part)]), order)
    out = table["swing"].isin(list(words))
    return replace(
        results, swings=table[~out].reset_index(drop=True), excluded=table[out].reset_index(drop=True),
        left_out=left_out,
    )  # fmt: skip


def _in_order(table: pd.DataFrame, order: dict[str, int]) -> pd.DataFrame:
    return table.sort_values("swing", key=lambda names: names.map(order), kind="stable", ignore_index=True)


def answers_are_stored(folder: Path) -> bool:
    """Return whether a study folder contains stored answers, in its results or its notebooks."""
    for place in (folder / "results", folder / "notebooks" / "measured"):
        try:
            with (place / "findings.csv").open(encoding="utf-8") as lines:
                if sum(1 for _ in zip(lines, range(2), strict=False)) == 2:
                    return True
        except (OSError, UnicodeDecodeError):
            continue
    return False


def words_of(row: pd.Series) -> str:
    """Return one row of excluded_by_hand.csv in words: reason, person, time, and whether an answer had been seen."""
    about = [part for part in (row["who"] and f"by {row['who']}", row["when"]) if part]
    if row["answer_seen"] == "yes":
        about.append("after its answer was seen")
    if row["after_registration"] == "yes":
        about.append("after registration")
    return f"excluded by hand: {row['reason']}" + (f" ({', '.join(about)})" if about else "")
