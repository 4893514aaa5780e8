"""Other ways to read low point and attack angle from the same frames, for comparison in the same run.

Each takes time (n,), points (n, 3) m, impact (s) and ball (3,) m, and gives (low_point_ahead_cm, attack_angle_deg).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.interpolate import CubicSpline

from swinglab.conventions import BALL_RADIUS_M


def read_curve(curve: np.ndarray, ball: np.ndarray) -> tuple[float, float]:
    """Low point and attack angle of a densely drawn curve (m, 3), in its order of travel."""
    near = np.linalg.norm(curve - ball, axis=1) < 0.8
    curve = curve[near]
    steps = np.gradient(curve, axis=0)
    steps /= np.linalg.norm(steps, axis=1, keepdims=True)
    ahead = ((ball - curve) * steps).sum(axis=1) - BALL_RADIUS_M
    contact = int(np.argmin(np.abs(ahead)))
    attack = float(np.degrees(np.arcsin(steps[contact, 1])))
    return 100 * float(curve[np.argmin(curve[:, 1]), 0] - ball[0]), attack


def _plane(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    middle = points.mean(axis=0)
    axes = np.linalg.svd(points - middle)[2]
    first, second = axes[0] * np.sign(axes[0, 0] or 1), axes[1] * np.sign(axes[1, 1] or 1)
    return middle, np.array([first, second])


def pre_impact_circle(
    time: np.ndarray, points: np.ndarray, impact: float, ball: np.ndarray
) -> tuple[float, float]:
    """A circle through the last half metre before impact (at least five frames): short, so nearly unbiased."""
    before = points[time < impact]
    count = max(5, int((np.linalg.norm(before - before[-1], axis=1) < 0.5).sum()))
    chosen = before[-count:]
    middle, axes = _plane(before[-max(count, 8) :])
    flat = (chosen - middle) @ axes.T
    x, *_ = np.linalg.lstsq(np.c_[2 * flat, np.ones(len(flat))], (flat**2).sum(axis=1), rcond=None)
    radius = np.sqrt(x[2] + x[:2] @ x[:2])
    start = np.arctan2(*(flat[-1] - x[:2])[::-1])
    way = np.sign(np.cross(np.append(flat[0] - x[:2], 0), np.append(flat[-1] - x[:2], 0))[2])
    angle = start + way * np.linspace(-0.4, 0.6, 4001)
    circle = x[:2] + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return read_curve(middle + circle @ axes, ball)


def two_sided_conic(
    time: np.ndarray, points: np.ndarray, impact: float, ball: np.ndarray
) -> tuple[float, float]:
    """A plane and a conic through both sides of impact, as if the ball had not changed the path."""
    near = points[np.linalg.norm(points - ball, axis=1) < 1.3]
    middle, axes = _plane(near)
    flat = (near - middle) @ axes.T
    x, y = flat.T
    a, b, c, d, e, f = np.linalg.svd(np.c_[x**2, x * y, y**2, x, y, np.ones(len(x))])[2][-1]
    across = np.linspace(x.min(), x.max(), 4001)
    half, rest = b * across + e, a * across**2 + d * across + f
    root = np.sqrt(np.maximum(half**2 - 4 * c * rest, 0.0))
    low, high = sorted(((-half - root) / (2 * c), (-half + root) / (2 * c)), key=lambda v: float(np.mean(v)))
    best = min((low, high), key=lambda v: float(np.abs(np.interp(x, across, v) - y).mean()))
    return read_curve(middle + np.c_[across, best] @ axes, ball)


def parabola(time: np.ndarray, points: np.ndarray, impact: float, ball: np.ndarray) -> tuple[float, float]:
    """Height and sideways place as quadratics of the distance to the target, over the last metre."""
    before = points[time < impact]
    count = max(5, int((np.linalg.norm(before - before[-1], axis=1) < 1.0).sum()))
    chosen = before[-count:]
    x = np.linspace(chosen[:, 0].min(), 0.6, 4001)
    y, z = (np.polyval(np.polyfit(chosen[:, 0], chosen[:, k], 2), x) for k in (1, 2))
    return read_curve(np.c_[x, y, z], ball)


def lowest_frame(
    time: np.ndarray, points: np.ndarray, impact: float, ball: np.ndarray
) -> tuple[float, float]:
    """The frame in which the clubhead is lowest; the attack angle from the two frames before impact."""
    step = np.diff(points[time < impact][-2:], axis=0)[0]
    attack = float(np.degrees(np.arcsin(step[1] / np.linalg.norm(step))))
    return 100 * float(points[np.argmin(points[:, 1]), 0] - ball[0]), attack


def spline(time: np.ndarray, points: np.ndarray, impact: float, ball: np.ndarray) -> tuple[float, float]:
    """A cubic spline in time through every frame, impact or not."""
    curve = CubicSpline(time, points)
    fine = np.linspace(impact - 0.03, impact + 0.03, 6001)
    attack = float(np.degrees(np.arcsin(curve(impact, 1)[1] / np.linalg.norm(curve(impact, 1)))))
    places = curve(fine)
    return 100 * float(places[np.argmin(places[:, 1]), 0] - ball[0]), attack


RIVALS: dict[str, Callable[..., tuple[float, float]]] = {
    "pre-impact circle": pre_impact_circle,
    "two-sided conic": two_sided_conic,
    "parabola": parabola,
    "lowest frame": lowest_frame,
    "spline": spline,
}
