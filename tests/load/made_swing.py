"""A swing by formula, in the study frame, and as a laboratory with any axes would have captured it."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from swinglab.conventions import BALL_RADIUS_M, mirrored_name
from swinglab.records import Capture, FileEvent

CONTACT_S = 1.5
_PELVIS = {
    "asis_left": (-0.12, 0, 0.1), "asis_right": (0.12, 0, 0.1),
    "psis_left": (-0.05, 0.02, -0.1), "psis_right": (0.05, 0.02, -0.1),
}  # fmt: skip
_THORAX = {
    "jugular_notch": (0, 0.15, 0.12), "xiphoid": (0, -0.05, 0.13), "c7": (0, 0.2, -0.08), "t8": (0, -0.02, -0.1),
    "acromion_left": (0.18, 0.16, 0), "acromion_right": (-0.18, 0.16, 0),
}  # fmt: skip
_FEET = {
    "ankle_lateral_left": (0.15, 0.08, -0.6), "ankle_lateral_right": (-0.25, 0.08, -0.62),
    "toe_left": (0.2, 0.03, -0.42),
}  # fmt: skip


def club_angle(time_s: np.ndarray) -> np.ndarray:
    """Angle of the club (rad): still, back through 200 deg, down to 0 at contact, on with 0.8 of the speed."""
    back = -np.radians(200) * (1 - np.cos(np.pi * np.clip((time_s - 0.5) / 0.7, 0, 1))) / 2
    down = np.radians(200) * (np.clip(time_s - 1.2, 0, 0.3) / 0.3) ** 3
    after = 0.8 * np.radians(2000) * 0.2 * (1 - np.exp(-np.clip(time_s - CONTACT_S, 0, None) / 0.2))
    return back + down + after


def truth(rate_hz: float = 240.0, length_s: float = 2.1, *, start_s: float = 0.0004) -> dict[str, np.ndarray]:
    """Landmark -> (n, 3) in the study frame: a right-hander, ball at rest at the origin until contact."""
    time = start_s + np.arange(int(length_s * rate_hz)) / rate_hz
    angle = club_angle(time)
    slope = np.radians(55)
    toward_hub = np.array([0.0, np.sin(slope), -np.cos(slope)])
    rest = np.array([-BALL_RADIUS_M, 0.02, 0.0])
    arc = np.stack([np.sin(angle), 0 * angle, 0 * angle], axis=1) - np.outer(np.cos(angle) - 1, toward_hub)
    points = {"clubhead": rest + arc, "club_butt": rest + toward_hub * 0.95 + 0.1 * arc}
    flight = np.clip(time - CONTACT_S, 0, None)[:, None] * np.array([50.0, 10.0, 1.0])
    points["ball"] = np.array([0.0, BALL_RADIUS_M, 0.0]) + flight
    turn = 0.4 * np.sin(2 * np.pi * time / 1.8)
    body = Rotation.from_euler("YXZ", np.stack([turn, 0.1 * turn, 0.3 * np.cos(2 * time)], axis=1))
    for middle, places in (((0, 0.95, -0.6), _PELVIS), ((0.02, 1.3, -0.5), _THORAX)):
        for name, place in places.items():
            points[name] = body.apply(place) + np.array(middle)
    points |= {name: np.tile(place, (len(time), 1)).astype(float) for name, place in _FEET.items()}
    return points


def as_captured(
    points: dict[str, np.ndarray], *, hand: str = "right", axes: np.ndarray | None = None, ground_m: float = 0.0,
    shift_m: tuple[float, float] = (0.0, 0.0), unit: str = "mm", rate_hz: float = 240.0, prefix: str = "",
    events: tuple[FileEvent, ...] = (), noise_m: float = 0.0, seed: int = 0,
) -> Capture:  # fmt: skip
    """The swing as a file holds it. axes : rows are target, up and their cross product in the file's axes."""
    axes = np.eye(3) if axes is None else axes
    labels = [mirrored_name(name) if hand == "left" else name for name in points]
    made = np.stack(list(points.values()), axis=1)
    made = made * [1, 1, -1 if hand == "left" else 1] + np.array([shift_m[0], ground_m, shift_m[1]])
    made = made + np.random.default_rng(seed).normal(0, noise_m, made.shape) if noise_m else made
    return Capture(
        "made.c3d", tuple(prefix + label for label in labels), made @ axes, rate_hz, events, unit=unit
    )
