"""Events at which a rotation reverses: the top of the backswing, and the reversal of the pelvis."""

from __future__ import annotations

import numpy as np

from swinglab.events.lines import Line
from swinglab.events.search_window import SAMPLES_MISSING, missing, unseen
from swinglab.records import Event, Posture, Trial
from swinglab.signals import cross, fit_local_polynomials, principal_axes, unit, white_noise_passed

#: Smallest fall of an angle after a reversal; before it the angle must have risen by at least a fifth of this.
TURNED_DEG = {"top": 15.0, "pelvis_reversal": 3.0}
HALF_WINDOW_S = {"top": 0.045, "pelvis_reversal": 0.08}
ORDER, FEWEST = 5, 7
#: Longest gap across which an angle is followed.
LONGEST_GAP_S = 0.1
#: The swing plane is fitted to clubhead points faster than this share of the speed at contact.
PLANE_SPEED_SHARE = 0.5
#: Spread of planes fitted to one swing (clubhead or shaft, longer or shorter window; assumed value).
PLANE_ERROR_DEG = 3.0
PELVIS_TURN = "pelvis_axial_rotation_deg"


def find_top(
    trial: Trial, lines: tuple[Line, ...], why_no_line: str, start_s: float, contact_s: float
) -> Event:
    """Return the event top: the last reversal before contact of the rotation of the shaft in the swing plane.

    The plane is fitted to the positions of the clubhead in the fast part of the downswing (without a clubhead, to the
    directions of the shaft). `lines` : lines along the shaft, the best first. `why_no_line` : reason if there are none.
    """
    if not lines:
        return missing("top", why_no_line)
    lost: Event | None = None
    for line in lines:
        normal, plane = _swing_plane(trial, line, contact_s)
        if normal is None:
            lost = lost or unseen("top", "too few frames before contact to fit the swing plane")
            continue
        event = _find_top_about(normal, trial, line, start_s, contact_s)
        if np.isfinite(event.time_s):
            extra = _plane_error(trial, line, normal, event, start_s, contact_s)
            error = float(np.hypot(event.standard_error_s, extra))
            return Event(
                "top", event.time_s, error, f"shaft turns back in the {plane}: {line.method}", event.note
            )
        lost = lost or event
        if event.source != SAMPLES_MISSING:
            break
    assert lost is not None  # callers pass at least one line
    return lost


def find_pelvis_reversal(trial: Trial, posture: Posture | None, start_s: float, contact_s: float) -> Event:
    """Return the event pelvis_reversal: the last time before contact at which the pelvis stops rotating backward.

    Backward means away from the target.
    """
    if posture is None:
        return missing("pelvis_reversal", "the posture was not measured")
    if PELVIS_TURN not in posture.quantities:
        why = posture.missing.get(PELVIS_TURN, "not measured")
        return missing("pelvis_reversal", f"the axial rotation of the pelvis is missing: {why}")
    column = posture.quantities.index(PELVIS_TURN)
    noise = _unfiltered_noise(trial, posture.standard_errors[:, column])
    turned_away = -posture.curve(PELVIS_TURN)
    event = _find_turn("pelvis_reversal", trial, turned_away, turned_away, noise, start_s, contact_s)
    if not np.isfinite(event.time_s):
        return event
    how = posture.methods.get(PELVIS_TURN, "")
    method = "pelvis axial rotation turns" + (f": {how}" if how else "")
    return Event(event.name, event.time_s, event.standard_error_s, method, event.note)


def _unfiltered_noise(trial: Trial, filtered: np.ndarray) -> np.ndarray:
    """Noise (n,) of independent samples that would have, after smoothing, the noise stated in the posture.

    Smoothed samples are correlated. The window of the fit is longer than the impulse response of the filter, so
    independent samples with this noise give the same standard error of the fit.
    """
    cutoff = trial.cutoff_hz.get("pelvis", 0.0)
    share = white_noise_passed(trial.rate_hz, cutoff) if cutoff else 1.0
    return np.nan_to_num(filtered) / np.sqrt(share)


