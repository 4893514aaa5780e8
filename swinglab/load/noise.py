"""How much landmarks shake, and how much they shake together: the noise of the coordinates in `raw_m`.

Body points tell it by what smoothing took off; points of club and ball, which are not smoothed, by their sixth
differences, and so do body points that are smoothed more than their motion allows. Markers that the same cameras see
share part of their error, and a camera system errs more along one axis than along another; a mean of markers then
errs by more, the line between two of them by less, than independent noise would make it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from math import comb
from typing import NamedTuple

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.load.smoothing import STILL_HZ, gain

#: From the median absolute value to the standard deviation of a normal distribution.
_NORMAL = 1.4826
#: Values beyond so many standard deviations are motion, not noise; the mean square of a normal distribution within
#: them, over its variance; and the variance of the square of `spread`, over its own square, times the number of
#: samples.
_WITHIN, _SQUARE_WITHIN, _SCATTER_OF_SQUARE = 2.15, 0.8244, 4.1
_ROUNDS = 5
#: Order of differences: at 60 Hz the club's motion still shows in the fourth, hardly in the sixth. Of differences of
#: one coordinate so many hang together as to count once.
ORDER = 6
COUNT_ONCE = comb(4 * ORDER, 2 * ORDER) / comb(2 * ORDER, ORDER) ** 2
#: No camera system shakes less than this: such points were smoothed by whoever made the file.
_SMOOTHED_M = 1e-5
#: Fewer samples than these, of a landmark or of two at once, say nothing.
_FEWEST = 20
#: A frame whose residuals are this many times as large as in the median frame holds motion, or a jump of the
#: whole system; a single residual counts up to this many standard deviations.
_FRAME_LIMIT, _SAMPLE_LIMIT = 3.0, 3.0


class MarkerNoise(NamedTuple):
    """sd_m (k,), covariance (3k, 3k) in units of sd_m (`Trial.noise_covariance`), and what is to be told."""

    sd_m: np.ndarray
    covariance: np.ndarray | None
    told: tuple[str, ...]


def measure_noise(
    names: tuple[str, ...], raw: np.ndarray, smoothed: np.ndarray, used: np.ndarray, rate_hz: float,
    cutoff_hz: Mapping[str, float], too_low: Collection[str] = (), slow: np.ndarray | None = None,
) -> MarkerNoise:  # fmt: skip
    """The noise of every coordinate of raw (n_frames, k, 3) by itself and together.

    Parameters
    ----------
    names : tuple of str
        The k landmarks.
    raw, smoothed : np.ndarray
        (n_frames, k, 3) metres before and after smoothing.
    used : np.ndarray
        (n_frames, k) True where a sample was measured.
    rate_hz : float
    cutoff_hz : mapping
        Segment -> cut-off of the smoothing.
    too_low : collection of str
        Segments of which smoothing takes motion off too: their noise is told by differences.
    slow : np.ndarray or None
        (n_frames, k, 3) a body that stands still, smoothed at STILL_HZ. Noise is then what smoothing leaves above
        that, in the frequencies in which posture's errors lie; else what it takes off.

    Returns
    -------
    MarkerNoise
        sd_m is NaN for landmarks with too few samples. Club and ball are independent of all.

    Notes
    -----
    Correlations are those of the residuals in the frames that are not exceptional, each residual clipped, so that
    the motion which is left in the downswing's residual makes none. They are shrunk toward none by as much as
    their own scatter explains [schaefer2005]_, the coordinates of a landmark toward the same noise
    likewise [opgen2007]_: noise that is independent and alike in all directions comes out as such.
    """
    by_name = {name: cutoff_hz[s] for s, own in SEGMENT_LANDMARKS.items() if s in cutoff_hz for name in own}
    body = np.array([name in by_name for name in names], dtype=bool)
    # A body that stands still has no motion to take off.
    differ = {name for segment in too_low if slow is None for name in SEGMENT_LANDMARKS[segment]}
    taken = {cutoff: _taken(rate_hz, cutoff, slow is not None) for cutoff in set(by_name.values())}
    residual = np.where(used[..., None], raw - smoothed if slow is None else smoothed - slow, np.nan)
    by_axis = np.full((len(names), 3), np.nan)
    for k, name in enumerate(names):
        if name in by_name and name not in differ:
            by_axis[k] = spread_of_residual(residual[:, k], taken[by_name[name]])
        else:
            by_axis[k] = noise_from_differences(raw[:, k], used[:, k])
    sd = np.sqrt(np.mean(by_axis**2, axis=1))
    known = np.flatnonzero(body & (sd > 0))
    if len(known) < 2:
        return MarkerNoise(sd, None, ())
    same, independent = _alike(np.stack([taken[by_name[names[k]]] for k in known]))
    three = np.ones((3, 3))
    correlation = _correlation(residual[:, known], np.kron(same, three), np.kron(independent, three))
    if correlation is None:
        told = (
            f"no two body points are seen together in {_FEWEST} frames: their noise is taken as independent",
        )
        return MarkerNoise(sd, None, told)
    share = [
        1 / COUNT_ONCE if names[k] in differ else one
        for k, one in zip(known, np.diag(independent), strict=True)
    ]
    samples = used[:, known].sum(axis=0) * np.array(share)
    ratio = np.sqrt(_squares_by_axis(by_axis[known], samples)) / sd[known, None]
    covariance = np.eye(3 * len(names))
    places = (3 * known[:, None] + np.arange(3)).ravel()
    covariance[np.ix_(places, places)] = correlation * np.outer(ratio, ratio)
    return MarkerNoise(sd, covariance, ())


def spread_of_residual(residual: np.ndarray, taken: np.ndarray) -> np.ndarray:
    """(3,) from the residual (n_frames, 3), corrected for the noise that is not in it; NaN with few samples.

    taken : gain from noise to residual at frequencies that stand for all. White noise of variance s^2 leaves
    s^2 x mean(taken^2). The short fast part, where the residual holds motion too, does not count as noise.
    """
    residual = residual[np.isfinite(residual).all(axis=1)]
    if len(residual) < _FEWEST:
        return np.full(3, np.nan)
    return spread(residual) / np.sqrt(np.mean(taken**2))


def noise_from_differences(raw: np.ndarray, used: np.ndarray) -> np.ndarray:
    """(3,) from sixth differences of samples as measured, (n_frames, 3): white noise of variance s^2 gives 924 s^2."""
    points = np.where(used[:, None], raw, np.nan)
    differences = np.diff(points, n=ORDER, axis=0)
    differences = differences[np.isfinite(differences).all(axis=1)]
    if len(differences) < _FEWEST:
        return np.full(3, np.nan)
    return spread(differences) / np.sqrt(comb(2 * ORDER, ORDER))


def doubt_noise(noise_m: np.ndarray) -> list[str]:
    """A sentence where most points shake less than any measurement does."""
    seen = noise_m[np.isfinite(noise_m)]
    if not len(seen) or np.median(seen) >= _SMOOTHED_M:
        return []
    return [
        f"the points shake by {1000 * np.median(seen):.1g} mm only: they were smoothed before (or made without noise), "
        "so standard errors from noise say too little"
    ]


def spread(values: np.ndarray) -> np.ndarray:
    """Robust standard deviation along the first axis: of the values within 2.15 of it; NaN is left out.

    What is larger is left out and the rest taken as a normal distribution cut off there, in five rounds.
    Fast motion at 60 Hz then makes noise look larger by a tenth at most, where the median absolute value makes it
    up to three tenths; and it is a little surer than the median.
    """
    size = np.abs(values)
    middle = np.nanmedian if np.isnan(size).any() else np.median
    found = np.asarray(_NORMAL * middle(size, axis=0))
    for _ in range(_ROUNDS):
        within = size <= _WITHIN * found
        squares = np.where(within, size**2, 0.0).sum(axis=0)
        found = np.sqrt(squares / np.maximum(within.sum(axis=0), 1) / _SQUARE_WITHIN)
    return found


def _taken(rate_hz: float, cutoff_hz: float, still: bool) -> np.ndarray:
    """Gain from noise to residual at frequencies that stand for all up to half the rate."""
    frequencies = (np.arange(400) + 0.5) / 800 * rate_hz
    left = gain(rate_hz, cutoff_hz, frequencies)
    return left - gain(rate_hz, STILL_HZ, frequencies) if still else 1 - left


def _alike(taken: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Two (k, k) of residuals with these gains, (k, frequencies): their correlation where their noise is the same, and
    the share of their samples that count as independent (the residual lacks some frequencies)."""
    amplitude = taken / np.linalg.norm(taken, axis=1, keepdims=True)
    power = taken**2 / np.mean(taken**2, axis=1, keepdims=True)
    return amplitude @ amplitude.T, power.shape[1] / (power @ power.T)


