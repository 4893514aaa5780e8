"""Unfiltered positions of the clubhead; where it is hidden, it is computed from other markers of the club."""

from __future__ import annotations

from dataclasses import dataclass
from math import comb

import numpy as np

from swinglab import conventions
from swinglab.records import Trial
from swinglab.signals import unit
from swinglab.strike.arc import NoSupport

#: Number of nearby frames from which the head's position relative to the club is estimated, and their largest
#: distance in time.
TEACHERS, TEACHER_WINDOW_S = 8, 0.06
FEWEST_TEACHERS = 4
#: Smallest standard error (m) of a clubhead computed from other markers, because the shaft bends (assumed value).
LEAST_REBUILT_SD_M = 5e-4
#: Order of the differences from which the noise is estimated, and the fewest needed.
DIFFERENCES, FEWEST_DIFFERENCES = 6, 6


@dataclass(frozen=True, slots=True)
class ClubheadPath:
    """Positions of the clubhead.

    time_s : (n,). points_m : (n, 3) in m, NaN where unknown. extra_sd_m : (n,) SD in m of an error in addition to the
    noise. rebuilt : (n,) True where the clubhead was hidden and was computed from other markers of the club.
    """

    time_s: np.ndarray
    points_m: np.ndarray
    extra_sd_m: np.ndarray
    rebuilt: np.ndarray


def find_clubhead(trial: Trial, start_s: float, end_s: float, impact_s: float) -> ClubheadPath:
    """Return the unfiltered positions of the clubhead between two times, also in frames in which it is hidden.

    In these frames its position is computed from other markers of the club. Its position relative to them is estimated
    from frames in which all are visible, separately before and after impact. Raises NoSupport if the trial has no
    clubhead.
    """
    if not trial.has("clubhead"):
        raise NoSupport("the capture has no landmark clubhead")
    keep = (trial.time_s >= start_s) & (trial.time_s <= end_s)
    time = trial.time_s[keep]
    head = np.array(trial.point("clubhead", raw=True)[keep])
    hidden = ~np.isfinite(head).all(axis=1)
    extra = np.zeros(len(time))
    rebuilt = np.zeros(len(time), dtype=bool)
    if hidden.any() and not hidden.all():
        origin, axes = _club_frames(trial, keep)
        for side in (time <= impact_s, time > impact_s):
            for i in np.flatnonzero(hidden & side):
                place = _rebuild(int(i), time, head, hidden, side, origin, axes)
                if place is not None:
                    head[i], extra[i] = place
                    rebuilt[i] = True
    return ClubheadPath(time, head, extra, rebuilt)


def estimate_noise(points: np.ndarray) -> float:
    """Return the standard deviation of the noise of one coordinate of points (n, 3); NaN with too few points.

    It is computed from sixth differences, which remove nearly all of the smooth motion and multiply the SD of the noise
    by a known factor. Their median is robust to outliers and to the frames around impact or a gap.
    """
    differences = np.diff(points, n=DIFFERENCES, axis=0)
    differences = differences[np.isfinite(differences).all(axis=1)]
    if len(differences) < FEWEST_DIFFERENCES:
        return float("nan")
    # 2.366 is the median of a chi-square with three degrees of freedom.
    spread = np.sqrt(float(np.median((differences**2).sum(axis=1))) / 2.366)
    return float(spread / np.sqrt(comb(2 * DIFFERENCES, DIFFERENCES)))


def _rebuild(
    i: int, time: np.ndarray, head: np.ndarray, hidden: np.ndarray, side: np.ndarray, origin: np.ndarray,
    axes: np.ndarray,
) -> tuple[np.ndarray, float] | None:  # fmt: skip
    """Position and standard error (m) of the clubhead in the hidden frame `i`; None if it cannot be computed.

    Its position relative to the club changes smoothly, so it is interpolated from nearby frames on the same side of
    impact (`side`). `origin`, `axes` : of the club in each frame, from `_club_frames`.
    """
    known = side & ~hidden & np.isfinite(origin).all(axis=1) & np.isfinite(axes).all(axis=(1, 2))
    near = np.flatnonzero(known & (np.abs(time - time[i]) <= TEACHER_WINDOW_S))
    if len(near) < FEWEST_TEACHERS or not (np.isfinite(origin[i]).all() and np.isfinite(axes[i]).all()):
        return None
    near = near[np.argsort(np.abs(time[near] - time[i]))[:TEACHERS]]
    offsets = np.einsum("nij,nj->ni", axes[near], head[near] - origin[near])
    lag = (time[near] - time[i]) / TEACHER_WINDOW_S
    degree = 2 if len(near) >= 6 else 1
    design = np.vander(lag, degree + 1, increasing=True)
    inverse = np.linalg.pinv(design)
    terms = inverse @ offsets
    residual = offsets - design @ terms
    spread = np.sqrt((residual**2).sum() / (3 * max(len(near) - degree - 1, 1)))
    error = spread * np.sqrt(1 + (inverse[0] ** 2).sum())
    return origin[i] + axes[i].T @ terms[0], max(float(error), LEAST_REBUILT_SD_M)


def _club_frames(trial: Trial, keep: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Origin (n, 3) and axes (n, 3, 3), as rows, that move with the club, from its points other than the clubhead.

    The axes come from three markers on the head, else from the shaft's line and its direction of travel.
    """
    stem = conventions.HEAD_POINT_STEM
    on_head = [name for name in trial.landmarks if name.startswith(stem) and conventions.is_landmark(name)]
    if "club_hosel" in trial.landmarks:
        on_head.append("club_hosel")
    n = int(keep.sum())
    if len(on_head) >= 3:
        points = np.stack([trial.point(name, raw=True)[keep] for name in on_head[:3]], axis=1)
        first = points[:, 1] - points[:, 0]
        third = np.cross(first, points[:, 2] - points[:, 0])
        return points.mean(axis=1), _axes(first, third)
    shaft = conventions.shaft_points(trial.landmarks)
    if len(shaft) < 2:
        return np.full((n, 3), np.nan), np.full((n, 3, 3), np.nan)
    points = np.stack([trial.point(name, raw=True)[keep] for name in shaft], axis=1)
    grip, low = points[:, 0], points[:, -1]
    along = low - grip
    travel = np.gradient(low, axis=0) if n > 2 else np.full((n, 3), np.nan)
    return low, _axes(along, np.cross(along, travel))


def _axes(first: np.ndarray, third: np.ndarray) -> np.ndarray:
    """Right-handed unit axes (n, 3, 3) as rows: `first`, `third` x `first`, `third`, which must be perpendicular."""
    a, c = unit(first), unit(third)
    return np.stack([a, np.cross(c, a), c], axis=1)
