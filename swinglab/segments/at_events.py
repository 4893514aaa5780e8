"""Posture at events, interpolated between frames."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab.columns import QUANTITIES
from swinglab.records import Event, Events, Posture
from swinglab.segments.geometry import wrapped
from swinglab.segments.neutral import FROM_NEUTRAL
from swinglab.segments.quantities import SHAFT_STAND_IN_DEG

#: Positions that `measure_at` gives relative to address.
FROM_ADDRESS = frozenset(
    name
    for name, c in QUANTITIES.items()
    if c.motion in ("toward_target", "up", "toward_ball") or name == "trail_heel_height_cm"
)
#: Directions on a full circle, which are reported within -180 to 180 degrees instead of being continuous in time.
_CIRCULAR = ("lean_direction", "plane_of_elevation", "internal_rotation")
SHAFT = "shaft_forward_lean_deg"
#: The club is not smoothed, and its velocity jumps at impact. Its value at impact is therefore computed from frames in
#: this period before impact only.
CLUB_BEFORE_IMPACT_S = 0.02

COLUMNS = ["swing", "event", "quantity", "value", "standard_error", "unit", "frame_method", "noise_error"]


def measure_at(posture: Posture, events: Events) -> pd.DataFrame:
    """Return a table of all posture quantities at all events for which they are defined.

    Parameters
    ----------
    posture : Posture
        A swing, frame by frame.
    events : Events
        The events of the same swing.

    Returns
    -------
    pandas.DataFrame
        One row for each event and quantity: swing, event, quantity, value, standard_error, unit,
        frame_method (the segment axes or joint centre from which the quantity was computed), noise_error (the part of
        the standard error that is due to noise and timing). A missing value is NaN, and its frame_method is
        ``missing:`` followed by the reason. Quantities relative to a neutral posture are in the table only if the
        posture has them.

    Notes
    -----
    Frame: as in `measure_posture`. ``_toward_target_cm``, ``_up_cm``, ``_toward_ball_cm`` and
    ``trail_heel_height_cm`` are relative to address, so the error at address is common to all events.

    Values between frames are interpolated by a cubic through the four nearest frames. At impact, only frames before
    impact are used for the club.

    Standard errors include noise, the deformation of segments, and timing (the standard error of the event's time
    multiplied by the rate of change). They do not include marker placement error or soft tissue that moves a whole
    segment.

    Examples
    --------
    >>> table = measure_at(posture, events)  # doctest: +SKIP
    >>> table.columns.tolist()  # doctest: +SKIP
    ['swing', 'event', 'quantity', 'value', 'standard_error', 'unit', 'frame_method', 'noise_error']
    """
    names = [name for name in QUANTITIES if name not in FROM_NEUTRAL or name in posture.quantities]
    place = {name: k for k, name in enumerate(posture.quantities)}
    at_address = _Reading(posture, place, events["address"])
    from_address = np.array([name in FROM_ADDRESS for name in posture.quantities], dtype=bool)
    circular = np.array([QUANTITIES[name].motion in _CIRCULAR for name in posture.quantities], dtype=bool)
    how = {
        name: posture.methods[name]
        if name in place
        else f"missing: {posture.missing.get(name, 'not measured')}"
        for name in names
    }
    event_names, quantities, methods, numbers = list[str](), list[str](), list[str](), []
    for event in events.events:
        reading = at_address if event.name == "address" else _Reading(posture, place, event)
        own = [name for name in names if event.name in QUANTITIES[name].events]
        # The last column is used for all quantities that were not measured.
        values = _relative(reading, at_address, from_address, circular)[
            :, [place.get(name, -1) for name in own]
        ]
        numbers.append(values)
        event_names += [event.name] * len(own)
        quantities += own
        words = [how[name] for name in own]
        for i in np.flatnonzero(np.isnan(values[0])):
            if own[i] in place:
                words[i] = f"missing: {_reason(place[own[i]], reading, at_address)}"
        methods += words
    value, error, noise = np.concatenate(numbers, axis=1)
    units = [QUANTITIES[name].unit for name in quantities]
    cells = ([posture.swing] * len(units), event_names, quantities, value, error, units, methods, noise)
    return pd.DataFrame(dict(zip(COLUMNS, cells, strict=True)))


class _Reading:
    """Values and standard errors of all quantities of a posture at one event, or the reason why there are none."""

    def __init__(self, posture: Posture, place: dict[str, int], event: Event) -> None:
        self.posture, self.place, self.event = posture, place, event
        t = posture.time_s
        # Events may be set up to half a frame beyond the ends.
        half_frame = 0.5 * (t[-1] - t[0]) / max(len(t) - 1, 1)
        inside = t[0] - half_frame <= event.time_s <= t[-1] + half_frame
        self.values = self.errors = self.noise = np.full(len(posture.quantities), np.nan)
        self.reason = "no marker data at this time"
        if not np.isfinite(event.time_s):
            self.reason = f"the event {event.name} was not found" + (f": {event.note}" if event.note else "")
        elif not inside:
            self.reason = f"the event {event.name} is outside the capture"
        else:
            self._read()

    def _read(self) -> None:
        posture, t = self.posture, self.event.time_s
        frames = _nearest(posture.time_s, t)
        level, slope = _weights(posture.time_s[frames], t, len(frames) - 1)
        values, rates = level @ posture.values[frames], slope @ posture.values[frames]
        assert posture.noise_errors is not None
        total, noise = (
            np.abs(level) @ errors[frames] / np.abs(level).sum()
            for errors in (posture.standard_errors, posture.noise_errors)
        )
        if SHAFT in self.place:
            k = self.place[SHAFT]
            if self.event.name == "impact":
                frames = _before(posture.time_s, t)
                degree = 3 if len(frames) == 4 else min(2, len(frames) - 1)
                level, slope = _weights(posture.time_s[frames], t, degree)
            values[k], rates[k], total[k] = self._shaft(k, frames, level, slope)
            noise[k] = total[k]
        self.values = values
        timing = rates * self.event.standard_error_s
        self.errors, self.noise = np.hypot(total, timing), np.hypot(noise, timing)

    def _shaft(
        self, k: int, frames: np.ndarray, level: np.ndarray, slope: np.ndarray
    ) -> tuple[float, float, float]:
        """Lean of the shaft (deg), size of its rate of change (deg/s), and standard error of the lean (deg).

        They are sums over `frames` with the weights `level` (for the value) and `slope` (for the rate). The noise of
        different frames is independent, because the club is not smoothed. `k` : index of the quantity.
        """
        posture = self.posture
        # A shaft defined by other points has the same error in every frame, which averaging does not reduce.
        fixed = SHAFT_STAND_IN_DEG if SHAFT in posture.stand_ins else 0.0
        squares = np.maximum(posture.standard_errors[frames, k] ** 2 - fixed**2, 0.0)
        curve = posture.values[frames, k]
        # Noise alone produces a rate of change, which would be counted as timing error.
        rate = np.sqrt(max((slope @ curve) ** 2 - slope**2 @ squares, 0.0))
        return level @ curve, rate, np.hypot(np.sqrt(level**2 @ squares), fixed)


def _relative(
    reading: _Reading, address: _Reading, from_address: np.ndarray, circular: np.ndarray
) -> np.ndarray:
    """Values, standard errors, and the part of these due to noise, at one event, (3, n_quantities + 1).

    The last column is NaN. From quantities that are defined relative to address (`from_address`), the value at address
    is subtracted. Angles in `circular` are wrapped to -180 to 180 degrees.
    """
    made = np.full((3, len(reading.values) + 1), np.nan)
    made[:, :-1] = reading.values, reading.errors, reading.noise
    from_address, circular = np.append(from_address, False), np.append(circular, False)
    since = np.array([address.values, address.errors, address.noise])[:, from_address[:-1]]
    made[0, from_address] -= since[0]
    made[1:, from_address] = 0.0 if reading is address else np.hypot(made[1:, from_address], since[1:])
    made[0, circular] = wrapped(made[0, circular])
    made[1:, np.isnan(made[0])] = np.nan
    return made


def _reason(k: int, reading: _Reading, address: _Reading) -> str:
    """Reason why a quantity has no value at an event."""
    return (
        reading.reason if np.isnan(reading.values[k]) else f"it is relative to address, but {address.reason}"
    )


def _nearest(time_s: np.ndarray, t: float) -> np.ndarray:
    """Indices of the four frames around the time `t` (at the ends the first or last four; all if there are fewer)."""
    second = int(np.searchsorted(time_s, t, side="right")) - 1
    start = min(max(second - 1, 0), max(len(time_s) - 4, 0))
    return np.arange(start, min(start + 4, len(time_s)))


def _before(time_s: np.ndarray, t: float) -> np.ndarray:
    """Indices of the frames before the time `t` from which the club is read: those of the last 20 ms, at least four.

    Four frames (low frame rates) are fitted by a cubic, more frames by a least-squares parabola.
    """
    last = int(np.searchsorted(time_s, t, side="right"))
    step = (time_s[-1] - time_s[0]) / max(len(time_s) - 1, 1)
    most = max(4, int(CLUB_BEFORE_IMPACT_S / step) + 1) if step > 0 else 1
    return np.arange(max(last - most, 0), last)


def _weights(time_s: np.ndarray, t: float, degree: int) -> tuple[np.ndarray, np.ndarray]:
    """Weights of the frames for the value, and for the rate of change, of a fitted polynomial at the time `t`."""
    scale = max(time_s[-1] - time_s[0], 1e-9)
    powers = np.vander((time_s - t) / scale, degree + 1, increasing=True)
    inverse = np.linalg.inv(powers) if len(time_s) == degree + 1 else np.linalg.pinv(powers)
    return inverse[0], (inverse[1] / scale if degree else np.zeros(len(time_s)))
