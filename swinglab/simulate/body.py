"""Body of a simulated golfer: segment lengths from stature, and positions of bony landmarks in their segments.

Lengths are the fractions of stature of Drillis & Contini (1966), as in Winter (2009). Hip joints are where Harrington
et al. (2007) predict them from width and depth of the pelvis and leg length. Local coordinates are ISB segment axes
(x forward, y up, z to the right, the trail side of a right-hander). They are chosen so that the axes of pelvis (Wu et
al. 2002) and thorax (Wu et al. 2005) computed from the landmarks are exactly those of the simulated segments.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swinglab.errors import BadRequest


@dataclass(frozen=True, slots=True)
class Body:
    """Segment lengths and widths of a simulated golfer in metres, computed from stature.

    `shoulder_spacing` is the distance of the joint centres (0.20 to 0.21 of stature), smaller than the breadth of the
    shoulders. This fraction, and those for pelvis width and depth, trunk pivot and hand, are assumptions of swinglab
    without a published source. mass_kg : body mass. sex : "male" or "female".
    """

    stature_m: float = 1.76
    sex: str = "male"
    mass_kg: float = 76.0

    def __post_init__(self) -> None:
        if not 1.2 <= self.stature_m <= 2.3:
            raise BadRequest(
                f"stature_m is {self.stature_m}, but a golfer can be simulated for 1.2 to 2.3 m only",
                do="give the stature in metres",
            )

    def of(self, fraction: float) -> float:
        """Return the length (m) that is this fraction of stature."""
        return fraction * self.stature_m

    @property
    def upper_arm(self) -> float:
        """Length of the upper arm, from shoulder to elbow centre, m."""
        return self.of(0.186)

    @property
    def forearm(self) -> float:
        """Length of the forearm, from elbow to wrist centre, m."""
        return self.of(0.146)

    @property
    def hand(self) -> float:
        """Distance from the wrist centre to the middle of the grip, m (an assumption; a hand is 0.108 of stature)."""
        return self.of(0.038)

    @property
    def thigh(self) -> float:
        """Length of the thigh, from hip to knee centre, m."""
        return self.of(0.245)

    @property
    def shank(self) -> float:
        """Length of the shank, from knee to ankle centre, m."""
        return self.of(0.246)

    @property
    def ankle_height(self) -> float:
        """Height of the ankle centre above the sole of the foot, m."""
        return self.of(0.039)

    @property
    def foot(self) -> float:
        """Length of the foot, from heel to tip, m."""
        return self.of(0.152)

    @property
    def shoulder_spacing(self) -> float:
        """Distance between the shoulder joint centres, m."""
        return self.of(0.205)

    @property
    def pelvis_width(self) -> float:
        """Distance between the anterior superior iliac spines (ASIS), m."""
        return self.of(0.140)

    @property
    def pelvis_depth(self) -> float:
        """Distance between the mid-points of the anterior (ASIS) and posterior (PSIS) superior iliac spines, m."""
        return self.of(0.088)

    @property
    def hip_offset(self) -> np.ndarray:
        """Vector (3,), m, from mid-ASIS to the trail hip centre (Harrington et al. 2007).

        In the axes of the pelvis: forward, up, to the trail side.
        """
        depth, width = 1000 * self.pelvis_depth, 1000 * self.pelvis_width
        leg = 1000 * (self.thigh + self.shank + 0.05 * self.stature_m)
        x = -0.24 * depth - 9.9
        y = -0.16 * width - 0.04 * leg - 7.1
        z = 0.28 * depth + 0.16 * width + 7.9
        return np.array([x, y, z]) / 1000

    @property
    def pivot_above_hips(self) -> float:
        """Height of the trunk pivot (the joint between pelvis and thorax) above the mid-point of the hip centres, m."""
        return self.of(0.075)

    @property
    def shoulders_above_pivot(self) -> float:
        """Height of the mid-point of the shoulder centres above the trunk pivot, m.

        The heights of hips and shoulders above the ground are 0.530 and 0.818 of stature.
        """
        return self.of(0.818 - 0.530) - self.pivot_above_hips

    def pelvis_points(self) -> dict[str, np.ndarray]:
        """Return landmark of the pelvis -> position (3,), m, from the mid-point of the hip centres.

        In the axes of the pelvis: forward, up, to the trail side.
        """
        hip = self.hip_offset
        origin = np.array([-hip[0], -hip[1], 0.0])  # mid-ASIS seen from mid-hip
        half, back = self.pelvis_width / 2, self.of(0.028)
        points = {
            "asis_right": origin + np.array([0, 0, half]),
            "asis_left": origin + np.array([0, 0, -half]),
            "psis_right": origin + np.array([-self.pelvis_depth, 0, back]),
            "psis_left": origin + np.array([-self.pelvis_depth, 0, -back]),
            "sacrum": origin + np.array([-self.pelvis_depth, 0, 0]),
            "hip_right": np.array([0, 0, hip[2]]),
            "hip_left": np.array([0, 0, -hip[2]]),
        }
        return points

    def thorax_points(self) -> dict[str, np.ndarray]:
        """Return landmark of the thorax -> position (3,), m, from the trunk pivot.

        In the axes of the thorax: forward, up, to the trail side. The shoulders are in their neutral position, without
        protraction.
        """
        shoulder = self.shoulders_above_pivot
        top, bottom = shoulder + self.of(0.014), shoulder - self.of(0.085)
        half = self.shoulder_spacing / 2
        return {
            "jugular_notch": np.array([self.of(0.034), top - self.of(0.014), 0.0]),
            "c7": np.array([-self.of(0.034), top + self.of(0.014), 0.0]),
            "xiphoid": np.array([self.of(0.060), bottom - self.of(0.008), 0.0]),
            "t8": np.array([-self.of(0.060), bottom + self.of(0.008), 0.0]),
            "neck": np.array([-self.of(0.010), top + self.of(0.020), 0.0]),
            "shoulder_right": np.array([0.0, shoulder, half]),
            "shoulder_left": np.array([0.0, shoulder, -half]),
        }

    def head_points(self) -> dict[str, np.ndarray]:
        """Return landmark of the head -> position (3,), m, from the base of the neck.

        In the axes of the head: forward, up, to the trail side.
        """
        high = self.of(0.085)
        return {
            "head_front_right": np.array([self.of(0.052), high, self.of(0.034)]),
            "head_front_left": np.array([self.of(0.052), high, -self.of(0.034)]),
            "head_back_right": np.array([-self.of(0.050), high, self.of(0.036)]),
            "head_back_left": np.array([-self.of(0.050), high, -self.of(0.036)]),
            "nose": np.array([self.of(0.066), self.of(0.052), 0.0]),
            "ear_right": np.array([0.0, self.of(0.056), self.of(0.043)]),
            "ear_left": np.array([0.0, self.of(0.056), -self.of(0.043)]),
        }


@dataclass(frozen=True, slots=True)
class Club:
    """A golf club.

    length_m : from the butt along the shaft to the ground. lie_deg : angle between shaft and ground. loft_deg : loft
    of the face. face_out_m : distance of the centre of the face from the line of the shaft toward the toe, with the
    sole flat on the ground. face_up_m : height of the centre of the face above the sole.
    """

    name: str
    length_m: float
    lie_deg: float
    loft_deg: float
    face_out_m: float = 0.038
    face_up_m: float = 0.021

    @property
    def face_offset(self) -> tuple[float, float]:
        """Position of the centre of the face from the lower end of the shaft, m.

        It has two values: along the shaft, positive away from the grip, and across it, positive toward the toe.
        """
        lie = np.radians(self.lie_deg)
        along = self.face_out_m * np.cos(lie) - self.face_up_m * np.sin(lie)
        across = self.face_out_m * np.sin(lie) + self.face_up_m * np.cos(lie)
        return float(along), float(across)


#: Lengths of the 5-, 7- and 8-iron are those commonly sold, the others differ by half an inch. Lie and loft are typical
#: values without a published source.
CLUBS = {
    club.name: club
    for club in (
        Club("5 iron", 0.965, 61.5, 26.0),
        Club("6 iron", 0.953, 62.0, 29.0),
        Club("7 iron", 0.940, 62.5, 33.0),
        Club("8 iron", 0.927, 63.0, 37.0),
        Club("9 iron", 0.914, 63.5, 41.0),
        Club("pitching wedge", 0.902, 64.0, 46.0),
        Club("hybrid 4", 1.003, 60.0, 22.0, 0.042, 0.022),
    )
}
