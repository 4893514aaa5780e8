"""Events that are defined by the speed of the clubhead: address, takeaway and finish."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swinglab.events.lines import noise_by_frame
from swinglab.events.search_window import missing
from swinglab.records import Event, Trial
from swinglab.signals import polynomial_weights, sliding_polynomial, stretches

#: Chosen thresholds: largest speed and shortest duration of rest at address, and speed below which a swing has ended.
STILL_MPS, STILL_FOR_S, FINISHED_MPS = 0.2, 0.1, 1.0
#: Speed comes from a local cubic over at least this time, which is extended until its noise is below the limit.
SHORTEST_S = {STILL_MPS: 0.1, FINISHED_MPS: 0.05}
MOST_NOISE_MPS = {STILL_MPS: 0.03, FINISHED_MPS: 0.05}
LONGEST_S = 0.25
#: A clubhead less than this above its lowest position is at address, not at the top.
LOW_M = 0.3
NO_CLUB = "the capture has no landmark clubhead, whose speed defines this event"


@dataclass(frozen=True, slots=True, eq=False)
class Speed:
    """Speed of the clubhead (m/s), for events at which it is slow; NaN where the clubhead is not visible.

    time_s, mps : (n,) times and speeds, from cubic polynomials in time. longer_mps : (n,) speeds from cubics over a
    time 1.5 times as long, to estimate the error of the model. noise_mps : (n,) SD of the noise of one component of
    velocity. reach : half-width in frames of the window in which the rate of change of speed is computed, at a time
    when the speed crosses a threshold. The rate between two frames would be biased upward, because noise causes
    crossings where the rate is large.
    """

    time_s: np.ndarray
    mps: np.ndarray
    longer_mps: np.ndarray
    noise_mps: np.ndarray
    reach: int

    def crossing(self, k: int, level: float) -> tuple[float, float]:
        """Return the time at which the speed crosses `level` (m/s) next after frame k, and its standard error, in s."""
        j = k + 1
        while not np.isfinite(self.mps[j]):
            j += 1
        share = (level - self.mps[k]) / (self.mps[j] - self.mps[k])
        near = np.arange(max(k + 1 - self.reach, 0), min(j + self.reach, len(self.mps)))
        near = near[np.isfinite(self.mps[near])]
        rate = abs(np.polyfit(self.time_s[near] - self.time_s[k], self.mps[near], 1)[0])
        differ = (1 - share) * self.longer_mps[k] + share * self.longer_mps[j] - level
        noise = float(self.noise_mps[k])
        model = np.sqrt(max(differ**2 - noise**2, 0.0)) if np.isfinite(differ) else 0.0
        time = self.time_s[k] + share * (self.time_s[j] - self.time_s[k])
        return float(time), float(np.hypot(noise, model) / rate)


def measure_slow_speed(trial: Trial, threshold_mps: float) -> Speed | None:
    """Return the speed of the clubhead from local cubic polynomials; None if the trial has no clubhead.

    The length of the polynomials is chosen so that the noise of the speed is small compared with `threshold_mps`.
    """
    if not trial.has("clubhead"):
        return None
    noise_m = noise_by_frame(trial, "clubhead")
    length, share = _window_for(float(np.median(noise_m)), trial.rate_hz, threshold_mps)
    noise_mps = share * noise_m
    longer = max(length + 2, 2 * int(0.75 * length) + 1)
    head = trial.point("clubhead")
    return Speed(
        trial.time_s,
        _speed(head, length, trial.rate_hz, noise_mps),
        _speed(head, longer, trial.rate_hz, noise_mps),
        noise_mps,
        max(1, length // 4),
    )


def _speed(head: np.ndarray, length: int, rate_hz: float, noise_mps: np.ndarray) -> np.ndarray:
    speed = np.full(len(head), np.nan)
    for stretch in stretches(np.isfinite(head).all(axis=1)):
        if stretch.stop - stretch.start >= length:
            velocity = [sliding_polynomial(axis, length, 3, 1 / rate_hz) for axis in head[stretch].T]
            # Noise increases the square of every component; its expected contribution is subtracted.
            square = np.square(velocity).sum(axis=0) - 3 * noise_mps[stretch] ** 2
            speed[stretch] = np.sqrt(np.maximum(square, 0.0))
    return speed


def _window_for(noise_m: float, rate_hz: float, threshold_mps: float) -> tuple[int, float]:
    """Window length (an odd number of frames), and noise of a velocity component divided by sample noise (1/s)."""
    for seconds in np.arange(SHORTEST_S[threshold_mps], LONGEST_S + 1e-9, 0.025):
        length = max(5, 2 * int(seconds * rate_hz / 2) + 1)
        weights = polynomial_weights(length, 3, 1 / rate_hz)[length // 2]
        share = float(np.sqrt(weights @ weights))
        if noise_m * share <= MOST_NOISE_MPS[threshold_mps]:
            break
    return length, share


def find_takeaway(trial: Trial, speed: Speed | None, top: Event, contact_s: float) -> Event:
    """Return the event takeaway: the last time before the backswing at which clubhead speed rises above 0.2 m/s.

    If the top of the backswing is not known, it is the last such time before contact at which the clubhead is low: a
    club that pauses at the top also starts to move from rest.
    """
    if speed is None:
        return missing("takeaway", NO_CLUB)
    time, mps = speed.time_s, speed.mps
    known = np.isfinite(top.time_s)
    end = top.time_s if known else contact_s
    back = np.flatnonzero((time >= end - 0.5) & (time <= end) & np.isfinite(mps))
    if not len(back):
        return missing("takeaway", "the clubhead is not visible in the backswing")
    fastest = back[np.argmax(mps[back])]
    if mps[fastest] < STILL_MPS:
        return missing(
            "takeaway",
            f"the clubhead is never faster than {STILL_MPS:g} m/s before {'the top' if known else 'contact'}",
        )
    seen = np.flatnonzero(np.isfinite(mps[: fastest + 1]))
    slow = seen[mps[seen] < STILL_MPS]
    height = trial.point("clubhead")[:, 1]
    if len(slow) and not known and height[slow[-1]] > np.nanmin(height[: fastest + 1]) + LOW_M:
        return missing("takeaway", f"the backswing was not found: {top.note}")
    if not len(slow):
        return missing(
            "takeaway", f"the capture starts with the clubhead already moving at {mps[seen[0]]:.1f} m/s"
        )
    when, error = speed.crossing(int(slow[-1]), STILL_MPS)
    note = "" if known else f"the last rise before contact was used, because top was not found: {top.note}"
    return Event("takeaway", when, error, f"clubhead speed last rises through {STILL_MPS:g} m/s", note)


def find_address(speed: Speed | None, takeaway: Event) -> Event:
    """Return the event address: the middle of the last period at rest before takeaway.

    At rest means a clubhead speed below 0.2 m/s for 0.1 s or more.
    """
    if speed is None:
        return missing("address", NO_CLUB)
    if not np.isfinite(takeaway.time_s):
        return missing("address", f"takeaway was not found: {takeaway.note}")
    time, mps = speed.time_s, speed.mps
    still = (time <= takeaway.time_s) & (np.nan_to_num(mps, nan=np.inf) < STILL_MPS)
    for stretch in reversed(stretches(still)):
        first, first_error = float(time[stretch.start]), 0.0
        note = "the capture starts during this period at rest" if stretch.start == 0 else ""
        if stretch.start > 0 and np.isfinite(mps[stretch.start - 1]):
            first, first_error = speed.crossing(stretch.start - 1, STILL_MPS)
        last, last_error = float(time[stretch.stop - 1]), 0.0
        if stretch.stop < len(time) and np.isfinite(mps[stretch.stop]):
            if mps[stretch.stop] >= STILL_MPS:
                last, last_error = speed.crossing(stretch.stop - 1, STILL_MPS)
            last = min(last, takeaway.time_s)
        if last - first >= STILL_FOR_S:
            error = float(np.hypot(first_error, last_error) / 2)
            method = f"middle of the last {last - first:.2f} s with the clubhead below {STILL_MPS:g} m/s"
            return Event("address", (first + last) / 2, error, method, note)
    return missing("address", f"the clubhead is never at rest for {STILL_FOR_S:g} s before takeaway")


def find_finish(speed: Speed | None, contact_s: float) -> Event:
    """Return the event finish: the first time after impact at which clubhead speed falls below 1 m/s."""
    if speed is None:
        return missing("finish", NO_CLUB)
    time, mps = speed.time_s, speed.mps
    after = np.flatnonzero((time > contact_s) & np.isfinite(mps))
    if not len(after):
        return missing("finish", "the clubhead is not visible after contact")
    slow = after[mps[after] < FINISHED_MPS]
    if not len(slow):
        return missing(
            "finish", f"at the end of the capture the clubhead still moves at {mps[after[-1]]:.1f} m/s"
        )
    before = after[after < slow[0]]
    if not len(before):
        return missing("finish", "the clubhead is not visible between contact and the time when it is slow")
    if time[slow[0]] - time[before[-1]] > 0.1:
        gap = time[slow[0]] - time[before[-1]]
        return missing("finish", f"the clubhead is not visible for {gap:.2f} s while it becomes slower")
    when, error = speed.crossing(int(before[-1]), FINISHED_MPS)
    return Event("finish", when, error, f"clubhead speed first below {FINISHED_MPS:g} m/s")
