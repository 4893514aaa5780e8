"""The methods text of a study, composed from its results; every number in it is in a table of the results."""

from __future__ import annotations

import pandas as pd

from swinglab import conventions
from swinglab.records import Finding
from swinglab.report.participants import ethics_text, markdown, participants_text, table_1
from swinglab.report.statistics_text import statistics_text
from swinglab.report.validation_text import validation_estimates, validation_text
from swinglab.report.wording import count, number, span
from swinglab.segments.trunk import PELVIS_OF_CENTRES, TRUNK_OF_CENTRES
from swinglab.study import Results, Study, run_record

#: Title of the part of the text that is a table.
TABLE_1 = "Table 1. Golfers, by group: mean (SD), minimum to maximum, or number of golfers"


def methods_text(study: Study, results: Results, findings: tuple[Finding, ...]) -> str:
    """Return the methods text as Markdown, from ethics and participants to statistics and software."""
    parts = [
        ("Ethics", ethics_text(study)),
        ("Participants and swings", participants_text(study, results)),
        (TABLE_1, markdown(table_1(study, results))),
        ("Captures", _captures(study, results)),
        ("Processing", _processing(study, results)),
        ("Posture", _posture(results)),
        ("Events", _events(results)),
        ("Strike", _strike(study, results)),
        ("Errors of the set-up", validation_text(study, results)),
        ("Statistics", statistics_text(study, findings)),
        ("Software", _software(study, results)),
    ]
    body = "\n\n".join(f"## {title}\n\n{text}" for title, text in parts if text)
    return f"# Methods\n\n{body}\n"


def _listed(values: pd.Series) -> str:
    """Return values with their frequencies in words, most frequent first."""
    counts = values[values.astype(str) != ""].value_counts()
    if len(counts) == 1:
        return str(counts.index[0])
    return "; ".join(f"{name} ({count(int(n), 'swing')})" for name, n in counts.items())


def _captures(study: Study, results: Results) -> str:
    quality = results.quality
    kinds = {"markers": "marker files", "joint_centres": "tables of joint centres"}
    words = " and ".join(
        f"{kinds[str(k)]} ({count(int(n), 'swing')})"
        for k, n in quality["capture_kind"].value_counts().items()
    )
    return (
        f"The captures were {words}, recorded at {span(quality['rate_hz'], 'Hz')}, with "
        f"{span(quality['landmarks'].astype(float), 'landmarks')} per swing. In the axes of the captures, the "
        f"{_axis(study.setup.up)} points up and the {_axis(study.setup.target)} to the target, as given in study.toml, "
        "the file of the study's settings. Swings of left-handed golfers were mirrored in the vertical plane through "
        "the target line. The lead side is the side nearer to the target at address (the left side of a "
        "right-hander), the trail side is the other side. Source of the ball's position: "
        + _listed(quality["ball_method"])
        + "."
    )


def _axis(axis: object) -> str:
    return f"{axis} axis" if isinstance(axis, str) else f"direction {axis}"


def _processing(study: Study, results: Results) -> str:
    setup, quality = study.setup, results.quality
    chosen = (
        "were chosen for each segment of each swing by residual analysis"
        if setup.body_cutoff_hz == "residual"
        else "were set in advance"
    )
    pairs = [pair.rsplit(" ", 1) for text in quality["cutoff_hz"] for pair in str(text).split("; ") if pair]
    hertz = pd.Series([float(pair[1]) for pair in pairs], dtype=float)
    return (
        "The coordinates of body landmarks were smoothed with a second-order low-pass Butterworth filter, applied "
        f"forward and backward so that it causes no delay. Its cut-off frequencies {chosen} ({span(hertz, 'Hz')}); the "
        "design frequency was corrected for the two passes (Winter 2009). Points of the club were not smoothed, "
        "because smoothing would spread the sudden change at impact over the frames around it. Gaps of up to "
        f"{setup.longest_gap_s:g} s in the path of a marker were filled by cubic splines, longer gaps from the other "
        "markers of the segment, taken as a rigid body. Samples (positions of one marker in one frame) filled in all "
        f"swings: {int(quality['filled_samples'].sum())}. The standard deviation of the noise of a coordinate was "
        "estimated for each marker from sixth differences between successive frames of the swing. The median of these "
        f"standard deviations over the landmarks of a swing was {span(quality['noise_mm'], 'mm')} (range over swings). "
        "Where the distances between markers of a segment varied by more than this noise explains, the excess variance "
        "was added to the error variance of these markers."
    )


def _of_centres(quality: pd.DataFrame) -> str:
    """Return the definitions of the segment frames from joint centres, of those frames that some swings have."""
    frames = (
        ("pelvis_frame_method", PELVIS_OF_CENTRES,
         "pelvis, with Z along the line of the hip centres and Y perpendicular to it, toward the mid-point of the "
         "shoulders, so that its flexion is that of the trunk"),
        ("thorax_frame_method", TRUNK_OF_CENTRES,
         "trunk, in place of the thorax, with Y from the mid-point of the hips to that of the shoulders and X "
         "perpendicular to Y and to the line of the shoulders"),
    )  # fmt: skip
    used = [text for column, name, text in frames if quality[column].astype(str).str.startswith(name).any()]
    return f"Frames from joint centres: {'; '.join(used)}. " if used else ""


