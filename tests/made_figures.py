"""A made figure that swings a club: enough to try what draws swings, without measuring anything."""

from __future__ import annotations

import numpy as np

from swinglab import conventions
from swinglab.records import Event, Events, Posture, Setup, Trial

RATE_HZ = 240.0

#: Where a right-hander's landmarks stand at address, metres in the study frame: (x, y, z).
_STANDING = {
    "asis": (0.12, 1.0, -0.70), "psis": (0.06, 1.02, -0.90), "acromion": (0.20, 1.38, -0.62),
    "elbow_lateral": (0.22, 1.08, -0.46), "elbow_medial": (0.14, 1.08, -0.46),
    "wrist_radial": (0.06, 0.86, -0.32), "wrist_ulnar": (0.03, 0.84, -0.34), "hand": (0.03, 0.80, -0.28),
    "knee_lateral": (0.22, 0.52, -0.70), "knee_medial": (0.12, 0.52, -0.70),
    "ankle_lateral": (0.24, 0.09, -0.86), "ankle_medial": (0.16, 0.10, -0.86), "heel": (0.20, 0.03, -0.92),
    "toe": (0.22, 0.03, -0.66), "head_front": (0.07, 1.62, -0.40), "head_back": (0.07, 1.66, -0.60),
}  # fmt: skip
_MIDDLE = {
    "sacrum": (0, 1.03, -0.91), "jugular_notch": (0, 1.36, -0.56), "xiphoid": (0, 1.18, -0.60),
    "c7": (0, 1.44, -0.66), "t8": (0, 1.24, -0.76),
}  # fmt: skip
_FEET = ("ankle", "heel", "toe", "knee")
EVENT_TIMES = {
    "address": 0.5,
    "takeaway": 0.7,
    "top": 1.5,
    "shaft_horizontal_down": 1.68,
    "impact": 1.75,
    "finish": 2.3,
}


def made_trial(swing: str = "made", *, hand: str = "right", n_frames: int = 600, phase: float = 0.0) -> Trial:
    """A trial of 44 landmarks whose upper body and club turn about an upright axis through the hips."""
    time = np.arange(n_frames) / RATE_HZ
    turn = np.radians(np.interp(time, [0.7, 1.5, 1.75, 2.3], [0.0, -90.0, 25.0, 100.0])) + phase
    names, rows = [], []
    for name in conventions.MARKER_LANDMARKS:
        stem, _, side = name.rpartition("_")
        x, y, z = _MIDDLE[name] if name in _MIDDLE else _STANDING[stem]
        x = -x if side == "right" and name not in _MIDDLE else x
        still = name.startswith(_FEET)
        names.append(name)
        rows.append(
            _turned(np.array([x, y, z], float), turn * (0.0 if still else 0.5 if "sis" in name else 1.0))
        )
    hands = np.mean([rows[names.index(f"hand_{side}")] for side in ("left", "right")], axis=0)
    swung = np.stack([np.sin(2 * turn), -np.cos(2 * turn), 0.5 * np.cos(2 * turn)], axis=1)
    for share, name in ((-0.1, "club_butt"), (0.3, "club_shaft_1"), (0.9, "club_hosel"), (1.0, "clubhead")):
        names.append(name)
        rows.append(hands + share * 0.75 * swung)
    points = np.stack(rows, axis=1)
    return Trial(
        swing=swing, golfer="G01", file=f"captures/{swing}.c3d", hand=hand, kind="markers", rate_hz=RATE_HZ,
        time_s=time, landmarks=tuple(names), points_m=points, raw_m=points, filled=np.zeros(points.shape[:2], bool),
        noise_m=np.full(len(names), np.nan), setup=Setup(), ball_m=np.array([0.0, 0.02, 0.0]), ball_method="study",
    )  # fmt: skip


def _turned(point: np.ndarray, angle: np.ndarray) -> np.ndarray:
    """A point turned about the upright line through the hips, opening to the target with positive angles."""
    x, z = point[0], point[2] + 0.8
    sine, cosine = np.sin(angle), np.cos(angle)
    return np.stack(
        [cosine * x + sine * z, np.full(len(angle), point[1]), -sine * x + cosine * z - 0.8], axis=1
    )


def made_events(trial: Trial) -> Events:
    """The events that the made figure's turn was made of; the others missing, with a reason."""
    events = tuple(
        Event(name, EVENT_TIMES.get(name, np.nan), 0.001, "made", "" if name in EVENT_TIMES else "not made")
        for name in conventions.EVENTS
    )
    return Events(trial.swing, trial.golfer, trial.rate_hz, events)


def made_posture(trial: Trial, *, tilt_deg: float = 20.0) -> Posture:
    """A thorax that leans to the trail side by a known angle, about a centre between its markers."""
    n = len(trial.time_s)
    angle = np.radians(tilt_deg)
    # Columns are the segment's axes: forward (to the ball), up, trail side; the trail side lower by the tilt.
    forward = np.array([0.0, 0.0, 1.0])
    side = np.array([-np.cos(angle), -np.sin(angle), 0.0])
    frame = np.stack([forward, np.cross(side, forward), side], axis=1)
    centre = np.mean([trial.point(name) for name in ("c7", "jugular_notch", "xiphoid", "t8")], axis=0)
    values = np.tile([tilt_deg, 0.0, 100.0 * 0.3], (n, 1))
    return Posture(
        trial.swing, trial.golfer, trial.hand, trial.kind, trial.time_s,
        ("thorax_lateral_flexion_deg", "thorax_axial_rotation_deg", "thorax_centre_toward_target_cm"),
        values, np.zeros_like(values), methods={}, rotations={"thorax": np.tile(frame, (n, 1, 1))},
        centres_m={"thorax": centre},
    )  # fmt: skip