def _find_turn(
    name: str, trial: Trial, look: np.ndarray, angle: np.ndarray, noise: np.ndarray, start_s: float,
    contact_s: float,
) -> Event:  # fmt: skip
    """Find the last time before contact at which a rising angle reverses and then keeps falling.

    look : (n,) the angle (deg) with gaps filled, in which the reversal is located. angle, noise : (n,) samples from
    which its time is computed, and the SD of their noise. Before `start_s` nothing is searched.
    """
    time = trial.time_s
    where = np.flatnonzero((time >= start_s) & (time <= contact_s) & np.isfinite(look))
    what = "shaft" if name == "top" else "pelvis"
    if len(where) < FEWEST:
        return unseen(name, f"the {what} is visible in too few frames before contact")
    values = look[where]
    peak = _walk_back(values, TURNED_DEG[name])
    if (np.diff(time[where[peak:]], append=contact_s) > LONGEST_GAP_S).any():
        return unseen(name, f"the {what} is hidden for more than {LONGEST_GAP_S:g} s before contact")
    if values[peak] - values[-1] < TURNED_DEG[name]:
        return missing(name, f"the rotation of the {what} does not reverse before contact")
    if peak < 2 or values[peak] - values[: peak + 1].min() < TURNED_DEG[name] / 5:
        return missing(
            name,
            f"the {what} does not rotate backward: the capture begins after its reversal, or there is no reversal",
        )
    centre = float(time[where[peak]])
    usable = np.flatnonzero((time >= start_s) & (time <= contact_s) & np.isfinite(angle))
    near = usable[np.argsort(np.abs(time[usable] - centre), kind="stable")]
    number = max(FEWEST, int((np.abs(time[near] - centre) <= HALF_WINDOW_S[name]).sum()))
    chosen = np.sort(near[:number])
    if len(chosen) < FEWEST or np.diff(time[chosen]).max() > max(0.05, 2.1 / trial.rate_hz):
        return unseen(name, f"the {what} is not visible in some frames around its reversal")
    fit, judge = fit_local_polynomials(time[chosen], angle[chosen], noise[chosen], centre, (ORDER, ORDER - 1))
    turn = fit.root(0.0, centre, derivative=1)
    bend = float(fit.at(turn, 2)[0]) if np.isfinite(turn) else 0.0
    if bend >= 0:
        return missing(name, f"the {what} pauses, so its reversal has no definite time")
    # As for crossings, the model error is the difference of two nested polynomials beyond that expected from noise.
    by_noise = fit.error_at(turn, 1)
    model = float(judge.at(turn, 1)[0]) ** 2 - abs(by_noise**2 - judge.error_at(turn, 1) ** 2)
    return Event(name, turn, float(np.sqrt(by_noise**2 + max(model, 0.0))) / abs(bend), "", "")


def _walk_back(values: np.ndarray, fall: float) -> int:
    """Index of the last maximum: going backward from the end, the highest value before values fall by `fall`."""
    backward = values[::-1]
    highest = np.maximum.accumulate(backward)
    fallen = np.flatnonzero((highest - backward >= fall) & (highest - backward[0] >= fall))
    stop = int(fallen[0]) if len(fallen) else len(backward)
    return len(values) - 1 - int(np.argmax(backward[: stop + 1]))


def _swing_plane(trial: Trial, line: Line, contact_s: float) -> tuple[np.ndarray | None, str]:
    time = trial.time_s
    late = (time > contact_s - 0.4) & (time < contact_s)
    if trial.has("clubhead"):
        head = trial.point("clubhead")
        speed = np.linalg.norm(np.gradient(head, time, axis=0), axis=1)
        use = late & np.isfinite(speed) & np.isfinite(head).all(axis=1)
        if use.sum() >= 5:
            last = speed[np.flatnonzero(use)[-2]]
            slow = np.flatnonzero(use & (speed < PLANE_SPEED_SHARE * last))
            first = min(slow[-1] if len(slow) else 0, np.flatnonzero(use)[-5])
            points = head[use & (np.arange(len(time)) >= first)]
            return principal_axes(points - points.mean(axis=0))[2], "clubhead's plane"
    use = (time > contact_s - 0.15) & (time < contact_s) & np.isfinite(line.whole[:, 0])
    if use.sum() < 4:
        return None, ""
    return principal_axes(line.whole[use])[2], "shaft's plane"


def _find_top_about(normal: np.ndarray, trial: Trial, line: Line, start_s: float, contact_s: float) -> Event:
    look, _ = _angle_about(line.whole, normal)
    seen = np.isfinite(look)
    look[seen] = np.degrees(np.unwrap(np.radians(look[seen])))
    late = np.flatnonzero((trial.time_s > contact_s - 0.1) & (trial.time_s < contact_s) & seen)
    up = -1.0 if len(late) > 1 and look[late[-1]] > look[late[0]] else 1.0  # so that it falls toward contact
    angle, length = _angle_about(line.raw, normal)
    angle = look + (angle - look + 180.0) % 360.0 - 180.0
    return _find_turn("top", trial, up * look, up * angle, line.noise_deg / length, start_s, contact_s)


def _angle_about(direction: np.ndarray, normal: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Angle (n,), degrees, of directions (n, 3) about a normal, and length (n,) of their projection on the plane."""
    first = unit(cross(normal, np.array([0.0, 1.0, 0.0])))
    x, y = direction @ first, direction @ cross(normal, first)
    return np.degrees(np.arctan2(y, x)), np.hypot(x, y)


def _plane_error(
    trial: Trial, line: Line, normal: np.ndarray, event: Event, start_s: float, contact_s: float
) -> float:
    """Standard error (s) of the top due to the choice of plane.

    It is the shift of the reversal when the plane is tilted by `PLANE_ERROR_DEG` about each of its two axes. The swing
    is not planar, so the top depends slightly on the plane.
    """
    square = 0.0
    for axis in principal_axes(normal[None])[1:]:
        tilted = normal + np.tan(np.radians(PLANE_ERROR_DEG)) * axis
        other = _find_top_about(unit(tilted), trial, line, start_s, contact_s)
        square += (other.time_s - event.time_s) ** 2 if np.isfinite(other.time_s) else 0.0
    return float(np.sqrt(square))
