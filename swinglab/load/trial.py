"""`load_trial`: conversion of a capture to one swing in the study frame, ready for measurement."""

from __future__ import annotations

from functools import partial

import numpy as np

from swinglab.conventions import (
    CENTRE_LANDMARKS,
    EVENTS,
    MARKER_LANDMARKS,
    SEGMENT_LANDMARKS,
)
from swinglab.errors import BadRequest
from swinglab.load.coarse_contact import coarse_contact
from swinglab.load.gaps import fill_gaps
from swinglab.load.landmarks import landmark_points
from swinglab.load.noise import measure_noise
from swinglab.load.rigidity import measure_rigidity
from swinglab.load.smoothing import choose_cutoffs, stands_still, warn_of_smoothed_points
from swinglab.load.static_calibration import virtual_landmarks
from swinglab.load.study_frame import find_ball, sided_names, turn
from swinglab.load.units import unit_of
from swinglab.load.untrue_samples import drop_frozen, drop_spikes
from swinglab.records import Capture, Setup, Trial
from swinglab.signals import filter_stretches, smooth

#: Noise and deformation are estimated from this time before contact to this time after it. With a long address they
#: would be underestimated.
BEFORE_S, AFTER_S = 1.2, 0.4

TARGET_ASSUMED = (
    "target assumed: the target line was not calibrated; club path and rotations refer to the nearest axis of the lab"
)  # fmt: skip


def load_trial(
    capture: Capture, setup: Setup, *, swing: str, golfer: str, static: Capture | None = None
) -> Trial:
    """Convert a capture to one swing in the study frame, with gaps filled and points smoothed.

    Axes are rotated to the study frame and left-handers are mirrored to right-handers.

    Parameters
    ----------
    capture : Capture
        Result of `read_capture`.
    setup : Setup
        Settings of the study for its captures.
    swing, golfer : str
        Names of the swing and the golfer in the trial.
    static : Capture, optional
        A capture of the golfer standing still with all markers. Landmarks that the swing lacks are reconstructed from
        it (see `virtual_landmarks`).

    Returns
    -------
    Trial
        points_m (n_frames, n_landmarks, 3) in metres: X to the target, Y up, Z = X x Y, origin on the turf
        under the centre of the ball. `warnings` contains those of the capture and reports filled and unfilled gaps.

    Raises
    ------
    MissingInput
        The file lacks labels that the study names; the message lists all of them, with similar names.
    BadRequest
        Axes that are invalid or parallel, a hand that is neither right nor left, unknown names of landmarks, or no
        frame between `from_s` and `to_s`.

    Notes
    -----
    Missing: frozen samples (a marker at one position while its segment moves) and, in static captures, jumps of a
    single frame are set to missing. Gaps up to `longest_gap_s` are filled by a spline, longer ones from the other
    markers of the segment as a rigid body. Gaps that contain contact, and those at the ends of a landmark's data, are
    not filled.
    Smoothing: body points by a dual-pass Butterworth filter, with one cut-off for each segment (`cutoff_hz`); points
    of club and ball are not smoothed. In noise-free simulated swings at 240 Hz, smoothing changes trunk angles by less
    than 0.1 deg and elbow and wrist angles by less than 0.6 deg at every event; with the lowest cut-offs (12 and 15
    Hz), by 0.07 deg (trunk), 0.6 deg (elbow) and 0.7 deg (wrist).
    Noise: one standard deviation for each landmark, estimated near the swing. Variation of the distances within a
    segment in excess of the noise is reported as deformation of the landmark (`deformation_m`).
    Contact: body points are filtered through contact without interruption. With a cut-off of 15 Hz, the error of a
    simulated hand marker within 30 ms of contact is then 2.2 mm (root mean square). If the data are filtered
    separately before and after contact, the error is 2.5 mm, because the data then end where posture at impact is
    measured. The two errors are equal only if the speed of the hands drops abruptly by 1 m/s at contact.

    Examples
    --------
    >>> import numpy as np
    >>> from swinglab.records import Capture, Setup
    >>> capture = Capture("still.c3d", ("c7", "t8"), np.ones((50, 2, 3)), 100.0)
    >>> load_trial(capture, Setup(), swing="1", golfer="G01").landmarks
    ('c7', 't8')
    """
    if setup.hand not in ("right", "left"):
        what = f"golfer {golfer}: hand must be right or left, not {setup.hand!r}"
        raise BadRequest(what, where="golfers.csv", do="write right or left (handed) in the column hand")
    metres = unit_of(capture)
    names, raw, virtual_lines = _landmarks_in_study_frame(capture, setup, static)
    contact = coarse_contact(names, raw, capture.rate_hz)
    ball = find_ball(names, raw, capture.rate_hz, contact, setup, metres)
    raw -= ball.origin
    raw, frozen = drop_frozen(names, raw, capture.rate_hz)
    raw, spikes = drop_spikes(names, raw) if stands_still(raw, capture.rate_hz) else (raw, [])
    filled_points, filled, gaps = fill_gaps(names, raw, capture.rate_hz, contact, setup.longest_gap_s)
    middle = contact if contact is not None else _fastest(names, filled_points, capture.rate_hz)
    cutoffs = choose_cutoffs(names, filled_points, capture.rate_hz, middle, setup.body_cutoff_hz)
    ready = _smoothed(names, filled_points, capture.rate_hz, cutoffs.hz)
    used = np.isfinite(raw).all(axis=-1) & np.isfinite(ready).all(axis=-1) & ~filled
    near = frames_of_swing(names, filled_points, capture.rate_hz, contact)
    noise = measure_noise(raw, used, near)
    by_landmark = {name: hz for part, hz in cutoffs.hz.items() for name in SEGMENT_LANDMARKS[part]}
    deformation, common_noise = measure_rigidity(
        names, filled_points[near], used[near], noise, capture.rate_hz, by_landmark
    )
    return Trial(
        swing=swing,
        golfer=golfer,
        file=capture.file,
        hand=setup.hand,
        kind=capture_kind(names),
        rate_hz=capture.rate_hz,
        time_s=capture.time_s,
        landmarks=names,
        points_m=ready,
        raw_m=raw,
        filled=filled,
        noise_m=noise,
        deformation_m=deformation,
        common_noise=common_noise,
        setup=setup,
        ball_m=None if ball.centre is None else ball.centre - ball.origin,
        ball_method=ball.method,
        ball_se_m=ball.se_m,
        contact_time_s=contact,
        cutoff_hz=cutoffs.hz,
        file_events=_file_events(capture, setup),
        warnings=(
            *capture.warnings,
            *([TARGET_ASSUMED] if setup.target_assumed else []),
            *virtual_lines,
            *ball.warnings,
            *frozen,
            *spikes,
            *gaps,
            *cutoffs.warnings,
            *warn_of_smoothed_points(noise),
        ),
    )


