"""Impact: the time at which the path of the clubhead before contact, extrapolated, reaches the ball."""

from __future__ import annotations

import numpy as np

from swinglab.conventions import BALL_RADIUS_M, OFF_THE_FACE, farthest_strike_m
from swinglab.events.extrapolation import Path, Reached, last_undisturbed, reach_ball
from swinglab.events.lines import noise_by_frame, noise_of
from swinglab.events.passes import Pass, choose_passes
from swinglab.events.search_window import missing
from swinglab.records import Event, Trial

#: Uncertainty of the distance from the clubhead's reference point to the face if the study does not give it
#: (assumed value).
REFERENCE_SE_M = 0.015
FEWEST_FRAMES = 6
#: If no ball was seen, a pass slower than this share of the clubhead's greatest speed is not a strike but a waggle over
#: the assumed position of the ball. If a ball was seen, a note is given.
SHARE_OF_TOP_SPEED = 0.5
#: A miss of less than this distance may be due to a marker elsewhere on the head or low on the shaft; a hint is added.
FARTHEST_MARKER_M = 0.2
#: If the ball has a marker, passes slower than this share of the greatest speed are motion at address; at other speeds
#: the clubhead cannot pass the ball without hitting it. In any case a pass is faster than `SLOWEST_MPS`.
SHARE_PAST_A_BALL = 0.05
SLOWEST_MPS = 0.5
#: Longest time (s) before contact without samples across which the path is extrapolated (2.5 frames if this is longer).
LONGEST_BLIND_S = 0.03


def find_impact(trial: Trial) -> Event:
    """Return the event impact: the time at which the face of the club reaches the ball.

    At this time the distance along the path from the landmark clubhead to the centre of the ball is the radius of the
    ball plus the distance of the landmark behind the face. The path is a fourth-order polynomial in time, fitted to
    the unfiltered samples before contact and extrapolated, because contact disturbs later frames. With fewer than six
    frames in the last 36 ms (below about 150 Hz) extrapolation is not reliable; one frame after contact is then added,
    corrected for the loss of speed at impact. The standard error includes noise, the errors of ball and landmark, and
    the error of the polynomial model.
    """
    if not trial.has("clubhead"):
        return missing(
            "impact", "the capture has no landmark clubhead: set impact by hand, or use an event of the file"
        )
    if trial.ball_m is None:
        return missing(
            "impact",
            "the position of the ball is not known: there is no ball marker, no position in study.toml, and the "
            "clubhead is not at rest before the swing",
        )
    passes = _find_passes(trial)
    if isinstance(passes, str):
        return missing("impact", passes)
    meant, note = choose_passes(trial, passes)
    if not meant:
        return missing("impact", note)
    tried = [_contact(trial, one.before, note) for one in meant[:1]]
    for one in meant[1:]:
        if np.isfinite(tried[-1].time_s):
            break
        tried.append(_contact(trial, one.before, note))
    return tried[-1] if np.isfinite(tried[-1].time_s) else tried[0]


def _find_passes(trial: Trial) -> list[Pass] | str:
    """All passes of the clubhead near the ball at sufficient speed, in order of time, or the reason for none."""
    time, head = trial.time_s, trial.point("clubhead")
    there = np.flatnonzero(np.isfinite(head).all(axis=1))
    if len(there) < FEWEST_FRAMES:
        return "the clubhead is visible in too few frames"
    step = np.diff(head[there], axis=0)
    lasted = np.diff(time[there])
    length = np.linalg.norm(step, axis=1)
    way = step / np.where(length > 0, length, np.nan)[:, None]
    # One distance for each frame, along its direction of motion; between two chords a pass could be missed.
    velocity = np.gradient(head[there], time[there], axis=0)
    ahead = np.einsum("ni,ni->n", trial.ball_m - head[there], velocity)
    to_ball = trial.ball_m - head[there[:-1]]
    beside = np.linalg.norm(to_ball - np.einsum("ni,ni->n", to_ball, way)[:, None] * way, axis=1)
    speed = length / lasted
    top = _top_speed(trial)
    passes = (ahead[:-1] > 0) & (ahead[1:] <= 0) & (way[:, 0] > 0) & (lasted <= 0.1)
    # A chord lies inside its arc, so the limit of this first search is wide; the fitted path decides.
    near = passes & (
        beside <= farthest_strike_m(trial.setup.reference_beside_face_cm) + np.maximum(0.05, length**2 / 4)
    )
    by_noise = 4 * noise_of(trial, "clubhead") * trial.rate_hz
    share = SHARE_PAST_A_BALL if trial.ball_method == "marker" else SHARE_OF_TOP_SPEED
    least = max(SLOWEST_MPS, by_noise, share * top)
    found = np.flatnonzero(near & (speed >= least))
    if len(found):
        return [
            Pass(int(there[k]), float(time[there[k]]), float(time[there[k + 1]]), float(speed[k]))
            for k in found
        ]
    if ahead[-1] > 0 and way[-1, 0] > 0 and speed[-1] > max(SHARE_OF_TOP_SPEED * top, SLOWEST_MPS, by_noise):
        return "the capture ends before the clubhead reaches the ball"
    return _no_pass(near, passes & (speed >= SHARE_OF_TOP_SPEED * top), beside, speed, top)


