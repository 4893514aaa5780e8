"""Time at which the elevation of a line, such as the shaft, crosses an angle; interpolated between frames."""

from __future__ import annotations

import numpy as np

from swinglab.events.lines import Line, elevation_deg
from swinglab.events.search_window import SAMPLES_MISSING, Window, missing, unseen
from swinglab.records import Event
from swinglab.signals import LocalPolynomial, fit_local_polynomials

#: Range of elevation (deg) on either side of the level to which the polynomial is fitted, and its longest half-width
#: in time. Then the order of the polynomial and the fewest samples.
SPAN_DEG = 20.0
LONGEST_HALF_WINDOW_S = 0.05
ORDER = 5
FEWEST = 6


def find_crossing(
    name: str, lines: tuple[Line, ...], level_deg: float, rising: bool, window: Window, pick: str
) -> Event:
    """Return the event at which the elevation of a line crosses the angle `level_deg`, rising or falling.

    `name` : name of the event. `lines` : the same line computed from different landmarks, the best first; the event's
    method names the one used. `rising` : whether the elevation increases at the crossing. `window` : time in which the
    crossing is searched. `pick` : which crossing in the window is used, "first" or "last". The two frames around the
    crossing are found in the filled and smoothed points. The time is from a fifth-order polynomial through the
    unfilled, unsmoothed samples near the crossing. Samples after contact are not used for an event before contact, and
    vice versa.
    """
    lost: Event | None = None
    for line in lines:
        bracket = _bracket(name, line, level_deg, rising, window, pick)
        if isinstance(bracket, Event):
            lost = lost or bracket
            if bracket.source != SAMPLES_MISSING:
                break
            continue
        fits = _fit_about(line, bracket, window)
        if fits is not None:
            return _event(name, line, fits, level_deg, sum(bracket) / 2, window)
        lost = unseen(name, f"the {line.name} is visible in too few frames around the crossing")
    assert lost is not None  # callers pass at least one line
    return lost


def _smooth(values: np.ndarray) -> np.ndarray:
    """Median of three, so that a single stray frame cannot create a crossing."""
    padded = np.concatenate([values[:1], values, values[-1:]])
    before, after = padded[:-2], padded[2:]
    low, high = np.minimum(before, after), np.maximum(before, after)
    return np.where(np.isfinite(low + values), np.minimum(np.maximum(values, low), high), values)


def _bracket(
    name: str, line: Line, level: float, rising: bool, window: Window, pick: str
) -> tuple[float, float] | Event:
    """Times (s) of the two frames around the crossing, or the missing event with the reason."""
    time, values = window.time_s, elevation_deg(line.whole)
    inside = (time >= window.start_s) & (time <= window.stop_s) & np.isfinite(values)
    where = np.flatnonzero(inside)
    if len(where) < 2:
        return unseen(name, f"the {line.name} is not visible {window.words}")
    above = _smooth(values)[where] - level
    side = above if rising else -above
    hidden = _hidden(time[where], side, window, pick)
    hits = np.flatnonzero((side[:-1] < 0) & (side[1:] >= 0))
    if hidden:
        return unseen(
            name, f"the {line.name} is not visible for {hidden:.2f} s, and the crossing may be in this gap"
        )
    if not len(hits):
        return missing(name, _never(line, above, level, rising, window))
    k = hits[0 if pick == "first" else -1]
    return float(time[where[k]]), float(time[where[k + 1]])


def _hidden(time: np.ndarray, side: np.ndarray, window: Window, pick: str) -> float:
    """Length (s) of a gap that may contain the crossing; 0 if there is none.

    time, side : time and side of the level, (n,), of the samples in the window; side is negative before the crossing.
    """
    hits = np.flatnonzero((side[:-1] < 0) & (side[1:] >= 0))
    edges = np.concatenate([[window.start_s], time, [window.stop_s]])
    gaps = np.diff(edges)  # gap k lies before sample k
    if pick == "first":
        gaps[hits[0] + 2 if len(hits) else len(gaps) :] = 0.0
        gaps[0] = gaps[0] if side[0] >= 0 else 0.0
    else:
        gaps[: hits[-1] + 1 if len(hits) else 0] = 0.0
        gaps[-1] = gaps[-1] if side[-1] < 0 else 0.0
    longest = float(gaps.max())
    return longest if longest > window.longest_gap_s else 0.0


def _never(line: Line, above: np.ndarray, level: float, rising: bool, window: Window) -> str:
    what = "horizontal" if level == 0 else f"{level:g} deg above horizontal"
    if rising and (above > 0).all():
        return f"{window.words} the {line.name} is above {what} from the start (lowest {above.min() + level:.0f} deg)"
    if (above < 0).all():
        return f"{window.words} the {line.name} stays below {what} (highest {above.max() + level:.0f} deg)"
    if (above > 0).all():
        return f"{window.words} the {line.name} stays above {what} (lowest {above.min() + level:.0f} deg)"
    return f"{window.words} the {line.name} does not cross {what} {'upward' if rising else 'downward'}"


def _fit_about(
    line: Line, bracket: tuple[float, float], window: Window
) -> tuple[LocalPolynomial, LocalPolynomial] | None:
    """Two polynomials through the samples near the crossing: one for its time, one of another order for its error.

    None if there are too few samples, or none on one side of the crossing.
    """
    time, values = window.time_s, elevation_deg(line.raw)
    usable = (time > window.first_usable_s) & (time < window.last_usable_s) & np.isfinite(values)
    where = np.flatnonzero(usable)
    if len(where) < 3:
        return None
    centre = sum(bracket) / 2
    near = where[np.argsort(np.abs(time[where] - centre), kind="stable")]
    slope_over = near[: max(4, int((np.abs(time[near] - centre) <= 0.01).sum()))]
    apart = time[slope_over] - time[slope_over].mean()
    rate = abs(float(apart @ values[slope_over] / (apart @ apart)))
    half = min(SPAN_DEG / max(rate, 1e-6), LONGEST_HALF_WINDOW_S)
    number = max(FEWEST, int((np.abs(time[near] - centre) <= half).sum()))
    chosen = np.sort(near[:number])
    # A polynomial can bridge a gap, but not one as long as the whole stretch to which it was fitted.
    if not (time[chosen[0]] <= bracket[1] and time[chosen[-1]] >= bracket[0]):
        return None
    other = ORDER + 2 if number > ORDER + 3 else ORDER - 1
    fit, judge = fit_local_polynomials(
        time[chosen], values[chosen], line.noise_deg[chosen], centre, (ORDER, other)
    )
    return fit, judge


def _event(
    name: str,
    line: Line,
    fits: tuple[LocalPolynomial, LocalPolynomial],
    level: float,
    near_s: float,
    window: Window,
) -> Event:
    fit, judge = fits
    time = fit.root(level, near_s)
    if not np.isfinite(time):
        return missing(name, f"the crossing of the {line.name} cannot be distinguished from noise")
    rate = abs(float(fit.at(time, 1)[0]))
    # The model error is the difference of the two polynomials beyond that expected from noise in nested fits.
    differ = float(judge.at(time)[0] - level) ** 2
    by_noise = abs(judge.error_at(time) ** 2 - fit.error_at(time) ** 2)
    model = np.sqrt(max(differ - by_noise, 0.0))
    error = float(np.sqrt(fit.error_at(time) ** 2 + line.extra_deg**2 + model**2)) / rate
    level_words = "horizontal" if level == 0 else f"{level:g} deg"
    return Event(name, time, error, f"{line.name} crosses {level_words}: {line.method}", window.note)
