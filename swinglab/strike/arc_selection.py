"""Selection of the clubhead points from which the arc of a swing is fitted, and position of impact on the arc."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import median_filter

from swinglab.conventions import BALL_RADIUS_M, OFF_THE_FACE, farthest_strike_m
from swinglab.records import Events, Trial
from swinglab.strike.arc import (
    FEWEST_BEFORE,
    FRAMES_WANTED,
    SPAN_FARTHEST,
    Arc,
    NoSupport,
    fit_arc,
    sound_points,
)
from swinglab.strike.clubhead import ClubheadPath, estimate_noise, find_clubhead
from swinglab.strike.contact_class import find_contact_angle, reach_m
from swinglab.strike.penalised_fit import NoisePrior
from swinglab.strike.travel import Travel, fit_travel

#: The limits below are chosen values without a published source. A stroke below this speed counts as a putt, which has
#: no usable arc.
SLOWEST_MPS = 4.0
#: A point rejected by the first circle is used again if it lies this close to the first arc.
READMITTED_M = 0.08
#: Standard error of the distance between the clubhead's reference point and the face, if it is not given.
UNKNOWN_REFERENCE_SD_M = 0.015
#: Default noise (m) if the trial has no estimate, and smallest noise; then the weight of an estimated and of the
#: default noise, as degrees of freedom.
USUAL_NOISE_M, LEAST_NOISE_M = 1e-3, 2e-5
WORTH_KNOWN, WORTH_UNKNOWN = 6.0, 1.0
#: Window of points: seconds before and after impact, and distance from it in metres.
BEFORE_S, AFTER_S, NEAR_M, FARTHEST_M = 0.35, 0.12, 1.8, 2.3
#: The clubhead is not yet on the arc while it is slower than this share of its final speed.
SLOW_SHARE = 0.2
#: Points after impact are left out if they raise the noise above this multiple of the noise estimated from each side.
#: The second limit is used if too few points after impact give an estimate (references/evidence/strike.md).
MORE_NOISE, MORE_NOISE_IF_FEW = 1.2, 1.4
#: Duration (s) of the period before impact that must contain at least three points.
BLIND_S = 0.1
#: Duration (s) of contact.
CONTACT_S = 5e-4


@dataclass(frozen=True, slots=True)
class Fitted:
    """The fitted arc of one swing, with the clubhead points used and the position of impact.

    path : clubhead points. travel : angle along the arc as a function of time; None if the ball was not hit. contact :
    angle at impact, rad. contact_s : time of impact. along_sd : standard error of the position of impact along the
    path, m. by_ball : whether this position was determined from the position of the ball, not from the time of impact.
    """

    path: ClubheadPath
    arc: Arc
    travel: Travel | None
    contact: float
    contact_s: float
    along_sd: float
    by_ball: bool


def _noise(trial: Trial, points: np.ndarray) -> NoisePrior:
    """Noise prior from differences of the points before impact, else from the trial, else a default value."""
    known = estimate_noise(points)
    if not np.isfinite(known):
        known = float(trial.noise_m[trial.landmarks.index("clubhead")])
    if np.isfinite(known):
        return NoisePrior(max(known, LEAST_NOISE_M), WORTH_KNOWN)
    return NoisePrior(USUAL_NOISE_M, WORTH_UNKNOWN)


def _window(trial: Trial, events: Events, impact: float) -> ClubheadPath:
    """Clubhead points from the top (or shortly before impact) until shortly after impact."""
    start = max(impact - BEFORE_S, events.time_s("top") if events.found("top") else -np.inf)
    return find_clubhead(trial, start, impact + AFTER_S, impact)


def _near(path: ClubheadPath, anchor: np.ndarray, time: float) -> np.ndarray:
    """Mask of the points within a distance of the anchor; the distance is larger at low frame rates.

    Points before the last time at which the clubhead was slower than `SLOW_SHARE` of its final speed are excluded:
    there it was changing direction or being set down.
    """
    with np.errstate(invalid="ignore"):
        distance = np.linalg.norm(path.points_m - anchor, axis=1)
    back = np.flatnonzero((path.time_s < time) & np.isfinite(distance))[::-1]
    if len(back) < FEWEST_BEFORE:
        return np.zeros(len(distance), dtype=bool)
    steps = np.linalg.norm(np.diff(path.points_m[back], axis=0), axis=1) / -np.diff(path.time_s[back])
    speed = median_filter(steps, 5, mode="nearest")
    slow = np.flatnonzero(speed < SLOW_SHARE * np.median(steps[:FEWEST_BEFORE]))
    since = path.time_s[back[slow[0]]] if len(slow) else -np.inf
    wanted = np.sort(distance[back])[min(FRAMES_WANTED, len(back)) - 1] + 1e-6
    with np.errstate(invalid="ignore"):
        return (distance < np.clip(wanted, NEAR_M, FARTHEST_M)) & (path.time_s >= since)


def fit_strike(trial: Trial, events: Events) -> Fitted:
    """Fit the arc of a strike and find the position of impact on it.

    A first fit uses the points before the event impact. Impact is then located on this arc, from the position of the
    ball or from the time of the event, whichever has the smaller error. A second fit uses the points before this
    position and, for the curvature only, points after it.

    Raises NoSupport, with the reason, if the data are not sufficient.
    """
    impact, impact_se = events.time_s("impact"), events["impact"].standard_error_s
    impact_se = impact_se if np.isfinite(impact_se) else 0.5 / trial.rate_hz
    if not trial.time_s[0] <= impact <= trial.time_s[-1]:
        raise NoSupport("the time of impact is outside the capture")
    path = _window(trial, events, impact)
    noise = _noise(trial, path.points_m[path.time_s < impact])
    anchor = _place_at(trial, path, impact)
    near = _near(path, anchor, impact)
    before = sound_points(path.points_m, near & (path.time_s < impact - impact_se))
    no_points = np.zeros(len(near), dtype=bool)
    arc = fit_arc(path.points_m, path.extra_sd_m, before, no_points, anchor, noise)
    travel = fit_travel(arc, path.time_s, path.points_m, path.extra_sd_m)

    contact, along_sd, _, _ = _find_impact(trial, arc, travel, impact, impact_se)
    contact_s = travel.time_s(contact)
    guard = along_sd / (travel.angle(contact_s, 1) * arc.radius)
    early = near & (path.time_s < contact_s - guard)
    late = near & (path.time_s > contact_s + guard + CONTACT_S)
    again = early & (before | _close(arc, path))
    after = late & _above_turf(trial, events, path, arc, contact_s)
    if after.any() or (again != before).any():
        arc = fit_arc(path.points_m, path.extra_sd_m, again, no_points, arc.curve(contact), noise)
        if after.any():
            arc = _with_after(path, arc, again, after, noise)
        travel = fit_travel(arc, path.time_s, path.points_m, path.extra_sd_m)
    contact, along_sd, by_ball, miss = _find_impact(trial, arc, travel, impact, impact_se)
    if miss > (farthest := farthest_strike_m(trial.setup.reference_beside_face_cm)):
        raise NoSupport(
            f"the path of the clubhead passes the centre of the ball at a distance of {100 * miss:.1f} cm: no strike "
            f"within {100 * farthest:g} cm {OFF_THE_FACE}"
        )
    speed = np.linalg.norm(arc.curve(contact, 1)) * travel.angle(travel.time_s(contact), 1)
    if speed <= 0:
        raise NoSupport("the clubhead does not move toward the ball at the time of impact")
    if speed < SLOWEST_MPS:
        raise NoSupport(
            f"the speed of the clubhead is {speed:.1f} m/s at impact: below {SLOWEST_MPS:g} m/s a stroke counts as a "
            "putt, whose path is not measured"
        )
    return Fitted(path, arc, travel, contact, travel.time_s(contact), along_sd, by_ball)


def _close(arc: Arc, path: ClubheadPath) -> np.ndarray:
    """Mask of the points near the arc, including points that the first circle rejected."""
    angle = arc.angle_of(path.points_m)
    with np.errstate(invalid="ignore"):
        away = np.linalg.norm(path.points_m - arc.curve(angle), axis=1) < READMITTED_M
    return away & (np.abs(angle) < SPAN_FARTHEST)


def _place_at(trial: Trial, path: ClubheadPath, time: float) -> np.ndarray:
    """Approximate position of impact (3,): the ball, else the line through the last points before impact.

    The Theil-Sen line (median slope over pairs of points) is robust to one bad frame.
    """
    seen = np.isfinite(path.points_m).all(axis=1)
    last = np.flatnonzero(seen & (path.time_s <= time))[-5:]
    if (path.time_s[last] > time - BLIND_S).sum() < 3:
        raise NoSupport("too few frames: the clubhead is not visible in the last frames before impact")
    if trial.ball_m is not None:
        return np.asarray(trial.ball_m)
    early, late = np.triu_indices(len(last), k=1)
    early, late = last[early], last[late]
    share = (time - path.time_s[late]) / (path.time_s[late] - path.time_s[early])
    ahead = path.points_m[late] + share[:, None] * (path.points_m[late] - path.points_m[early])
    return np.median(ahead, axis=0)


def _find_impact(
    trial: Trial, arc: Arc, travel: Travel, impact: float, impact_se: float
) -> tuple[float, float, bool, float]:
    """Locate impact on the arc, from the ball's position or from the event's time, whichever has the smaller error.

    Returns the angle of impact, its standard error along the path (m), whether the ball's position gave it, and the
    distance at which the path passes the ball centre (m).
    """
    by_time = travel.angle(impact)
    time_sd = impact_se * travel.angle(impact, 1) * arc.radius
    if trial.ball_m is None:
        return by_time, time_sd, False, 0.0
    known = trial.setup.reference_behind_face_cm
    # If the ball's position was inferred from the clubhead at address, the unknown distance cancels.
    unknown = known is None and trial.ball_method != "ball_from_address"
    along_sd = UNKNOWN_REFERENCE_SD_M if unknown else 0.0
    contact, miss = find_contact_angle(arc, trial.ball_m, reach_m(known))
    if np.hypot(along_sd, trial.ball_se_m) > time_sd:
        return by_time, time_sd, False, miss
    return contact, along_sd, True, miss


def address_height(trial: Trial, events: Events) -> tuple[float, float]:
    """Return the height of the clubhead at address and its standard error from noise, in m; NaN if it is not known."""
    if not events.found("address"):
        return float("nan"), float("nan")
    still = np.abs(trial.time_s - events.time_s("address")) <= max(0.05, 1.0 / trial.rate_hz)
    heights = trial.point("clubhead", raw=True)[still, 1]
    heights = heights[np.isfinite(heights)]
    if len(heights) == 0:
        return float("nan"), float("nan")
    return float(np.median(heights)), float(np.std(heights)) / np.sqrt(len(heights))


def _above_turf(trial: Trial, events: Events, path: ClubheadPath, arc: Arc, contact_s: float) -> np.ndarray:
    """Mask (n,) of the points after impact at which the sole has not yet met the turf, judged from arc and points.

    If the height of the sole is not known or the ball is on a tee, all points are True, and the fit decides whether
    they are used.
    """
    height, _ = address_height(trial, events)
    if trial.setup.teed or not (trial.setup.soled_at_address and np.isfinite(height)):
        return np.ones(len(path.time_s), dtype=bool)
    margin = height + trial.setup.sole_height_se_mm / 1000
    angle = arc.angle_of(path.points_m)
    clear = np.zeros(len(angle), dtype=bool)
    for i in np.flatnonzero((path.time_s > contact_s) & np.isfinite(angle)):
        way = arc.curve(np.linspace(0.0, angle[i], 12))[:, 1]
        if min(way.min(), path.points_m[i, 1]) < margin:
            break
        clear[i] = True
    return clear


def _with_after(
    path: ClubheadPath, first: Arc, before: np.ndarray, after: np.ndarray, noise: NoisePrior
) -> Arc:  # fmt: skip
    """Fit the arc with the points after impact included, unless they do not continue the path before impact.

    If the sole's height is unknown, contact with the turf may have changed the path. If noise and a turn at impact do
    not explain the points after impact, `first`, the arc from the points before impact, is kept.
    """
    both = fit_arc(path.points_m, path.extra_sd_m, before, after, first.curve(0.0), noise)
    # The model of the turn is valid only to first order, so most of the turn is removed before the final fit.
    points = np.where(after[:, None], both.turned_back(path.points_m), path.points_m)
    both = fit_arc(points, path.extra_sd_m, before, after, first.curve(0.0), noise)
    kept = (both.used < 0).sum() / after.sum()
    fewer = (both.used > 0).sum() < (first.used > 0).sum()
    after_it = estimate_noise(np.where(after[:, None], path.points_m, np.nan))
    known = max(first.noise_m, noise.value, after_it if np.isfinite(after_it) else 0.0)
    limit = MORE_NOISE if np.isfinite(after_it) else MORE_NOISE_IF_FEW
    if both.noise_m > limit * known or kept < 0.5 or fewer:
        return first
    return both


def fit_air(trial: Trial, events: Events) -> Fitted:
    """Fit the arc of a swing that did not hit the ball, to points before and after the lowest point.

    Raises NoSupport, with the reason, if the ball was hit or the data are not sufficient.
    """
    why = events["impact"].note or "the reason is not known"
    if trial.ball_m is None or not (events.found("top") and trial.has("clubhead")):
        raise NoSupport(f"impact was not found: {why}")
    head = trial.point("clubhead", raw=True)
    end = events.time_s("finish") if events.found("finish") else trial.time_s[-1]
    down = (trial.time_s > events.time_s("top")) & (trial.time_s < end) & np.isfinite(head).all(axis=1)
    if not down.any():
        raise NoSupport(f"impact was not found: {why}")
    lowest = np.flatnonzero(down)[np.argmin(head[down, 1])]
    if min(down[:lowest].sum(), down[lowest + 1 :].sum()) < 3:
        raise NoSupport(f"impact was not found: {why}")
    path = _window(trial, events, float(trial.time_s[lowest]))
    near = _near(path, head[lowest], float(trial.time_s[lowest]))
    arc = fit_arc(
        path.points_m,
        path.extra_sd_m,
        near,
        np.zeros(len(near), dtype=bool),
        head[lowest],
        _noise(trial, path.points_m),
    )
    miss = find_contact_angle(arc, np.asarray(trial.ball_m), BALL_RADIUS_M)[1]
    if miss <= farthest_strike_m(trial.setup.reference_beside_face_cm):
        raise NoSupport(
            f"impact was not found: {why}"
        )  # the ball was struck, so the points do not form one smooth path
    return Fitted(path, arc, None, float("nan"), float("nan"), float("nan"), False)