def _landmarks_in_study_frame(
    capture: Capture, setup: Setup, static: Capture | None
) -> tuple[tuple[str, ...], np.ndarray, list[str]]:
    """Names and points (n_frames, k, 3) of the landmarks, including virtual markers, and notes on the latter."""
    virtual, lines = ({}, []) if static is None else virtual_landmarks(capture, setup, static)
    names, points = landmark_points(capture, setup, optional=set(virtual))
    if virtual:
        names = (*names, *virtual)
        points = np.concatenate([points, np.stack(list(virtual.values()), axis=1)], axis=1)
    points = _part_of_file(points, capture, setup)
    return sided_names(names, setup.hand), turn(points, setup, unit_of(capture)), lines


def _part_of_file(points: np.ndarray, capture: Capture, setup: Setup) -> np.ndarray:
    """Set points (n_frames, k, 3) outside `from_s` to `to_s` to missing; times remain those of the file."""
    first, last = setup.from_s or 0.0, capture.time_s[-1] if setup.to_s is None else setup.to_s
    inside = (capture.time_s >= first) & (capture.time_s <= last)
    if not inside.any():
        raise BadRequest(
            f"the file has no frame between from_s = {first:g} and to_s = {last:g}; it ends at "
            f"{capture.time_s[-1]:.2f} s",
            file=capture.file, where="swings.csv", do="set from_s and to_s to the part of the file with the swing",
        )  # fmt: skip
    return points if inside.all() else np.where(inside[:, None, None], points, np.nan)


def frames_of_swing(
    names: tuple[str, ...], points: np.ndarray, rate_hz: float, contact_s: float | None
) -> slice:
    """Return the frames in which noise is estimated: around contact or, if it is unknown, around the fastest motion.

    In a static capture these are all frames.
    `names`, `points` : landmarks and their positions (n_frames, n_landmarks, 3) in metres.
    """
    middle_s = contact_s if contact_s is not None else _fastest(names, points, rate_hz)
    if middle_s is None or stands_still(points, rate_hz):
        return slice(None)
    first = max(0, round((middle_s - BEFORE_S) * rate_hz))
    return slice(first, min(len(points), round((middle_s + AFTER_S) * rate_hz) + 1))


def capture_kind(names: tuple[str, ...]) -> str:
    """Return the kind of a capture with these landmarks: "joint_centres" or "markers".

    It is "joint_centres" if it has joint centres and, of the landmarks on the skin, only heels and toes.
    """
    skin = [n for n in names if n in MARKER_LANDMARKS and not n.startswith(("heel", "toe"))]
    centres = [n for n in names if n in CENTRE_LANDMARKS]
    return "joint_centres" if centres and not skin else "markers"


def _file_events(capture: Capture, setup: Setup) -> dict[str, float]:
    """Event -> time (s) in the file; a label means the event that the study assigns to it, else that of its own name.

    If an event occurs several times, the first is used. Events outside `from_s` to `to_s` are left out.
    """
    made: dict[str, float] = {}
    last = np.inf if setup.to_s is None else setup.to_s
    for event in capture.events:
        if not (setup.from_s or 0.0) <= event.time_s <= last:
            continue
        name = setup.events.get(event.label, event.label if event.label in EVENTS else None)
        if name is not None:
            made.setdefault(name, event.time_s)
    return made


def _fastest(names: tuple[str, ...], points: np.ndarray, rate_hz: float) -> float | None:
    """Time (s) of the fastest motion of clubhead, hands, wrists or elbows (the first that are there); None if unknown.

    It replaces the time of contact if this is unknown.
    """
    for stem in ("clubhead", "hand_", "wrist_", "elbow_"):
        places = [k for k, name in enumerate(names) if name.startswith(stem)]
        if places and len(points) > 3:
            speed = np.linalg.norm(np.diff(points[:, places], axis=0), axis=-1).max(axis=1)
            if np.isfinite(speed).any():
                return float((np.nanargmax(speed) + 0.5) / rate_hz)
    return None


def _smoothed(
    names: tuple[str, ...], points: np.ndarray, rate_hz: float, cutoffs: dict[str, float]
) -> np.ndarray:
    """Body points (n_frames, k, 3) after filtering; segments with the same cut-off are filtered together."""
    made = points.copy()
    for cutoff in dict.fromkeys(cutoffs.values()):
        segments = [segment for segment, value in cutoffs.items() if value == cutoff]
        members = {name for segment in segments for name in SEGMENT_LANDMARKS[segment]}
        places = [k for k, name in enumerate(names) if name in members]
        made[:, places] = filter_stretches(
            points[:, places], partial(smooth, rate_hz=rate_hz, cutoff_hz=cutoff)
        )
    return made
