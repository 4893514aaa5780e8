"""Check of a study folder: faults, captures, marker labels, and the quantities that can be measured."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from swinglab import columns, conventions
from swinglab.errors import SwinglabError, similar_names
from swinglab.load import describe_capture, read_capture
from swinglab.load.landmarks import match_landmarks
from swinglab.study.device_outcomes import agreement_lines
from swinglab.study.gate import GATE_COLUMNS, IMPOSSIBLE
from swinglab.study.measuring import NothingMeasured, Progress, measure_study
from swinglab.study.opening import Study, gather_study
from swinglab.study.results import Results

#: Stages whose failure excludes the complete swing.
_STAGES = ("load", "gate", "segments", "events")


@dataclass(frozen=True, slots=True, eq=False)
class StudyCheck:
    """Result of checking a study folder.

    faults : faults of study.toml and the tables or, if no swing could be measured, the reasons that are not in
    `captures` and `gate`. captures : one row for each swing, with the columns of `load.describe_capture` and `problem`
    (why the capture cannot be used; empty if it can). labels : one row for each marker label, with its landmark, the
    number of captures with it, and similar landmark names (near). gate : one row for each plausibility check that a
    swing failed, as in gate.csv. available : one row for each quantity, event and outcome, with the number of swings
    that have a value. without_strike : reason -> names of the swings whose strike was not measured for this reason.
    agreement : texts that compare another device's outcomes with swinglab's.
    """

    study: Study
    faults: tuple[SwinglabError, ...]
    captures: pd.DataFrame
    labels: pd.DataFrame
    gate: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=GATE_COLUMNS, dtype=str))
    available: pd.DataFrame = field(
        default_factory=lambda: pd.DataFrame(columns=["kind", "name", "label", "swings"])
    )
    without_strike: dict[str, tuple[str, ...]] = field(default_factory=dict)
    agreement: tuple[str, ...] = ()

    @property
    def passed(self) -> bool:
        """Whether there are captures and all can be used, there are no faults, and no swing has impossible data."""
        unusable = bool((self.captures["problem"] != "").any()) if len(self.captures) else True
        return not self.faults and not unusable and not (self.gate["verdict"] == IMPOSSIBLE).any()


def check_folder(
    folder: str | Path,
    *,
    allow_outside: bool = False,
    progress: Progress | None = None,
    workers: int | None = None,
    cache: Path | None = None,
) -> StudyCheck:
    """Check a study folder: collect all faults and, if its tables have none, measure every swing to find further ones.

    Parameters
    ----------
    folder : path
        The study folder.
    allow_outside : bool
        Whether captures outside the folder are allowed.
    progress, workers, cache
        As for `measure_study`.

    Returns
    -------
    StudyCheck

    Raises
    ------
    StudyFaults
        The folder has no study.toml, so it is not a study folder.
    """
    study, faults = gather_study(folder, allow_outside=allow_outside)
    captures, labels = _look_at_captures(study)
    if faults:
        return StudyCheck(study, tuple(faults), captures, labels)
    try:
        results = measure_study(study, workers=workers, progress=progress, cache=cache)
    except NothingMeasured as error:
        # Swings that the gate refused are in its table, and unreadable captures already have a problem.
        known = " | ".join(captures["problem"])
        new = [one for one in error.faults if one.where != "gate" and one.what not in known]
        return StudyCheck(study, tuple(new), captures, labels, error.gate)
    left = results.left_out
    strikes = left[left["stage"] == "strike"].groupby("what", sort=False)["swing"].agg(list)
    return StudyCheck(
        study, (), _with_problems(captures, results), labels, results.gate, what_is_available(results),
        {str(what): tuple(swings) for what, swings in strikes.items()}, tuple(agreement_lines(results.swings)),
    )  # fmt: skip


def check_study(study: Study, *, progress: Progress | None = None) -> pd.DataFrame:
    """Return a description of each swing's capture, or the reason why it cannot be used; nothing is measured.

    Returns
    -------
    DataFrame
        One row for each swing, with the columns swing, file, those of `load.describe_capture`, and problem (the reason
        why the capture cannot be used; empty if there is none).
    """
    return _look_at_captures(study, progress=progress)[0]


def _look_at_captures(study: Study, *, progress: Progress | None = None) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Read every capture, and return the tables `captures` and `labels` of a `StudyCheck`."""
    rows = []
    labels: Counter[tuple[str, str]] = Counter()
    absent: Counter[tuple[str, str]] = Counter()
    static = {golfer: _landmarks_of(study, path, golfer) for golfer, path in study.static.items()}
    golfer_of = study.swings.set_index("swing")["golfer"]
    for number, swing in enumerate(study.swings["swing"], start=1):
        if swing in study.captures:
            rows.append(_look_at(study, swing, static.get(golfer_of[swing], frozenset()), labels, absent))
        if progress:
            progress(number, len(study.swings), swing)
    names = [*conventions.LANDMARKS]
    listed = [(label, landmark, count, "") for (label, landmark), count in labels.items() if landmark]
    listed += [
        (label, "", count, similar_names(label.rpartition(":")[2], names))
        for (label, landmark), count in labels.items()
        if not landmark
    ]
    there = {label.rpartition(":")[2] for label, _ in labels}
    listed += [
        (label, f"{landmark} (not in the files)", count, similar_names(label, there))
        for (label, landmark), count in absent.items()
    ]
    table = pd.DataFrame(listed, columns=["label", "landmark", "captures", "near"])
    return pd.DataFrame(rows, columns=None if rows else ["swing", "file", "problem"]), table


