"""A golfer of sticks, built without the package: trunk, limbs and a lever that swings a club through a ball.

Right-handed axes in metres: x to the target, y up, z from the golfer to the ball's side; origin on the turf under the
ball. Body lengths are shares of stature after Drillis and Contini (1966); the motion is a judgement, good enough to ask
where things are and which way they go.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd


@dataclass(frozen=True)
class Shot:
    """A kind of shot: clubhead speed (m/s), how far the lever goes back (deg)."""

    speed: float
    back_deg: float


SHOTS = {
    "driver": Shot(48.0, 150.0), "iron": Shot(36.0, 140.0), "half": Shot(22.0, 80.0), "chip": Shot(9.0, 40.0),
    "putt": Shot(1.6, 14.0),
}  # fmt: skip


def _ramp(t: np.ndarray, start: float, end: float) -> np.ndarray:
    """0 before start, 1 after end, smooth between."""
    part = np.clip((t - start) / (end - start), 0.0, 1.0)
    return part * part * (3 - 2 * part)


def lever_angle(t: np.ndarray, shot: Shot, lever_m: float, *, strikes: bool = True) -> np.ndarray:
    """(n,) rad from the ball, negative going back; impact at t = 0; the ball takes a fifth of the speed."""
    far, speed = np.deg2rad(shot.back_deg), shot.speed / lever_m
    down = 2 * far / speed
    back = 0.8
    angle = -far * _ramp(t, -down - back, -down)
    falling = t > -down
    angle[falling] = -far + 0.5 * speed / down * (t[falling] + down) ** 2
    through = t > 0
    after = (0.8 if strikes else 1.0) * speed
    stop = 2 * far / after
    done = np.minimum(t[through], stop)
    angle[through] = after * (done - done**2 / (2 * stop))
    return angle


def _turned(points: np.ndarray, angle: np.ndarray, about: np.ndarray) -> np.ndarray:
    """Points (k, 3) about a vertical axis through `about`, by angles (n,): opening to the target is positive."""
    c, s = np.cos(angle)[:, None], np.sin(angle)[:, None]
    x, y, z = (points - about).T
    return (
        np.stack([x * c + z * s, np.broadcast_to(y, (len(angle), len(x))), -x * s + z * c], axis=-1) + about
    )


def swing(
    shot: str = "iron", *, stature: float = 1.75, hand: str = "right", open_deg: float = 0.0, rate_hz: float = 240.0,
    noise_m: float = 0.0005, seed: int = 0, strikes: bool = True, before_s: float = 2.0, after_s: float = 0.7,
) -> tuple[np.ndarray, dict[str, np.ndarray]]:  # fmt: skip
    """Times (n,) from impact and landmark -> (n, 3)."""
    s = stature
    t = np.arange(-before_s, after_s, 1 / rate_hz)
    kind = SHOTS[shot]
    at: dict[str, np.ndarray] = {}
    reach = 0.42 * s  # from the ball to the middle of the feet
    middle = np.array([0.05 * s, 0.0, -reach])
    pelvis = middle + np.array([0.0, 0.52 * s, -0.05 * s])
    bend = np.deg2rad(32.0)
    along = np.array([0.0, np.cos(bend), np.sin(bend)])
    ahead = np.array([0.0, -np.sin(bend), np.cos(bend)])
    side = np.array([1.0, 0.0, 0.0])
    neck = pelvis + 0.29 * s * along
    trunk = {
        "acromion_left": neck + 0.105 * s * side, "acromion_right": neck - 0.105 * s * side,
        "jugular_notch": neck + 0.04 * s * ahead - 0.02 * s * along, "c7": neck - 0.035 * s * ahead + 0.02 * s * along,
        "xiphoid": neck + 0.05 * s * ahead - 0.12 * s * along, "t8": neck - 0.05 * s * ahead - 0.12 * s * along,
    }  # fmt: skip
    hips = {
        f"{stem}_{name}": pelvis + sign * wide * s * side + fore * 0.05 * s * ahead
        for name, sign in (("left", 1), ("right", -1))
        for stem, wide, fore in (("asis", 0.07, 1), ("psis", 0.025, -1))
    }
    head = neck + 0.09 * s * along
    skull = {
        f"head_{where}_{name}": head + sign * 0.04 * s * side + fore * 0.05 * s * ahead
        for name, sign in (("left", 1), ("right", -1))
        for where, fore in (("front", 1), ("back", -1))
    }
    ball = np.array([0.0, 0.021335, 0.0])
    hub = trunk["acromion_left"]
    lever = float(np.linalg.norm(hub - ball))
    angle = lever_angle(t, kind, lever, strikes=strikes)
    opened = np.deg2rad(open_deg)
    for points, share, start in ((trunk, 0.6, opened), (hips, 0.3, opened), (skull, 0.1, 0.0)):
        moved = _turned(np.array(list(points.values())), start + share * angle, pelvis)
        at |= {name: moved[:, k] for k, name in enumerate(points)}
    for name, sign in (("left", 1), ("right", -1)):
        foot = middle + np.array([sign * 0.13 * s, 0.0, 0.0])
        places = {
            "ankle_lateral": (0.02, 0.04, 0.0), "ankle_medial": (-0.02, 0.04, 0.0), "heel": (0.0, 0.02, -0.05),
            "toe": (0.02, 0.02, 0.09), "knee_lateral": (0.02, 0.283, 0.04), "knee_medial": (-0.03, 0.283, 0.04),
        }  # fmt: skip
        leg = {
            f"{stem}_{name}": foot + s * np.array([sign * across, up, fore])
            for stem, (across, up, fore) in places.items()
        }
        fixed = _turned(np.array(list(leg.values())), np.full(len(t), opened), middle)
        at |= {key: fixed[:, k] for k, key in enumerate(leg)}
    shoulder = at["acromion_left"]
    down = ball - shoulder[np.argmin(np.abs(t))]
    down = down / np.linalg.norm(down)
    out = side - (side @ down) * down
    out /= np.linalg.norm(out)
    points = np.cos(angle)[:, None] * down + np.sin(angle)[:, None] * out
    lever = float(np.linalg.norm(ball - shoulder[np.argmin(np.abs(t))]))
    at["clubhead"] = shoulder + lever * points - [0.021335, 0.0, 0.0]
    hands = shoulder + 0.36 * s * points
    at["club_butt"] = shoulder + 0.33 * s * points
    at["club_shaft_1"] = shoulder + 0.6 * lever * points - [0.0128, 0.0, 0.0]
    _arms(at, hands, s, t)
    at["ball"] = ball + np.where(t > 0, 1.2 * kind.speed * t, 0.0)[:, None] * np.array([0.95, 0.3, 0.0])
    random = np.random.default_rng(seed)
    at = {name: path + random.normal(0, noise_m, path.shape) for name, path in at.items()}
    return t, left_handed(at) if hand == "left" else at


def _arms(at: dict[str, np.ndarray], hands: np.ndarray, s: float, t: np.ndarray) -> None:
    """Straight lead arm; the trail arm bends at the elbow, its wrist as near to the hands as it reaches."""
    upper, fore = 0.186 * s, 0.146 * s
    for name, start in (("left", at["acromion_left"]), ("right", at["acromion_right"])):
        way = hands - start
        far = np.linalg.norm(way, axis=1, keepdims=True)
        way = way / far
        far = np.clip(far, 0.1 * s, upper + fore - 1e-6)
        share = (far**2 + upper**2 - fore**2) / (2 * far)
        # The elbow points backwards; its axis runs across the plane in which it bends.
        off = np.array([0.0, -0.2, -1.0]) - (way @ [0.0, -0.2, -1.0])[:, None] * way
        off /= np.linalg.norm(off, axis=1, keepdims=True)
        elbow = start + share * way + np.sqrt(np.maximum(upper**2 - share**2, 0)) * off
        wrist = start + far * way
        outward = np.cross(way, off) * (1 if name == "left" else -1)
        at[f"elbow_lateral_{name}"], at[f"elbow_medial_{name}"] = (
            elbow + 0.02 * s * outward,
            elbow - 0.02 * s * outward,
        )
        at[f"wrist_radial_{name}"], at[f"wrist_ulnar_{name}"] = (
            wrist + 0.015 * s * outward,
            wrist - 0.015 * s * outward,
        )
        at[f"hand_{name}"] = wrist + 0.04 * s * way


def left_handed(at: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The mirror image: z turned, left and right exchanged; the target stays."""

    def other(name: str) -> str:
        for side, opposite in (("_left", "_right"), ("_right", "_left")):
            if name.endswith(side):
                return name.removesuffix(side) + opposite
        return name

    return {other(name): path * [1.0, 1.0, -1.0] for name, path in at.items()}


def to_lab(at: dict[str, np.ndarray], *, scale: float = 1000.0) -> dict[str, np.ndarray]:
    """In a laboratory whose +Z is up and +X the target: millimetres."""
    return {
        name: scale * np.stack([path[:, 0], -path[:, 2], path[:, 1]], axis=1) for name, path in at.items()
    }


def pose_table(t: np.ndarray, at: dict[str, np.ndarray]) -> pd.DataFrame:
    """A wide table of the laboratory's points, time from the first frame."""
    columns: dict[str, np.ndarray] = {"time_s": t - t[0]}
    for name, path in at.items():
        columns |= {f"{name}_{axis}": path[:, k] for k, axis in enumerate("xyz")}
    return pd.DataFrame(columns)
