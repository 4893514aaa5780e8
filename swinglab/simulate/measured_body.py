"""Segments and joints of a measured swing, from which a change of its posture is simulated.

The axes of pelvis (Wu et al. 2002) and thorax (Wu et al. 2005) are those of the ISB, or substitutes from joint centres.
In a `Trial` the left side is the lead side.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from swinglab.errors import MissingInput
from swinglab.records import Trial
from swinglab.simulate.linkage import unit

#: Shoulder centre below the acromion, as a share of the distance between the acromia (Rab et al. 2002).
SHOULDER_DROP = 0.17
#: Height of the point about which the thorax turns on the pelvis, as a share of mid-hip to mid-shoulder: the middle of
#: the lumbar spine (a judgement).
PIVOT_SHARE = 0.26


@dataclass(frozen=True, eq=False)
class MeasuredBody:
    """Segment axes (n, 3, 3), as columns, and joint centres (n, 3), m, of a trial of n frames, in the study frame.

    pivot_share : height of the centre of rotation of the thorax above the hips, as a share of the length of the trunk.
    """

    trial: Trial
    pivot_share: float = PIVOT_SHARE

    @cached_property
    def pelvis(self) -> np.ndarray:
        """Axes (n, 3, 3) of the pelvis as columns: forward, up, to the trail side."""
        if self.trial.has("asis_left", "asis_right"):
            right = unit(self._point("asis_right") - self._point("asis_left"))
            up = unit(np.cross(right, self._middle("asis") - self._back_of_pelvis()))
            return np.stack([np.cross(up, right), up, right], axis=-1)
        right = unit(self._point("hip_right") - self._point("hip_left"))
        up = self._middle("shoulder") - self._middle("hip")
        up = unit(up - np.sum(up * right, axis=1, keepdims=True) * right)
        return np.stack([np.cross(up, right), up, right], axis=-1)

    @cached_property
    def thorax(self) -> np.ndarray:
        """Axes (n, 3, 3) of the thorax as columns: forward, up, to the trail side."""
        if self.trial.has("jugular_notch", "xiphoid", "c7", "t8"):
            notch, c7 = self._point("jugular_notch"), self._point("c7")
            up = unit(notch + c7 - self._point("xiphoid") - self._point("t8"))
            right = unit(np.cross(notch - c7, up))
            return np.stack([np.cross(up, right), up, right], axis=-1)
        up = unit(self._middle("shoulder") - self._middle("hip"))
        forward = unit(np.cross(up, self._point("shoulder_right") - self._point("shoulder_left")))
        return np.stack([forward, up, np.cross(forward, up)], axis=-1)

    @cached_property
    def mid_hip(self) -> np.ndarray:
        """Mid-point (n, 3) of the hip centres: from their landmarks, otherwise by Harrington et al. (2007)."""
        if self.trial.has("hip_left", "hip_right"):
            return self._middle("hip")
        width = np.nanmedian(np.linalg.norm(self._point("asis_right") - self._point("asis_left"), axis=1))
        depth = np.nanmedian(np.linalg.norm(self._middle("asis") - self._back_of_pelvis(), axis=1))
        offset = np.array([-0.24 * depth - 0.0099, -0.30 * width - 0.0109, 0.0])
        return self._middle("asis") + self.pelvis @ offset

    @cached_property
    def pivot(self) -> np.ndarray:
        """Point (n, 3), fixed to the pelvis, about which the thorax rotates."""
        middle = (self.shoulder("left") + self.shoulder("right")) / 2
        trunk = float(np.nanmedian(np.linalg.norm(middle - self.mid_hip, axis=1)))
        return self.mid_hip + self.pivot_share * trunk * self.pelvis[:, :, 1]

    def shoulder(self, side: str) -> np.ndarray:
        """Return the shoulder centre (n, 3) of the side "left" or "right"."""
        if self.trial.has(f"shoulder_{side}"):
            return self._point(f"shoulder_{side}")
        apart = self._point("acromion_right") - self._point("acromion_left")
        drop = SHOULDER_DROP * float(np.nanmedian(np.linalg.norm(apart, axis=1)))
        return self._point(f"acromion_{side}") - drop * self.thorax[:, :, 1]

    def joint(self, name: str, side: str) -> np.ndarray | None:
        """Return the centre (n, 3) of elbow, wrist, hip, knee or ankle; None if its landmarks are missing."""
        if self.trial.has(f"{name}_{side}"):
            return self._point(f"{name}_{side}")
        pairs = {
            "elbow": ("elbow_lateral", "elbow_medial"), "wrist": ("wrist_radial", "wrist_ulnar"),
            "knee": ("knee_lateral", "knee_medial"), "ankle": ("ankle_lateral", "ankle_medial"),
        }  # fmt: skip
        if name == "hip":
            return None
        seen = [f"{part}_{side}" for part in pairs[name] if self.trial.has(f"{part}_{side}")]
        return np.mean([self._point(n) for n in seen], axis=0) if seen else None

    def wrist(self, side: str) -> np.ndarray:
        """Return the wrist centre (n, 3); raises MissingInput if its landmarks are missing."""
        centre = self.joint("wrist", side)
        if centre is None:
            raise MissingInput(
                f"the landmarks of the {'lead' if side == 'left' else 'trail'} wrist are missing", file=self.trial.file,
                do="assign labels to them under [landmarks] in study.toml",
            )  # fmt: skip
        return centre

    @cached_property
    def hands(self) -> np.ndarray:
        """Mid-point (n, 3) of the wrist centres."""
        return (self.wrist("left") + self.wrist("right")) / 2

    def lead_elbow(self) -> tuple[np.ndarray, np.ndarray]:
        """Return the centre (n, 3) of the lead elbow and its unit axis (n, 3); a positive rotation about it is flexion.

        If both epicondyles are present, the axis is the line between them, made perpendicular to the forearm; otherwise
        it is normal to upper arm and forearm. Raises MissingInput if the landmarks of the elbow are missing.
        """
        elbow = self.joint("elbow", "left")
        if elbow is None:
            raise MissingInput(
                "the flexion of the lead elbow cannot be changed, because its landmarks are missing",
                file=self.trial.file,
                do="assign labels to the landmarks of the elbow under [landmarks] in study.toml",
            )  # fmt: skip
        forearm = self.wrist("left") - elbow
        across = np.cross(elbow - self.shoulder("left"), forearm)
        if not self.trial.has("elbow_lateral_left", "elbow_medial_left"):
            return elbow, unit(across)
        axis = unit(self._point("elbow_medial_left") - self._point("elbow_lateral_left"))
        axis = unit(axis - np.sum(axis * unit(forearm), axis=1, keepdims=True) * unit(forearm))
        return elbow, axis * (1.0 if np.nansum(axis * across) >= 0 else -1.0)

    def _point(self, name: str) -> np.ndarray:
        return self.trial.point(name)

    def _middle(self, stem: str) -> np.ndarray:
        return (self._point(f"{stem}_left") + self._point(f"{stem}_right")) / 2

    def _back_of_pelvis(self) -> np.ndarray:
        return self._middle("psis") if self.trial.has("psis_left", "psis_right") else self._point("sacrum")