def _landmarks_of(study: Study, path: Path, golfer: str) -> frozenset[str]:
    """Return the landmarks of a golfer's static capture, which swings need not have; empty if it cannot be read."""
    setup = study.setup_for(golfer)
    try:
        capture = read_capture(path, unit=setup.unit, rate_hz=setup.rate_hz)
        return frozenset(match_landmarks(capture, setup).columns)
    except (SwinglabError, OSError):
        return frozenset()  # the fault is reported when the golfer's swings are measured


def _look_at(
    study: Study, swing: str, static: frozenset[str], labels: Counter[tuple[str, str]],
    absent: Counter[tuple[str, str]],
) -> dict[str, object]:  # fmt: skip
    path = study.captures[swing]
    row: dict[str, object] = {"swing": swing, "file": study.shown(path), "problem": ""}
    try:
        if not path.exists():
            raise SwinglabError("the capture is missing", do="copy the file to this place")
        setup = study.setup_for_swing(swing)
        capture = read_capture(
            path, unit=setup.unit, rate_hz=setup.rate_hz, use_invalid=setup.use_points_marked_invalid
        )
        row |= describe_capture(capture, setup)
        matched = match_landmarks(capture, setup)
    except SwinglabError as error:
        row["problem"] = f"{error.what}" + (f" ({error.do})" if error.do else "")
        return row
    except Exception as error:  # one bad file must not stop the check of the others
        row["problem"] = (
            f"an unexpected fault ({type(error).__name__}: {str(error)[:200]}); report it to the developers of swinglab"
        )
        return row
    landmark_of = {place: name for name, places in matched.columns.items() for place in places}
    labels.update((label, landmark_of.get(place, "")) for place, label in enumerate(capture.labels))
    missing = {name: wanted for name, wanted in matched.missing.items() if name not in static}
    absent.update((label, name) for name, wanted in missing.items() for label in wanted)
    if missing:
        words = ", ".join(f"{' or '.join(wanted)} for {name}" for name, wanted in missing.items())
        row["problem"] = f"the file lacks these marker labels, which study.toml names: {words}"
    elif not matched.columns:
        row["problem"] = (
            "no marker label is the name of a landmark (assign labels to landmarks under [landmarks] in study.toml)"
        )
    return row


def _with_problems(captures: pd.DataFrame, results: Results) -> pd.DataFrame:
    """Return the captures with the reasons why complete swings were left out."""
    left = results.left_out[results.left_out["stage"].isin(_STAGES)]
    why = {swing: " | ".join(rows["what"]) for swing, rows in left.groupby("swing")}
    problems = [
        problem or why.get(swing, "")
        for swing, problem in zip(captures["swing"], captures["problem"], strict=True)
    ]
    return captures.assign(problem=problems)


def what_is_available(results: Results) -> pd.DataFrame:
    """Return the number of measured swings that have each event, quantity and outcome.

    Returns
    -------
    DataFrame
        One row for each event, quantity and outcome, with the columns kind (which of the three), name, label and swings
        (number of swings with a value).
    """
    rows: list[tuple[str, str, str, int]] = []
    found = results.events[np.isfinite(results.events["time_s"].to_numpy(float))]
    for event in conventions.EVENTS:
        number = int(found.loc[found["event"] == event, "swing"].nunique())
        rows.append(("event", event, conventions.EVENT_LABELS[event], number))
    values = results.posture[np.isfinite(results.posture["value"].to_numpy(float))]
    swings = values.groupby("quantity", observed=True)["swing"].nunique()
    for name, column in columns.QUANTITIES.items():
        if "_from_neutral" in name and name not in swings:
            continue  # not expected in a study without neutral captures
        rows.append(("quantity", name, column.label, int(swings.get(name, 0))))
    for name, column in columns.STRIKES.items():
        number = int(results.strike[name].notna().sum()) if name in results.strike else 0
        rows.append(("outcome", name, column.label, number))
    return pd.DataFrame(rows, columns=["kind", "name", "label", "swings"])