def _posture(results: Results) -> str:
    quality = results.quality
    return (
        "Posture means the angles and positions of body segments at the events defined below. The orientation of "
        "pelvis and thorax is given relative to a fixed frame: X horizontal from the golfer to the ball, across the "
        "target line; Y up; Z horizontal along the target line, to the golfer's trail side. All angles are zero where "
        "the axes of the segment are parallel to those of this frame. Unless a question names other angles, they "
        "follow the sequence axial rotation, lateral flexion, flexion (intrinsic Y-X-Z), as proposed for the pelvis "
        "(Baker 2001). Angles in the sequence of the joint coordinate system of the International Society of "
        "Biomechanics (intrinsic Z-X-Y; Wu et al. 2002, 2005) are in the tables of results as well. Axial rotation is "
        "positive when open to the target, lateral flexion when the trail side is lower, flexion when bent forward. "
        f"Definition of the pelvis frame: {_listed(quality['pelvis_frame_method'])}. Definition of the thorax frame: "
        f"{_listed(quality['thorax_frame_method'])}. {_of_centres(quality)}"
        "The standard errors of posture cover marker noise, the motion of markers against each other within a "
        "segment, and the timing of events. They do not cover landmark placement, nor soft tissue that moves all "
        "markers of a segment together."
    )


def _events(results: Results) -> str:
    events = results.events
    found = events[events["time_s"].notna()]
    words = []
    for name in conventions.EVENTS:
        own = found[found["event"] == name]
        if len(own):
            error = own["standard_error_s"].median() * 1e3
            meaning = conventions.EVENT_MEANINGS[name].removeprefix("delivery: ")
            label = conventions.EVENT_LABELS[name]
            words.append(f"- {label} ({meaning}; {count(len(own), 'swing')}, {error:.2f} ms)")
    return (
        "Event times were interpolated between frames. Elevation is the angle of the shaft, or of the line from the "
        "shoulder to the wrist of an arm, above the horizontal. In parentheses: the definition of the event, the "
        "number of swings in which it was found, and the median standard error of its time in these swings.\n\n"
        + "\n".join(words)
    )


def _strike(study: Study, results: Results) -> str:
    strike = results.strike
    if "attack_angle_deg" not in strike.columns or strike["attack_angle_deg"].notna().sum() == 0:
        return "No strike could be measured."
    errors = strike[["attack_angle_se_deg", "low_point_ahead_se_cm"]].median()
    sole = (
        "The height of the sole above the turf was computed as the clubhead's height minus its height at address, "
        "where the sole rests on the turf. The standard error of this height at address, apart from marker noise, was "
        f"assumed to be {study.setup.sole_height_se_mm:g} mm. "
        if study.setup.soled_at_address
        else "The study does not state that the sole rests on the turf at address, so contact (fat, clean, thin) was "
        "not derived from the path of the clubhead. "
    )
    used = strike["method"].dropna().str.removeprefix("smooth arc; ").str.replace("; ", ", ")
    if "mat" in set(study.swings.get("surface", [])):
        sole += "For balls on a mat, turf entry and contact refer to turf at the height of the mat. "
    return (
        "The strike (attack angle, low point and further properties of the path of the clubhead near impact) was "
        f"measured in {count(int(strike['attack_angle_deg'].notna().sum()), 'swing')}. A smooth curve, a circle with "
        "penalised departures in its plane and out of it, was fitted to the positions of the clubhead before impact "
        "and continued as if there had been no ball and no turf. Positions after impact, up to the frame in which the "
        "sole met the turf, were used too if they fitted the curve apart from a sudden change of its direction at "
        "impact. They contribute to the curvature of the curve only. "
        f"Positions used and source of the position of impact: {_listed(used)}. The attack "
        "angle is the angle of the clubhead's path to the horizontal at impact, positive upward. The low point is the "
        "lowest point of the curve; its position is given along the target line from the ball centre, positive on the "
        f"target side. Median standard errors over swings: attack angle {number(errors.iloc[0])} deg, low point "
        f"{number(errors.iloc[1])} cm. {sole}"
    ).strip()


def _software(study: Study, results: Results) -> str:
    record = run_record(study, results)
    words = ", ".join(f"{name} {v}" for name, v in record["packages"].items())
    return (
        f"Python {record['python']}; {words}. The file run.json of the results contains the SHA-256 checksum of "
        "every input file, the commit of the code, the questions with all options, the seeds and numbers of "
        f"random draws, and the date. {_checked_on(study, results)}"
    )


def _checked_on(study: Study, results: Results) -> str:
    """Return a sentence on the captures with which swinglab was checked, of this laboratory or of others."""
    if validation_estimates(study, results):
        return (
            "The accuracy of swinglab was checked on simulated swings and published captures; the errors of this "
            "set-up were estimated from its own captures."
        )
    return (
        "The accuracy of swinglab was checked on simulated swings and published captures, not on captures of this "
        "laboratory."
    )
