"""The simulated golfer's body: segment lengths from stature, and positions of bony landmarks in their segments.

Lengths are Drillis & Contini (1966) as in Winter (2009), fractions of stature; hip joints lie where
Harrington et al. (2007) predict them from the pelvis's width and depth and the leg's length. Local
coordinates are ISB segment axes (x forward, y up, z to the right, the trail side of a right-hander) and are
chosen so that the ISB pelvis (Wu et al. 2002) and thorax (Wu et al. 2005) built from the landmarks are the
driven segments exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swinglab.errors import BadRequest


@dataclass(frozen=True, slots=True)
class Body:
    """Segment lengths and widths in metres, from stature; the fractions marked "judgement" are the kit's own.

    `shoulder_spacing` is joint centre to joint centre (0.20 to 0.21 of stature, judgement), narrower than
    the breadth across the shoulders; pelvis width and depth, trunk pivot and hand are judgements too.
    """

    stature_m: float = 1.76
    sex: str = "male"
    mass_kg: float = 76.0

    def __post_init__(self) -> None:
        if not 1.2 <= self.stature_m <= 2.3:
            raise BadRequest(
                f"a stature of {self.stature_m} m is outside 1.2 to 2.3 m", do="give metres, 1.2 to 2.3"
            )

    def of(self, fraction: float) -> float:
        """A length (m) that is this fraction of stature."""
        return fraction * self.stature_m

    @property
    def upper_arm(self) -> float:
        """Shoulder to elbow centre, m."""
        return self.of(0.186)

    @property
    def forearm(self) -> float:
        """Elbow to wrist centre, m."""
        return self.of(0.146)

    @property
    def hand(self) -> float:
        """Wrist centre to the middle of the grip, m (hand 0.108 of stature; its middle is a judgement)."""
        return self.of(0.038)

    @property
    def thigh(self) -> float:
        """Hip to knee centre, m."""
        return self.of(0.245)

    @property
    def shank(self) -> float:
        """Knee to ankle centre, m."""
        return self.of(0.246)

    @property
    def ankle_height(self) -> float:
        """Ankle centre above the sole, m."""
        return self.of(0.039)

    @property
    def foot(self) -> float:
        """Heel to tip of the foot, m."""
        return self.of(0.152)

    @property
    def shoulder_spacing(self) -> float:
        """Shoulder centre to shoulder centre, m."""
        return self.of(0.205)

    @property
    def pelvis_width(self) -> float:
        """Between the front iliac spines, m."""
        return self.of(0.140)

    @property
    def pelvis_depth(self) -> float:
        """Middle of the front spines to the middle of the back spines, m."""
        return self.of(0.088)

    @property
    def hip_offset(self) -> np.ndarray:
        """Vector (3,), m, from mid-ASIS to the trail-side hip centre in pelvis axes (Harrington et al. 2007)."""
        depth, width = 1000 * self.pelvis_depth, 1000 * self.pelvis_width
        leg = 1000 * (self.thigh + self.shank + 0.05 * self.stature_m)
        x = -0.24 * depth - 9.9
        y = -0.16 * width - 0.04 * leg - 7.1
        z = 0.28 * depth + 0.16 * width + 7.9
        return np.array([x, y, z]) / 1000

    @property
    def pivot_above_hips(self) -> float:
        """Height of the trunk pivot, the joint between pelvis and thorax, above mid-hip, m."""
        return self.of(0.075)

    @property
    def shoulders_above_pivot(self) -> float:
        """Height of the middle of the shoulder centres above the trunk pivot, m.

        Heights of hips and shoulders are 0.530 and 0.818 of stature.
        """
        return self.of(0.818 - 0.530) - self.pivot_above_hips

    def pelvis_points(self) -> dict[str, np.ndarray]:
        """Positions (3,), m, of spines, sacrum and hip centres in pelvis axes, relative to mid-hip, by landmark."""
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
        """Positions (3,), m, of thorax landmarks in thorax axes, relative to the trunk pivot, by landmark.

        The shoulders are in their neutral position, without protraction.
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
        """Positions (3,), m, of head landmarks in head axes, relative to the neck, by landmark."""
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
    """A club: length along the shaft to the ground, lie, loft, and position of the face centre.

    face_out_m : distance from the shaft's line toward the toe with the sole flat. face_up_m : height above the sole.
    """

    name: str
    length_m: float
    lie_deg: float
    loft_deg: float
    face_out_m: float = 0.038
    face_up_m: float = 0.021

    @property
    def face_offset(self) -> tuple[float, float]:
        """Position of the face centre from the shaft's end on the ground: (along the shaft, across it), m."""
        lie = np.radians(self.lie_deg)
        along = self.face_out_m * np.cos(lie) - self.face_up_m * np.sin(lie)
        across = self.face_out_m * np.sin(lie) + self.face_up_m * np.cos(lie)
        return float(along), float(across)


#: Lengths of the 5-, 7- and 8-iron are those commonly sold, the others differ by half an inch. Lie and loft are typical
#: values from memory.
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
