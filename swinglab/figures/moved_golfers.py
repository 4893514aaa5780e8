"""Sketch of golfers' means displaced along their own regression lines: a small SVG that can follow a slider."""

from __future__ import annotations

import html

import numpy as np
import pandas as pd
from matplotlib.ticker import MaxNLocator

from swinglab.figures.style import COLOURS, FAINT, GREY

WIDTH, HEIGHT = 560.0, 400.0
LEFT, RIGHT, TOP, BOTTOM = 64.0, 12.0, 46.0, 52.0


def sketch_moved_golfers(golfers: pd.DataFrame, moved: float, *, posture: str, outcome: str) -> str:
    """Return an SVG sketch of golfers before and after the same change of posture, as predicted by their own slopes.

    Parameters
    ----------
    golfers : pandas.DataFrame
        One row for each golfer, with the columns golfer, posture and outcome (means), half_range (half the range of the
        posture) and slope (outcome units per unit of the posture).
    moved : float
        Change of posture, the same for every golfer, in its unit.
    posture, outcome : str
        Axis labels, with units.

    Returns
    -------
    str
        An SVG element. Open circle: mean of a golfer as measured. Filled circle: after the change. Short line: the
        golfer's own regression line over the range of the golfer's swings. Dashed line: regression through the means.
    """
    x, y, slope, reach = (
        golfers[name].to_numpy(float) for name in ("posture", "outcome", "slope", "half_range")
    )
    ends = np.array([x - reach, x + reach]), np.array([y - slope * reach, y + slope * reach])
    across = _Scale(ends[0], LEFT, WIDTH - RIGHT)
    up = _Scale(ends[1], HEIGHT - BOTTOM, TOP)
    parts = [*_axes(across, up, posture, outcome)]
    for a, b in zip(ends[0].T, ends[1].T, strict=True):
        parts.append(_line(across(a), up(b), f'stroke="{FAINT}" stroke-width="2"'))
    line = np.polynomial.polynomial.polyfit(x, y, 1)
    means = np.array([x.min(), x.max()])
    parts.append(_line(across(means), up(line[0] + line[1] * means), 'stroke="black" stroke-dasharray="7 5"'))
    after = x + moved, y + slope * moved
    for k, name in enumerate(golfers["golfer"].astype(str)):
        here, there = (across(x[k]), up(y[k])), (across(after[0][k]), up(after[1][k]))
        parts.append(
            f'<circle cx="{here[0]:.1f}" cy="{here[1]:.1f}" r="5" fill="none" stroke="{GREY}" stroke-width="1.5"/>'
            f'<circle cx="{there[0]:.1f}" cy="{there[1]:.1f}" r="5" fill="{COLOURS[0]}">'
            f"<title>{html.escape(name)}</title></circle>"
        )
    label = html.escape(f"{outcome} against {posture}: {len(golfers)} golfers, each moved by {moved:+.1f}.")
    return (
        f'<svg role="img" aria-label="{label}" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" style="width: 100%; '
        f'max-width: {WIDTH:.0f}px; background: white" font-size="13" fill="{GREY}">{"".join(parts)}</svg>'
    )


class _Scale:
    """Scale from values to pixels, with ticks at round values; both ends of the scale are ticks."""

    def __init__(self, values: np.ndarray, first: float, last: float) -> None:
        self.ticks = np.array(MaxNLocator(6).tick_values(float(values.min()), float(values.max())))
        self.first, self.last = first, last

    def __call__(self, values: np.ndarray | float) -> np.ndarray:
        return np.asarray(np.interp(values, self.ticks[[0, -1]], [self.first, self.last]))


def _number(tick: float) -> str:
    return f"{tick:g}".replace("-", "−")


def _line(x: np.ndarray, y: np.ndarray, look: str) -> str:
    return f'<line x1="{x[0]:.1f}" x2="{x[1]:.1f}" y1="{y[0]:.1f}" y2="{y[1]:.1f}" {look}/>'


def _axes(across: _Scale, up: _Scale, posture: str, outcome: str) -> list[str]:
    """Return SVG elements of the axes with ticks and labels, and of the legend."""
    floor, middle = HEIGHT - BOTTOM, (LEFT + WIDTH - RIGHT) / 2
    parts = [
        '<text x="4" y="16">&#9675; mean as measured  &#9679; moved  - - line through the means</text>',
        f'<text x="{LEFT:.0f}" y="36" font-weight="bold">{html.escape(outcome)}</text>',
        f'<text x="{middle:.0f}" y="{HEIGHT - 8:.0f}" text-anchor="middle" font-weight="bold">'
        f"{html.escape(posture)}</text>",
        f'<path d="M {LEFT} {TOP} V {floor} H {WIDTH - RIGHT}" fill="none" stroke="{GREY}"/>',
    ]
    for tick in across.ticks:
        parts.append(
            f'<text x="{across(tick):.1f}" y="{floor + 18:.0f}" text-anchor="middle">{_number(tick)}</text>'
        )
    for tick in up.ticks:
        parts.append(
            f'<text x="{LEFT - 8:.0f}" y="{up(tick) + 5:.1f}" text-anchor="end">{_number(tick)}</text>'
        )
    return parts
