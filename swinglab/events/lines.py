"""Lines whose elevation above horizontal defines events: the shaft, and each arm from shoulder to wrist."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swinglab.conventions import is_club_landmark, shaft_points
from swinglab.records import Trial
from swinglab.signals import noise_from_differences, unit

#: Error (deg) of the shaft's direction if it is computed from butt or hands and clubhead, or if no frame shows the
#: error of a missing landmark on the shaft (assumed value).
FALLBACK_ERROR_DEG = 3.0
#: An unsmoothed body point is not used if it is further than this, and than its noise explains, from its smoothed
#: position (a swapped label or a ghost marker).
STRAY_M, STRAY_NOISES = 0.03, 6.0
NO_SHAFT = "the direction of the shaft is not known: no two landmarks on it and no landmark clubhead"


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Direction of a line, such as the shaft or an arm, in every frame.

    name : of the line. method : from which landmarks it was computed. raw : (n, 3) unit vectors from unfilled,
    unsmoothed samples, NaN if one is missing; the times of events are from these. whole : (n, 3) unit vectors from
    filled and smoothed points, from which the approximate time is found. noise_deg : (n,) standard deviation of the
    direction of `raw`, deg. extra_deg : standard error, deg, of a further error that is constant over the swing.
    """

    name: str
    method: str
    raw: np.ndarray
    whole: np.ndarray
    noise_deg: np.ndarray
    extra_deg: float = 0.0


def elevation_deg(direction: np.ndarray) -> np.ndarray:
    """Return the elevation (n,) of directions (n, 3) above horizontal, in degrees; positive if they point up."""
    return np.degrees(np.arcsin(np.clip(direction[..., 1], -1.0, 1.0)))


def noise_of(trial: Trial, landmark: str) -> float:
    """Return the SD of the noise of one coordinate of a landmark, in metres; 0 if unknown.

    It is the estimate stored in the trial or, if there is none, an estimate from differences between frames.
    """
    known = float(trial.noise_m[trial.landmarks.index(landmark)])
    if np.isfinite(known):
        return known
    by_axis = noise_from_differences(trial.point(landmark, raw=True), fewest=4)
    return float(np.nan_to_num(np.sqrt(np.mean(by_axis**2))))


def noise_by_frame(trial: Trial, landmark: str) -> np.ndarray:
    """Return the SD of the noise of one coordinate of a landmark in every frame, (n,), in metres."""
    return np.full(len(trial.time_s), noise_of(trial, landmark))


def shaft_lines(trial: Trial) -> tuple[tuple[Line, ...], str]:
    """Return all lines along the shaft that the landmarks allow, the best first; and "", or the reason if none."""
    found = [line for line in (_shaft(trial), _butt_to_head(trial), _hands_to_head(trial)) if line]
    return tuple(found), "" if found else NO_SHAFT


def arm_line(trial: Trial, side: str) -> tuple[Line | None, str]:
    """Return the line of one arm from acromion to wrist centre and "", or None and the reason why it is missing.

    In pose tables the line begins at the shoulder centre. `side` : "left" or "right".
    """
    word = "lead arm" if side == "left" else "trail arm"
    tops = ("acromion", "shoulder") if trial.kind == "markers" else ("shoulder", "acromion")
    top = next((f"{t}_{side}" for t in tops if trial.has(f"{t}_{side}")), None)
    wrist = _wrist_names(trial, side)
    if top is None or wrist is None:
        lacking = "shoulder" if top is None else "wrist"
        return None, f"the direction of the {word} is not known: the capture has no landmark of the {lacking}"
    start = "acromion" if top.startswith("acromion") else "shoulder centre"
    end = "wrist centre" if len(wrist) == 2 or wrist[0].startswith("wrist_" + side) else "one wrist marker"
    line = _between(trial, word, f"{start} to {end}", (top,), wrist)
    return replace(line, extra_deg=_deformation_deg(trial, (top,), wrist)), ""


def _deformation_deg(trial: Trial, tails: tuple[str, ...], tips: tuple[str, ...]) -> float:
    """Error (deg) of a line's direction due to markers that move relative to their segment; 0 if unknown."""
    if trial.deformation_m is None:
        return 0.0
    ends = [np.mean([trial.point(name) for name in names], axis=0) for names in (tails, tips)]
    own = [
        np.nan_to_num(trial.deformation_m[[trial.landmarks.index(name) for name in names]]) / len(names)
        for names in (tails, tips)
    ]
    length = np.nanmedian(np.linalg.norm(ends[1] - ends[0], axis=1))
    return float(np.degrees(np.sqrt(sum((sd**2).sum() for sd in own)) / length))


def _wrist_names(trial: Trial, side: str) -> tuple[str, ...] | None:
    pair = tuple(n for n in (f"wrist_radial_{side}", f"wrist_ulnar_{side}") if trial.has(n))
    if len(pair) == 2:
        return pair
    if trial.has(f"wrist_{side}"):
        return (f"wrist_{side}",)
    return pair or None


