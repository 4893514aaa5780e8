"""Summary of the landmarks, gaps and timing of a capture before it is measured, for `swinglab check`."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab.conventions import BALL_LANDMARK
from swinglab.load.coarse_contact import coarse_contact
from swinglab.load.landmarks import Matched, match_landmarks, matched_points
from swinglab.load.study_frame import turn
from swinglab.load.trial import capture_kind
from swinglab.load.units import unit_of
from swinglab.records import Capture, Setup
from swinglab.signals import stretches

#: Gaps that reach into this stretch on either side of contact are reported separately.
NEAR_CONTACT_S = 0.1


def describe_capture(capture: Capture, setup: Setup) -> dict[str, object]:
    """Return a summary of landmarks, gaps, timing and warnings of a capture; missing landmarks raise no error.

    Parameters
    ----------
    capture : Capture
        Result of `read_capture`.
    setup : Setup
        Settings of the study for its captures.

    Returns
    -------
    dict
        ``kind`` (markers or joint_centres), ``rate_hz``, ``unit``, ``frames`` (number), ``duration_s``;
        ``landmarks_found`` (names separated by commas); ``landmarks_missing`` (likewise, each with its label in
        brackets: landmarks that the study assigns to labels that the file does not have; also names in the study that
        are not landmarks); ``labels_unused`` (number of labels in the file that no landmark uses); ``missing_percent``
        (share of missing samples of the landmarks found, without the ball); ``gaps`` (number), ``longest_gap_s``,
        ``longest_gap_landmark``; ``contact_time_s`` (approximate, from the file's first frame; NaN if unknown);
        ``longest_gap_near_contact_s`` and ``longest_gap_near_contact_landmark`` (gaps within 0.1 s of contact);
        ``events`` (labels in the file) and ``warnings`` (separated by `` | ``).

    Raises
    ------
    BadRequest
        The axes `up` and `target` in the settings are invalid or parallel.

    Notes
    -----
    Missing: a gap is a period of missing samples of one landmark, including those before its first and after its last
    sample.

    Examples
    --------
    >>> import numpy as np
    >>> from swinglab.records import Capture, Setup
    >>> capture = Capture("still.c3d", ("c7", "t8"), np.ones((50, 2, 3)), 100.0)
    >>> describe_capture(capture, Setup(landmarks={"sacrum": ("SACR",)}))["landmarks_missing"]
    'sacrum (SACR)'
    """
    matched = match_landmarks(capture, setup)
    names, points = matched_points(capture, setup, matched)
    contact = coarse_contact(names, turn(points, setup, unit_of(capture)), capture.rate_hz)
    body = [name for name in names if name != BALL_LANDMARK]
    gaps = _gap_rows(names, points, capture.rate_hz)
    gaps = gaps[gaps["landmark"] != BALL_LANDMARK]
    near = gaps.iloc[:0]
    if contact is not None:
        near = gaps[(gaps["start_s"] < contact + NEAR_CONTACT_S) & (gaps["end_s"] > contact - NEAR_CONTACT_S)]
    longest, longest_near = _longest(gaps), _longest(near)
    samples = max(1, len(body) * len(points))
    return {
        "kind": capture_kind(names),
        "rate_hz": capture.rate_hz,
        "unit": capture.unit,
        "frames": len(points),
        "duration_s": len(points) / capture.rate_hz,
        "landmarks_found": ", ".join(names),
        "landmarks_missing": _missing_words(matched),
        "labels_unused": len(matched.unused),
        "missing_percent": 100 * float(gaps["samples"].sum()) / samples,
        "gaps": len(gaps),
        "longest_gap_s": longest[0],
        "longest_gap_landmark": longest[1],
        "contact_time_s": float("nan") if contact is None else contact,
        "longest_gap_near_contact_s": longest_near[0],
        "longest_gap_near_contact_landmark": longest_near[1],
        "events": ", ".join(dict.fromkeys(event.label for event in capture.events)),
        "warnings": " | ".join(capture.warnings),
    }


def _gap_rows(names: tuple[str, ...], points: np.ndarray, rate_hz: float) -> pd.DataFrame:
    missing = ~np.isfinite(points).all(axis=-1)
    rows = []
    for k in np.flatnonzero(missing.any(axis=0)):
        for gap in stretches(missing[:, k]):
            start_s, end_s = (gap.start - 0.5) / rate_hz, (gap.stop - 0.5) / rate_hz
            rows.append((names[k], start_s, end_s, gap.stop - gap.start))
    return pd.DataFrame(rows, columns=["landmark", "start_s", "end_s", "samples"])


def _longest(gaps: pd.DataFrame) -> tuple[float, str]:
    if gaps.empty:
        return 0.0, ""
    row = gaps.iloc[int(gaps["samples"].to_numpy().argmax())]
    return float(row["end_s"] - row["start_s"]), str(row["landmark"])


def _missing_words(matched: Matched) -> str:
    words = [f"{name} ({', '.join(labels)})" for name, labels in matched.missing.items()]
    return ", ".join([*words, *(f"{name} (no landmark of swinglab)" for name in matched.unknown)])
