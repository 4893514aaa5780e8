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
    words = "; ".join(
        f"{kinds[str(k)]} ({n} swings)" for k, n in quality["capture_kind"].value_counts().items()
    )
    return (
        f"The captures were {words}, at {span(quality['rate_hz'], 'Hz')}, with "
        f"{span(quality['landmarks'].astype(float), 'landmarks')} per swing. The study gives the capture's "
        f"{_axis(study.setup.up)} as up and its {_axis(study.setup.target)} as the direction to the target. "
        "Left-handed golfers were mirrored across the plane of target line and vertical, so that lead and trail name "
        "the same side for all. Source of the ball's position: " + _listed(quality["ball_method"]) + "."
    )


def _axis(axis: object) -> str:
    return f"{axis} axis" if isinstance(axis, str) else f"direction {axis}"


def _processing(study: Study, results: Results) -> str:
    setup, quality = study.setup, results.quality
    chosen = (
        "at cut-off frequencies chosen by residual analysis for each segment"
        if setup.body_cutoff_hz == "residual"
        else f"at {setup.body_cutoff_hz} Hz"
    )
    pairs = [pair.rsplit(" ", 1) for text in quality["cutoff_hz"] for pair in str(text).split("; ") if pair]
    hertz = pd.Series([float(pair[1]) for pair in pairs], dtype=float)
    return (
        f"Body landmarks were smoothed with a second-order Butterworth filter run forward and backward {chosen} "
        f"({span(hertz, 'Hz')}), its design frequency corrected for the two passes (Winter 2009); points of the "
        f"club were not smoothed. Gaps of up to {setup.longest_gap_s:g} s were filled by splines, longer ones "
        f"from the segment's other markers; {count(int(quality['filled_samples'].sum()), 'sample')} were filled "
        "in all. The standard deviation of the noise of a coordinate was estimated from sixth differences between "
        f"successive frames of the swing; its median over landmarks was {span(quality['noise_mm'], 'mm')} per swing. "
        "Where the distances between markers of a segment varied by more than this noise explains, the excess "
        "variance was added to the error variance of these markers."
    )


def _of_centres(quality: pd.DataFrame) -> str:
    """Return the definitions of those frames from joint centres that some swings have."""
    frames = (
        ("pelvis_frame_method", PELVIS_OF_CENTRES,
         "pelvis, Z along the line of the hip centres and Y toward the mid-point of the shoulders, so that its flexion "
         "is that of the trunk"),
        ("thorax_frame_method", TRUNK_OF_CENTRES,
         "trunk, Y from the mid-point of the hips to that of the shoulders, X perpendicular to Y and to the line of "
         "the shoulders"),
    )  # fmt: skip
    used = [text for column, name, text in frames if quality[column].astype(str).str.startswith(name).any()]
    return f"Frames from joint centres: {'; '.join(used)}. " if used else ""


def _posture(results: Results) -> str:
    quality = results.quality
    return (
        "The orientation of pelvis and thorax is given relative to a frame with its X axis toward the ball, Y up and "
        "Z to the golfer's trail side; all angles are zero where the axes of the segment are parallel to those of "
        "this frame. Unless a question names other angles, they follow the sequence axial rotation, lateral flexion, "
        "flexion (intrinsic Y-X-Z; Baker 2001); the angles in the sequence of the ISB joint coordinate system "
        "(intrinsic Z-X-Y; Wu et al. 2002, 2005) are stored as well. Axial rotation is positive when open to the "
        "target, lateral flexion when the trail side is lower, flexion when bent forward. Pelvis frame: "
        f"{_listed(quality['pelvis_frame_method'])}. Thorax frame: {_listed(quality['thorax_frame_method'])}. "
        f"{_of_centres(quality)}"
        "Standard errors of posture cover marker noise, the motion of markers against each other within a "
        "segment and the timing of events; they do not cover landmark placement, nor soft tissue that moves all "
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
        "Event times were interpolated between frames. The elevation of shaft or arm is zero where it is horizontal. "
        "In parentheses: the definition of the event, the number of swings in which it was found, and the median "
        "standard error of its time.\n\n" + "\n".join(words)
    )


def _strike(study: Study, results: Results) -> str:
    strike = results.strike
    if "attack_angle_deg" not in strike.columns or strike["attack_angle_deg"].notna().sum() == 0:
        return "No strike could be measured."
    errors = strike[["attack_angle_se_deg", "low_point_ahead_se_cm"]].median()
    sole = (
        "The height of the sole above the turf was computed as the clubhead's height minus its height at address, "
        "where the sole rests on the turf; the standard error of this height at address, apart from noise, was set to "
        f"{study.setup.sole_height_se_mm:g} mm. "
        if study.setup.soled_at_address
        else "The study does not state that the club is soled at address, so contact was not classed from the arc. "
    )
    used = strike["method"].dropna().str.removeprefix("smooth arc; ").str.replace("; ", ", ")
    if "mat" in set(study.swings.get("surface", [])):
        sole += "Of balls on a mat, turf entry and contact say where the sole would have met turf. "
    return (
        f"The strike was measured in {count(int(strike['attack_angle_deg'].notna().sum()), 'swing')} from a smooth "
        "curve fitted to the clubhead's positions before impact and continued as if there had been no ball and no "
        "turf. Where positions after impact continued this path, before the sole met the turf, they were used too, "
        f"for its curvature only. Positions used and source of the position of impact: {_listed(used)}. The attack "
        "angle is the angle of the clubhead's path to the horizontal at impact, positive upward; the low point is that "
        "of this curve, along the target line from the ball centre, positive on the target side. Median "
        f"standard errors: attack angle {number(errors.iloc[0])} deg, low point {number(errors.iloc[1])} cm. {sole}"
    ).strip()


def _software(study: Study, results: Results) -> str:
    record = run_record(study, results)
    words = ", ".join(f"{name} {v}" for name, v in record["packages"].items())
    return (
        f"Python {record['python']}; {words}. run.json holds the SHA-256 of every input file, the commit of the "
        f"code, the questions with every option, seeds and draws, and the date. {_checked_on(study, results)}"
    )


def _checked_on(study: Study, results: Results) -> str:
    """Against what swinglab was checked: captures of this laboratory only where `validate` could use some."""
    if validation_estimates(study, results):
        return (
            "The measurements of swinglab were checked on simulated swings and published captures; the errors of this "
            "set-up were estimated on its own captures."
        )
    return (
        "The measurements of swinglab were checked on simulated swings and published captures, not on captures of "
        "this laboratory."
    )