def _sample(trial: Trial, landmark: str) -> np.ndarray:
    """Samples (n, 3) of a landmark before filling and smoothing, NaN where filled or an outlier."""
    raw = trial.point(landmark, raw=True)
    if is_club_landmark(landmark):
        return raw
    away = np.linalg.norm(raw - trial.point(landmark), axis=1)
    limit = STRAY_M + STRAY_NOISES * noise_of(trial, landmark)
    return np.where((away > limit)[:, None], np.nan, raw)


def _between(
    trial: Trial, name: str, method: str, tails: tuple[str, ...], tips: tuple[str, ...], extra: float = 0.0
) -> Line:
    """The line from the mean of some landmarks to the mean of others."""

    def ends(raw: bool) -> list[np.ndarray]:
        read = (lambda n: _sample(trial, n)) if raw else trial.point
        return [np.mean([read(n) for n in names], axis=0) for names in (tails, tips)]

    tail, tip = ends(raw=True)
    length = np.linalg.norm(tip - tail, axis=1)
    variance = sum(
        sum(noise_by_frame(trial, n) ** 2 for n in names) / len(names) ** 2 for names in (tails, tips)
    )
    noise = np.degrees(np.sqrt(variance) / length)
    tail_whole, tip_whole = ends(raw=False)
    return Line(name, method, unit(tip - tail), unit(tip_whole - tail_whole), noise, extra)


def _butt_to_head(trial: Trial) -> Line | None:
    if not trial.has("club_butt", "clubhead"):
        return None
    return _between(trial, "shaft", "butt to clubhead", ("club_butt",), ("clubhead",), FALLBACK_ERROR_DEG)


def _hands_to_head(trial: Trial) -> Line | None:
    hands = tuple(n for n in ("hand_left", "hand_right") if trial.has(n))
    if len(hands) < 2:
        wrists = [_wrist_names(trial, side) for side in ("left", "right")]
        hands = tuple(name for pair in wrists for name in pair or ()) if all(wrists) else ()
    if not hands or not trial.has("clubhead"):
        return None
    return _between(trial, "shaft", "mid-hands to clubhead", hands, ("clubhead",), FALLBACK_ERROR_DEG)


def _shaft(trial: Trial) -> Line | None:
    names = tuple(n for n in shaft_points(trial.landmarks) if trial.has(n))
    if len(names) < 2:
        return None
    raw = np.stack([trial.point(n, raw=True) for n in names], axis=1)
    noise = np.stack([noise_by_frame(trial, n) for n in names], axis=1)
    direction, noise_deg = line_through(raw, noise)
    lost = np.isnan(raw).any(axis=(1, 2)) & np.isfinite(direction[:, 0])
    if lost.any():
        noise_deg = np.hypot(noise_deg, _cost_of_lost_points(raw, noise, lost))
    filled = np.stack([trial.point(n) for n in names], axis=1)
    whole = direction if np.array_equal(filled, raw) else line_through(filled, noise)[0]
    return Line("shaft", f"line through {len(names)} shaft points", direction, whole, noise_deg)


def line_through(points: np.ndarray, noise: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the direction of the least-squares line through points of the shaft in each frame, and its noise in deg.

    `points` : (n, k, 3), in order from grip to clubhead, NaN where missing. `noise` : (n, k) SD of the noise of one
    coordinate of each point. The directions (n, 3) are unit vectors from grip to clubhead; the noise, (n,), is the
    standard error of the direction.
    """
    there = np.isfinite(points).all(axis=2)
    enough = there.sum(axis=1) >= 2
    weight = there / np.maximum(there.sum(axis=1, keepdims=True), 1)
    filled = np.where(there[..., None], points, 0.0)
    offset = (filled - np.einsum("nk,nki->ni", weight, filled)[:, None]) * there[..., None]
    _, vectors = np.linalg.eigh(np.einsum("nki,nkj->nij", offset, offset))
    way = vectors[:, :, 2]
    along = np.einsum("nki,ni->nk", offset, way)
    # Points are in order from grip to head, so that the distance along the line increases with their index.
    turned = along @ np.arange(points.shape[1]) < 0
    way[turned] *= -1
    spread = np.where(enough, (along**2).sum(axis=1), np.nan)
    error = np.sqrt((along**2 * noise**2).sum(axis=1)) / spread
    return np.where(enough[:, None], way, np.nan), np.degrees(error)


def _cost_of_lost_points(points: np.ndarray, noise: np.ndarray, lost: np.ndarray) -> np.ndarray:
    """Additional error (n,), in degrees, of a line in frames where points are missing; 0 in the other frames.

    It is the change of the line if the same points are left out in frames that have all points. Markers are not exactly
    on the shaft's axis, so a line through fewer of them differs.
    """
    cost = np.zeros(len(points))
    whole = ~np.isnan(points).any(axis=(1, 2))
    there = np.isfinite(points).all(axis=2)
    for pattern in np.unique(there[lost], axis=0):
        same = lost & (there == pattern).all(axis=1)
        if not whole.any():
            cost[same] = FALLBACK_ERROR_DEG
            continue
        full, _ = line_through(points[whole], noise[whole])
        fewer, _ = line_through(np.where(pattern[:, None], points[whole], np.nan), noise[whole])
        apart = np.degrees(np.arccos(np.clip((full * fewer).sum(axis=1), -1.0, 1.0)))
        cost[same] = float(np.sqrt(np.mean(apart**2)))
    return cost