def _top_speed(trial: Trial) -> float:
    """Greatest clubhead speed (m/s) sustained for two successive steps; a ghost marker causes one step only."""
    head = trial.point("clubhead")
    there = np.isfinite(head).all(axis=1)
    speed = np.linalg.norm(np.diff(head[there], axis=0), axis=1) / np.diff(trial.time_s[there])
    return float(np.minimum(speed[:-1], speed[1:]).max())


def _no_pass(near: np.ndarray, fast: np.ndarray, beside: np.ndarray, speed: np.ndarray, top: float) -> str:
    """Reason why no pass of the clubhead is a strike.

    near, fast : masks of the passes near the ball, and of the fast ones. beside : distance (m) from the ball. speed :
    speed of the clubhead (m/s). top : its greatest speed.
    """
    if fast.any():
        away = float(beside[fast].min())
        hint = f" {OFF_THE_FACE}" if away < FARTHEST_MARKER_M else ""
        return f"no strike: the clubhead's path passes {100 * away:.0f} cm from the ball{hint}"
    if near.any():
        return (
            f"no strike: the clubhead passes the ball at {speed[near].max():.1f} m/s at most, while its greatest "
            f"speed is {top:.1f} m/s"
        )
    return "no strike: the clubhead does not pass the ball"


def _contact(trial: Trial, before: int, passed: str) -> Event:
    """Event impact of one pass; missing, with the reason, if the extrapolated path does not reach the ball.

    before : index of the last frame before the clubhead passes the ball. passed : note on the choice of the pass.
    """
    ball = np.asarray(trial.ball_m)
    reach = BALL_RADIUS_M + (trial.setup.reference_behind_face_cm or 0.0) / 100
    unsure = _place_error(trial)
    head, time = trial.point("clubhead", raw=True), trial.time_s
    seen = np.flatnonzero(np.isfinite(head).all(axis=1))
    noise = float(noise_by_frame(trial, "clubhead")[before])
    path = Path(time[seen], head[seen], noise, ball, reach)
    last = last_undisturbed(path, float(time[before]), unsure / 2)
    if last < 3:
        return missing("impact", "the clubhead is visible in too few frames before contact")
    reached = reach_ball(path, last, trial.rate_hz)
    if reached is None or reached.time_s - path.time_s[last] > max(LONGEST_BLIND_S, 2.5 / trial.rate_hz):
        return missing("impact", "the clubhead is not visible in the last frames before contact")
    # It is a miss only if the distance exceeds the error of the path.
    farthest = farthest_strike_m(trial.setup.reference_beside_face_cm)
    if reached.beside_m > farthest + 2 * reached.error_s * reached.speed_mps:
        return missing(
            "impact",
            f"no strike: the clubhead's path passes {100 * reached.beside_m:.1f} cm from the ball {OFF_THE_FACE}",
        )
    error = float(np.hypot(reached.error_s, unsure / reached.speed_mps))
    note = "; ".join(words for words in (passed, _note(trial, reached)) if words)
    return Event("impact", reached.time_s, error, f"{reached.words} ({_ball_words(trial)})", note)


def _place_error(trial: Trial) -> float:
    """Standard error (m, along the path) of the position of contact."""
    return float(np.hypot(trial.ball_se_m, REFERENCE_SE_M if _reference_unknown(trial) else 0.0))


def _reference_unknown(trial: Trial) -> bool:
    # If the ball's position was inferred from the clubhead at address, the unknown offset cancels.
    return trial.setup.reference_behind_face_cm is None and trial.ball_method != "ball_from_address"


def _ball_words(trial: Trial) -> str:
    words = {
        "marker": "ball marker",
        "study": "ball's place from the study",
        "ball_from_address": "ball_from_address",
    }
    return words.get(trial.ball_method, trial.ball_method)


def _note(trial: Trial, reached: Reached) -> str:
    notes = []
    if _reference_unknown(trial):
        notes.append(
            "the distance of the clubhead marker behind the face is not known: 0 was assumed, and the standard error "
            "was increased"
        )
    top = _top_speed(trial)
    if reached.speed_mps < SHARE_OF_TOP_SPEED * top:
        notes.append(
            f"the speed of the clubhead at the ball is {reached.speed_mps:.1f} m/s, but its largest speed is {top:.1f} "
            "m/s: check that this is the strike"
        )
    return "; ".join(notes)
