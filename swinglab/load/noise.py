"""How much landmarks shake, and how much they shake together: the noise of the coordinates in `raw_m`.

Body points tell it by what smoothing took off; points of club and ball, which are not smoothed, by their sixth
differences, and so do body points that are smoothed more than their motion allows. Of a body that stands still what
is faster than its sway counts too: tremor. Markers that the same cameras see
share part of their error, and a camera system errs more along one axis than along another; a mean of markers then
errs by more, the line between two of them by less, than independent noise would make it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import NamedTuple

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.load.smoothing import sway_gain
from swinglab.signals import gain, noise_from_differences, robust_sd

#: Of a body that stands still only jumps are left out: what chance does not bring in a thousand samples.
_NO_JUMP, _SQUARE_NO_JUMP = 4.0, 0.9989
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
        (n_frames, k, 3) `sway` of a body that stands still. Above STILL_HZ noise is then all that smoothing leaves,
        in the frequencies in which posture's errors lie, below as large as what it takes off; else that alone.

    Returns
    -------
    MarkerNoise
        sd_m is NaN for landmarks with too few samples. Club and ball are independent of all.

    Notes
    -----
    Correlations are those of the residuals in the frames that are not exceptional, each residual clipped, so that
    the motion which is left in the downswing's residual makes none. They are not shrunk toward none: the variance that
    they give of any sum is then right in the mean, in few frames as in many, and scatters as that of any one
    coordinate does, however many coordinates are summed.
    """
    by_name = {name: cutoff_hz[s] for s, own in SEGMENT_LANDMARKS.items() if s in cutoff_hz for name in own}
    body = np.array([name in by_name for name in names], dtype=bool)
    # A body that stands still has no motion to take off.
    differ = {name for segment in too_low if slow is None for name in SEGMENT_LANDMARKS[segment]}
    bands = {cutoff: _bands(rate_hz, cutoff) for cutoff in set(by_name.values())}
    taken_off = np.where(used[..., None], raw - smoothed, np.nan)
    fast = None if slow is None else np.where(used[..., None], smoothed - slow, np.nan)
    by_axis = np.full((len(names), 3), np.nan)
    for k, name in enumerate(names):
        if name not in by_name or name in differ:
            by_axis[k] = noise_from_differences(np.where(used[:, k, None], raw[:, k], np.nan))
            continue
        by_axis[k] = spread_of_residual(taken_off[:, k], bands[by_name[name]].taken)
        if fast is not None:
            by_axis[k] = _with_tremor(by_axis[k], fast[:, k], bands[by_name[name]])
    sd = np.sqrt(np.mean(by_axis**2, axis=1))
    known = np.flatnonzero(body & (sd > 0))
    if len(known) < 2:
        return MarkerNoise(sd, None, ())
    residual = taken_off if fast is None else fast
    kept = [bands[by_name[names[k]]] for k in known]
    same = _alike(np.stack([band.taken if fast is None else band.fast for band in kept]))
    correlation = _correlation(residual[:, known], np.kron(same, np.ones((3, 3))))
    if correlation is None:
        told = (
            f"no two body points are seen together in {_FEWEST} frames: their noise is taken as independent",
        )
        return MarkerNoise(sd, None, told)
    ratio = by_axis[known] / sd[known, None]
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
    return robust_sd(residual) / np.sqrt(np.mean(taken**2))


def doubt_noise(noise_m: np.ndarray) -> list[str]:
    """A sentence where most points shake less than any measurement does."""
    seen = noise_m[np.isfinite(noise_m)]
    if not len(seen) or np.median(seen) >= _SMOOTHED_M:
        return []
    return [
        f"the points shake by {1000 * np.median(seen):.1g} mm only: they were smoothed before (or made without noise), "
        "so standard errors from noise say too little"
    ]


class _Bands(NamedTuple):
    """Gain from noise to what smoothing takes off, to what it leaves, and to what of that is faster than sway; at
    frequencies that stand for all up to half the rate."""

    taken: np.ndarray
    left: np.ndarray
    fast: np.ndarray


def _bands(rate_hz: float, cutoff_hz: float) -> _Bands:
    frequencies = (np.arange(400) + 0.5) / 800 * rate_hz
    left = gain(rate_hz, cutoff_hz, frequencies)
    return _Bands(1 - left, left, left * (1 - sway_gain(rate_hz, frequencies)))


def _with_tremor(white: np.ndarray, fast: np.ndarray, bands: _Bands) -> np.ndarray:
    """(3,) white noise of which smoothing leaves as much as it leaves of a still landmark's noise and tremor.

    fast : (n_frames, 3) what of the smoothed landmark is faster than sway.

    Tremor is noise above STILL_HZ only: what of it is slower cannot be told from sway, which is posture.
    """
    fast = fast[np.isfinite(fast).all(axis=1)]
    if len(fast) < _FEWEST:
        return np.full(3, np.nan)
    shaken = robust_sd(fast, _NO_JUMP, _SQUARE_NO_JUMP)
    left, above = np.mean(bands.left**2), np.mean(bands.fast**2)
    return np.sqrt((shaken**2 + white**2 * (left - above)) / left)


def _alike(taken: np.ndarray) -> np.ndarray:
    """(k, k) correlation of residuals with these gains, (k, frequencies), where their noise is the same."""
    amplitude = taken / np.linalg.norm(taken, axis=1, keepdims=True)
    return amplitude @ amplitude.T


def _correlation(residual: np.ndarray, same: np.ndarray) -> np.ndarray | None:
    """(3k, 3k) correlation of the coordinates' noise from residuals (n, k, 3); None where no two are seen together.

    same : as `_alike` gives it, coordinate by coordinate.
    """
    values = residual.reshape(len(residual), -1)
    seen, scale = np.isfinite(values), robust_sd(values)
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
    return _nearest_correlation(products / same + np.eye(len(products)))


def _nearest_correlation(matrix: np.ndarray) -> np.ndarray:
    """A symmetric matrix with ones on its diagonal, made positive semi-definite where gaps left it otherwise."""
    values, vectors = np.linalg.eigh(matrix)
    if values[0] >= 0:
        return matrix
    made = (vectors * np.maximum(values, 0.0)) @ vectors.T
    scale = np.sqrt(np.diag(made))
    return made / np.outer(scale, scale)
