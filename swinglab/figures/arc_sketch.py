"""Sketch of the lowest part of the swing arc, seen face-on: a small SVG that can follow a slider."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from swinglab.conventions import BALL_RADIUS_M
from swinglab.figures.style import COLOURS, GREY

#: Limits of the sketch (cm): along the target line from the ball, and height above the turf.
LEFT, RIGHT, BOTTOM, TOP = -35.0, 45.0, -4.0, 8.0
#: Pixels for 1 cm of length, and factor by which heights are enlarged.
PIXELS, TALLER = 8.0, 2.5
#: Outcomes that a sketch is drawn from.
DRAWN = ("low_point_ahead_cm", "low_point_height_cm", "arc_radius_m", "arc_plane_inclination_deg")


def sole_height(outcomes: Mapping[str, float], x_cm: np.ndarray) -> np.ndarray:
    """Return the height of the sole above the turf (n,), cm, near the low point.

    `outcomes` : name -> value of the quantities in `DRAWN` for a swing. `x_cm` : (n,) positions along the
    target line from the ball, positive toward the target. The path is assumed to be a circle in an inclined
    plane.

    Examples
    --------
    >>> arc = {"low_point_ahead_cm": 10.0, "low_point_height_cm": -1.0, "arc_radius_m": 1.4,
    ...        "arc_plane_inclination_deg": 60.0}
    >>> sole_height(arc, np.array([10.0, 0.0])).round(2).tolist()
    [-1.0, -0.69]
    """
    radius = 100 * outcomes["arc_radius_m"]
    off = np.clip((np.asarray(x_cm, dtype=float) - outcomes["low_point_ahead_cm"]) / radius, -1.0, 1.0)
    rise = radius * np.sin(np.radians(outcomes["arc_plane_inclination_deg"])) * (1 - np.sqrt(1 - off**2))
    return outcomes["low_point_height_cm"] + rise


def sketch_arcs(arcs: Sequence[tuple[str, Mapping[str, float]]]) -> str:
    """Return an SVG sketch of the path of the sole, low point, turf and ball of one or two swings.

    Parameters
    ----------
    arcs : sequence of (str, mapping)
        For each swing, the text of the legend, and name -> value of the quantities in `DRAWN`. The last swing is drawn
        in front.

    Returns
    -------
    str
        An SVG element; it contains its numbers as text, for screen readers. The target is to the right.
    """
    width, height = PIXELS * (RIGHT - LEFT), PIXELS * TALLER * (TOP - BOTTOM)
    parts = [
        f'<rect x="0" y="{_y(0):.0f}" width="{width:.0f}" height="{height - _y(0):.0f}" fill="#e8efe0"/>',
        f'<line x1="0" x2="{width:.0f}" y1="{_y(0):.1f}" y2="{_y(0):.1f}" stroke="{GREY}"/>',
        f'<text x="4" y="{_y(0) + 16:.0f}" font-size="13" fill="{GREY}">turf</text>',
        f'<text x="{width - 70:.0f}" y="16" font-size="13" fill="{GREY}">target &#8594;</text>',
        _ball(),
    ]
    looks = [(GREY, "6 4"), (COLOURS[0], "")][-len(arcs) :] if len(arcs) < 3 else []
    words = []
    for number, ((name, outcomes), (colour, dashes)) in enumerate(zip(arcs, looks, strict=True)):
        x = np.linspace(LEFT, RIGHT, 81)
        y = sole_height(outcomes, x)
        line = " ".join(f"{_x(a):.1f},{_y(b):.1f}" for a, b in zip(x, y, strict=True) if b < TOP + 2)
        low = outcomes["low_point_ahead_cm"], outcomes["low_point_height_cm"]
        parts.append(
            f'<polyline points="{line}" fill="none" stroke="{colour}" stroke-width="2.5" stroke-dasharray="{dashes}"/>'
        )
        parts.append(
            f'<path d="M {_x(low[0]) - 6:.1f} {_y(low[1]) + 12:.1f} l 12 0 l -6 -11 z" fill="{colour}"/>'
        )
        caption = f"{name}: low point {low[0]:+.1f} cm along, {low[1]:+.1f} cm high".replace(
            "-", "\N{MINUS SIGN}"
        )
        parts.append(
            f'<text x="60" y="{16 + 17 * number}" font-size="13" fill="{colour}">'
            f"{'- -' if dashes else '&#8212;'} {caption}</text>"
        )
        words.append(caption)
    label = "Height of the sole along the target line. " + ". ".join(words)
    note = "heights are drawn 2.5 times as large as lengths; triangle: low point"
    parts.append(f'<text x="60" y="{height - 8:.0f}" font-size="12" fill="{GREY}">{note}</text>')
    return (
        f'<svg role="img" aria-label="{label}" viewBox="0 0 {width:.0f} {height:.0f}" style="width: 100%; '
        f'max-width: {width:.0f}px; background: white">{"".join(parts)}</svg>'
    )


def _ball() -> str:
    radius = 100 * BALL_RADIUS_M
    return (
        f'<ellipse cx="{_x(0):.1f}" cy="{_y(radius):.1f}" rx="{PIXELS * radius:.1f}" '
        f'ry="{PIXELS * TALLER * radius:.1f}" fill="white" stroke="{GREY}" stroke-width="1.5"/>'
    )


def _x(cm: float) -> float:
    return PIXELS * (cm - LEFT)


def _y(cm: float) -> float:
    return PIXELS * TALLER * (TOP - cm)