def _squares_by_axis(by_axis: np.ndarray, samples: np.ndarray) -> np.ndarray:
    """(k, 3) squares of the noise by axis, shrunk toward each landmark's mean by what their scatter explains."""
    squares = by_axis**2
    mean = squares.mean(axis=1, keepdims=True)
    # Three squares about their own mean have two degrees of freedom.
    by_chance = (2 * _SCATTER_OF_SQUARE * mean[:, 0] ** 2 / samples).sum()
    seen = ((squares - mean) ** 2).sum()
    share = min(1.0, by_chance / seen) if seen > 0 else 1.0
    return mean + (1 - share) * (squares - mean)


def _correlation(residual: np.ndarray, same: np.ndarray, independent: np.ndarray) -> np.ndarray | None:
    """(3k, 3k) correlation of the coordinates' noise from residuals (n, k, 3); None where no two are seen together.

    same, independent : as `_alike` gives them, coordinate by coordinate.
    """
    values = residual.reshape(len(residual), -1)
    seen, scale = np.isfinite(values), spread(values)
    values = np.where(seen, values, 0.0)
    values = np.divide(values, scale, out=np.zeros_like(values), where=scale > 0)
    size = np.sqrt((values**2).sum(axis=1) / np.maximum(seen.sum(axis=1), 1))
    ordinary = size <= _FRAME_LIMIT * np.median(size[seen.any(axis=1)])
    values, together = np.clip(values[ordinary], -_SAMPLE_LIMIT, _SAMPLE_LIMIT), seen[ordinary].astype(float)
    samples = together.T @ together
    length = np.sqrt((values**2).T @ together)  # of each coordinate over the frames that hold the other too
    reach = length * length.T
    pair = (samples >= _FEWEST) & (reach > 0)
    np.fill_diagonal(pair, False)
    own = np.kron(np.eye(residual.shape[1]), np.ones((3, 3))) > 0
    if not (pair & ~own).any():
        return None
    products = np.divide(values.T @ values, reach, out=np.zeros_like(reach), where=pair)
    by_chance = np.divide(
        (1 - products**2) ** 2, samples * independent, out=np.zeros_like(reach), where=pair
    ).sum()
    share = min(1.0, by_chance / (products**2).sum()) if products.any() else 1.0
    return _nearest_correlation((1 - share) * products / same + np.eye(len(products)))


def _nearest_correlation(matrix: np.ndarray) -> np.ndarray:
    """A symmetric matrix with ones on its diagonal, made positive semi-definite where gaps left it otherwise."""
    values, vectors = np.linalg.eigh(matrix)
    if values[0] >= 0:
        return matrix
    made = (vectors * np.maximum(values, 0.0)) @ vectors.T
    scale = np.sqrt(np.diag(made))
    return made / np.outer(scale, scale)
