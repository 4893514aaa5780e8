"""Simulated measurement errors: noise, marker placement, soft tissue, gaps and exchanged labels."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.simulate.linkage import move
from swinglab.simulate.swing import Swing, with_points

#: Segments with marker placement errors, and the frame to which the errors are fixed.
CARRIED = {"pelvis": "pelvis", "thorax": "thorax"}
#: SD of the Gaussian kernel that smooths the motion of soft tissue, s.
WOBBLE_S = 0.05


@dataclass(frozen=True, slots=True)
class Disturbance:
    """Sizes of the simulated measurement errors.

    noise_mm : SD of the noise of one coordinate. placement_mm : SD of the placement error of one coordinate of a bony
    landmark of pelvis and thorax; the error is constant in a session. soft_tissue_mm : SD of the slow motion of body
    markers relative to bone. gaps : number of gaps in a capture, each of one body marker and up to longest_gap_s long.
    swaps : number of periods of length swap_s in which the labels of two body markers are exchanged.
    """

    noise_mm: float = 0.4
    placement_mm: float = 3.0
    soft_tissue_mm: float = 1.5
    gaps: int = 0
    longest_gap_s: float = 0.04
    swaps: int = 0
    swap_s: float = 0.05


def draw_placement(random: np.random.Generator, disturbance: Disturbance) -> dict[str, np.ndarray]:
    """Return random placement errors for one session: landmark -> (3,), m, in the axes of its segment."""
    return {
        name: random.normal(0.0, disturbance.placement_mm / 1000, 3)
        for segment in CARRIED
        for name in SEGMENT_LANDMARKS[segment]
    }


def disturb(
    swing: Swing, disturbance: Disturbance, placement: Mapping[str, np.ndarray], *, seed: int | np.random.SeedSequence
) -> Swing:  # fmt: skip
    """Return a swing with measurement errors added to its captured points; its true values do not change.

    `placement` : result of `draw_placement`. Ball and club have no gaps. Missing samples are NaN.
    """
    random = np.random.default_rng(seed)
    pose = move(swing.mover, swing.start_s + swing.time_s)
    frames = {"pelvis": pose.pelvis, "thorax": pose.thorax}
    segment_of = {name: s for s, names in SEGMENT_LANDMARKS.items() for name in names}
    points = {}
    for name, exact in swing.exact.items():
        moved = exact.copy()
        segment = segment_of.get(name)
        if name in placement and segment in CARRIED:
            moved += frames[CARRIED[segment]] @ placement[name]
        if segment is not None and disturbance.soft_tissue_mm > 0:
            moved += _wobble(random, len(moved), swing.rate_hz) * disturbance.soft_tissue_mm / 1000
        points[name] = moved + random.normal(0.0, disturbance.noise_mm / 1000, moved.shape)
    body = [name for name in points if name in segment_of and not name.startswith("hip_")]
    for _ in range(disturbance.swaps):
        first, second = random.choice(len(body), 2, replace=False)
        span = _span(random, len(swing.time_s), int(disturbance.swap_s * swing.rate_hz))
        a, b = points[body[first]], points[body[second]]
        a[span], b[span] = b[span].copy(), a[span].copy()
    for _ in range(disturbance.gaps):
        name = body[random.integers(len(body))]
        length = random.integers(2, max(3, int(disturbance.longest_gap_s * swing.rate_hz)))
        points[name][_span(random, len(swing.time_s), int(length))] = np.nan
    return with_points(swing, points, disturbance.noise_mm / 1000)


def _span(random: np.random.Generator, n: int, length: int) -> slice:
    start = int(random.integers(1, max(2, n - length - 1)))
    return slice(start, start + max(1, length))


def _wobble(random: np.random.Generator, n: int, rate_hz: float) -> np.ndarray:
    """Slow random motion (n, 3) with unit standard deviation."""
    width = WOBBLE_S * rate_hz
    white = random.standard_normal((n + 200, 3))
    slow = gaussian_filter1d(white, width, axis=0)[100 : n + 100]
    return slow * np.sqrt(2 * np.sqrt(np.pi) * width)
