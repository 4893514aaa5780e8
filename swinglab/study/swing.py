"""Measuring one swing: from its capture file to its rows in each table, or to the reasons why it was left out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.conventions import NO_SCALE, SEGMENT_LANDMARKS
from swinglab.errors import BadRequest, MissingInput, SwinglabError
from swinglab.events import find_events
from swinglab.load import load_trial, read_capture
from swinglab.records import Capture, Events, Posture, Setup, Strike, Trial
from swinglab.segments import measure_at, measure_posture, measure_swing
from swinglab.strike import Delivery, measure_delivery, measure_strike
from swinglab.study.file_hashes import hash_file, hash_files
from swinglab.study.gate import Doubt, Lengths, check_ranges, check_trial
from swinglab.study.opening import Study
from swinglab.study.run_record import capture_name, measured_with, neutral_name, static_name

Reason = tuple[str, str, str, str, str]  # a row of left_out.csv: swing, file, stage, what, do


MORE_MEMORY = "close other programs, use --workers 1, or measure this swing on a computer with more memory"


class Job(NamedTuple):
    """All inputs for measuring one swing: capture, set-up and events; it is sent to worker processes.

    path : the capture. shown : its name in messages. by_hand : event -> time set by hand (s, from the file's first
    frame). neutral, static : paths of the golfer's neutral and static captures; None if there is none.
    """

    swing: str
    golfer: str
    path: Path
    shown: str
    setup: Setup
    by_hand: dict[str, float]
    neutral: Path | None
    static: Path | None = None


class SwingRecords(NamedTuple):
    """The records of one swing: trial, posture, events and strike."""

    trial: Trial
    posture: Posture
    events: Events
    strike: Strike


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """Result of measuring one swing: its rows in each table of results, or only the reasons why it was left out.

    posture, events, strike, quantities, quality : rows of the tables; None if the swing, or the strike, was not
    measured. left_out : reasons why the swing, or a part of it, was not measured. measured_with : versions of the code
    and of packages. doubts : plausibility checks that the swing failed. lengths : segment lengths (m), for comparison
    with the golfer's other swings.
    """

    swing: str
    posture: pd.DataFrame | None = None
    events: pd.DataFrame | None = None
    strike: dict[str, Any] | None = None
    quantities: dict[str, float] | None = None
    quality: dict[str, Any] | None = None
    left_out: tuple[Reason, ...] = ()
    inputs: Mapping[str, str] = field(default_factory=dict)  # sha256 of the captures, as they were read
    measured_with: Mapping[str, str] = field(default_factory=dict)
    doubts: tuple[Doubt, ...] = ()
    lengths: Lengths = field(default_factory=Lengths)


def job_for(study: Study, swing: str) -> Job:
    """Return the inputs for measuring one swing.

    Raises
    ------
    BadRequest
        There is no swing of this name; similar names are suggested.
    MissingInput
        The swing has no capture, only outcomes of another device.
    """
    study.need_swing(swing)
    row = study.swings[study.swings["swing"] == swing]
    if swing not in study.captures:
        raise MissingInput(
            f"swing {swing} has no capture, only outcomes of another device",
            file="swings.csv",
            do="choose a swing with a capture",
        )
    return jobs_for(replace(study, swings=row))[0]


def jobs_for(study: Study) -> list[Job]:
    """Return the inputs for measuring all swings that have a capture, in the order of swings.csv."""
    setups = {golfer: study.setup_for(golfer) for golfer in study.swings["golfer"].unique()}
    jobs = []
    for row in study.swings.to_dict("records"):
        swing, golfer = row["swing"], str(row["golfer"])
        if swing in study.captures:  # otherwise the swing has only outcomes of another device
            path = study.captures[swing]
            jobs.append(Job(
                swing, golfer, path, study.shown(path), study.setup_for_row(row, setups[golfer]),
                study.hand_set_times_in_row(row), (study.neutral or {}).get(golfer), study.static.get(golfer),
            ))  # fmt: skip
    return jobs


def load_swing(study: Study, swing: str) -> SwingRecords:
    """Measure one swing and return all its records, for figures and the swing viewer.

    Raises
    ------
    SwinglabError
        The capture cannot be read or measured; the message gives the reason.
    """
    return _records(job_for(study, swing))


def _trial(
    path: Path, shown: str, setup: Setup, swing: str, golfer: str, static: Path | None = None
) -> Trial:
    if not path.exists():
        raise MissingInput(
            "the capture is missing",
            file=shown,
            do="copy the file to this place, or remove its row in swings.csv",
        )
    return load_trial(
        _capture(path, setup), setup, swing=swing, golfer=golfer,
        static=None if static is None else _capture(static, setup),
    )  # fmt: skip


def _capture(path: Path, setup: Setup) -> Capture:
    return read_capture(
        path, unit=setup.unit, rate_hz=setup.rate_hz, use_invalid=setup.use_points_marked_invalid
    )


def _posture(job: Job, trial: Trial) -> tuple[Posture, list[Reason]]:
    """Measure the posture, also relative to the golfer's neutral capture if this can be used.

    The second value returned is the reason why the neutral capture cannot be used, as rows of left_out.csv.
    """
    hip = job.setup.hip_method
    if job.neutral is None:
        return measure_posture(trial, hip_method=hip), []
    try:
        neutral, warned = _neutral_posture(job, job.neutral)
        posture = measure_posture(trial, hip_method=hip, neutral=neutral)
        return replace(posture, warnings=(*posture.warnings, *warned)), []
    except SwinglabError as error:
        reason = f"the neutral capture cannot be used: {error.what}"
        do = error.do or "correct [neutral] in study.toml; without it the swing has no angles from neutral"
        return measure_posture(trial, hip_method=hip), [(job.swing, job.neutral.name, "neutral", reason, do)]


#: Posture in the neutral captures measured last in this process, with warnings; all swings of a golfer use the same.
_NEUTRAL: dict[tuple[str, str], tuple[Posture, tuple[str, ...]]] = {}
_MOST_NEUTRAL = 8


def _neutral_posture(job: Job, path: Path) -> tuple[Posture, tuple[str, ...]]:
    contents = [hash_file(one) if one and one.is_file() else "" for one in (path, job.static)]
    key = (f"{path} {job.static} {contents}", repr(job.setup))
    if key not in _NEUTRAL:
        while len(_NEUTRAL) >= _MOST_NEUTRAL:
            _NEUTRAL.pop(next(iter(_NEUTRAL)))
        setup = replace(job.setup, from_s=None, to_s=None)
        trial = _trial(path, path.name, setup, "neutral", job.golfer, job.static)
        refused = check_trial(trial).impossible
        if refused:
            raise BadRequest(refused[0].what, where=refused[0].key, do=refused[0].do)
        _NEUTRAL[key] = (
            measure_posture(trial, hip_method=setup.hip_method),
            tuple(f"the neutral capture: {warning}" for warning in trial.warnings),
        )
    return _NEUTRAL[key]


def _records(job: Job) -> SwingRecords:
    trial = _trial(job.path, job.shown, job.setup, job.swing, job.golfer, job.static)
    posture, _ = _posture(job, trial)
    events = find_events(trial, posture, by_hand=job.by_hand)
    return SwingRecords(trial, posture, events, measure_strike(trial, events))


def _reason(job: Job, stage: str, error: Exception) -> Reason:
    if isinstance(error, MemoryError):
        return (
            job.swing,
            job.shown,
            stage,
            "there is not enough memory to measure this capture",
            MORE_MEMORY,
        )
    if isinstance(error, SwinglabError):
        where = f"{error.where}: " if error.where else ""
        # A capture is named by its path within the study folder.
        file = job.shown if error.file in (None, str(job.path), job.path.name) else error.file
        return (job.swing, file, stage, where + error.what, error.do or "")
    what = f"an unexpected fault ({type(error).__name__}: {error})"
    return (
        job.swing,
        job.shown,
        stage,
        what,
        "report this fault to the developers of swinglab, with this file if you may share it",
    )


def measure_job(job: Job) -> Measured:
    """Measure one swing and return the result; any exception becomes a row of left_out.csv.

    The capture is hashed before it is read, so that later changes of the file are detected when results are written.
    """
    try:
        inputs = hash_inputs(job)
    except (OSError, ValueError) as error:
        return Measured(job.swing, left_out=(_reason(job, "load", error),), measured_with=measured_with())
    return replace(_measured(job), inputs=inputs, measured_with=measured_with())


def hash_inputs(job: Job) -> dict[str, str]:
    """Return name in run.json -> SHA-256, for the captures that are read to measure a swing and that exist."""
    files = {capture_name(job.swing): job.path}
    if job.neutral is not None:
        files[neutral_name(job.golfer)] = job.neutral
    if job.static is not None:
        files[static_name(job.golfer)] = job.static
    return hash_files(files)


def _measured(job: Job) -> Measured:
    stage = "load"
    try:
        trial = _trial(job.path, job.shown, job.setup, job.swing, job.golfer, job.static)
        gate = check_trial(trial, job.by_hand.get("impact"))
        if gate.impossible:
            refused = tuple(
                (job.swing, job.shown, "gate", f"[{one.check}] {one.what}", one.do) for one in gate.impossible
            )
            return Measured(job.swing, left_out=refused, doubts=gate.doubts)
        stage = "segments"
        posture, reasons = _posture(job, trial)
        stage = "events"
        events = find_events(trial, posture, by_hand=job.by_hand)
        at = measure_at(posture, events.later(job.setup.read_later_s))
        quantities = measure_swing(posture, events, trial)
    except Exception as error:  # one bad file must not stop a study; the reason is kept and shown
        return Measured(job.swing, left_out=(_reason(job, stage, error),))
    strike, face = None, None
    try:
        strike = measure_strike(trial, events)
        reasons += _strike_reasons(job, strike)
        face = measure_delivery(trial, strike, job.setup.face_landmarks) if job.setup.face_landmarks else None
    except Exception as error:  # as above: the posture of the swing is kept
        reasons.append(_reason(job, "strike", error))
    row = _strike_row(strike, face)
    return Measured(
        job.swing, at, events.table(), row, quantities, _quality(job, trial, posture, events, strike), tuple(reasons),
        doubts=(*gate.doubts, *check_ranges(at, quantities, row)), lengths=gate.lengths,
    )  # fmt: skip


def _strike_reasons(job: Job, strike: Strike) -> list[Reason]:
    """Return a row of left_out.csv if the swing has no attack angle, otherwise an empty list.

    Other missing outcomes are in the column note of strike.csv.
    """
    if np.isfinite(strike.values.get("attack_angle_deg", np.nan)):
        return []
    why = strike.missing.get("attack_angle_deg", "the strike could not be measured")
    return [
        (
            job.swing,
            job.shown,
            "strike",
            why,
            "check the clubhead and the ball in this capture; posture and events were measured",
        )
    ]


def _strike_row(strike: Strike | None, face: Delivery | None) -> dict[str, Any] | None:
    if strike is None:
        return None
    row: dict[str, Any] = {"swing": strike.swing}
    for name in columns.STRIKES:
        row[name] = strike.values.get(name, np.nan)
        row[columns.error_column_name(name)] = strike.standard_errors.get(name, np.nan)
    if face is not None:
        for name in columns.DELIVERIES:
            row[name] = face.values[name]
            row[columns.error_column_name(name)] = face.standard_errors[name]
    row["contact"] = strike.contact
    for name, column in columns.PROBABILITIES.items():
        row[name] = strike.contact_probabilities.get(column.stem.split("_")[1], np.nan)
    row["method"] = strike.method
    row["attack_low_point_covariance"] = _covariance(strike, "attack_angle_deg", "low_point_ahead_cm")
    grouped: dict[str, list[str]] = {}
    missing = dict(strike.missing) | ({"face": face.missing} if face and face.missing else {})
    for name, why in missing.items():
        grouped.setdefault(why, []).append(name)
    row["note"] = "; ".join(f"{', '.join(names)}: {why}" for why, names in grouped.items())
    return row


def _covariance(strike: Strike, one: str, other: str) -> float:
    names = strike.covariance_names
    if one not in names or other not in names:
        return float("nan")
    return float(strike.covariance[names.index(one), names.index(other)])


def _quality(
    job: Job, trial: Trial, posture: Posture, events: Events, strike: Strike | None
) -> dict[str, Any]:
    """Return the swing's row of quality.csv: data quality, and the methods of measurement.

    Swings measured by different methods must not be pooled.
    """
    warnings = [*trial.warnings, *posture.warnings, *events.warnings, *(strike.warnings if strike else ())]
    has_noise = trial.setup.unit != NO_SCALE and bool(np.isfinite(trial.noise_m).any())
    trunk = "thorax_axial_rotation_deg"
    pelvis = "pelvis_axial_rotation_deg"
    return {
        "swing": job.swing,
        "file": job.shown,
        "rate_hz": trial.rate_hz,
        "frames": len(trial.time_s),
        "landmarks": len(trial.landmarks),
        "filled_samples": int(trial.filled.sum()),
        "missing_samples": int((~np.isfinite(trial.points_m[..., 0])).sum()),
        "noise_mm": float(np.nanmedian(trial.noise_m) * 1e3) if has_noise else np.nan,
        "cutoff_hz": "; ".join(f"{part} {hz:.3g}" for part, hz in sorted(trial.cutoff_hz.items())),
        "capture_kind": trial.kind,
        "pelvis_frame_method": posture.methods.get(pelvis, ""),
        "thorax_frame_method": posture.methods.get(trunk, ""),
        "arm_method": "acromion to wrist" if trial.kind == "markers" else "shoulder centre to wrist",
        "impact_method": events["impact"].method,
        "ball_method": trial.ball_method,
        "warnings": " | ".join(dict.fromkeys(warnings)),
        **{f"{segment}_deformation_mm": _deformation_mm(trial, segment) for segment in SEGMENT_LANDMARKS},
    }


def _deformation_mm(trial: Trial, segment: str) -> float:
    """Return the root mean square deformation of a segment's landmarks, mm; NaN where it cannot be assessed."""
    if trial.deformation_m is None or trial.setup.unit == NO_SCALE:
        return float("nan")
    own = trial.deformation_m[[name in SEGMENT_LANDMARKS[segment] for name in trial.landmarks]]
    own = own[np.isfinite(own)]
    return float(1000 * np.sqrt(np.mean(own**2))) if len(own) else float("nan")
