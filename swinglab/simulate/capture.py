"""Writing of simulated swings as capture files in the axes of a laboratory: integer C3D, or wide pose tables."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path

import c3d
import numpy as np
import pandas as pd

from swinglab.conventions import axis_vector, mirrored_name
from swinglab.errors import BadRequest
from swinglab.simulate.swing import Swing, landmarks_of

#: Finest resolution of coordinates in a C3D file.
SMALLEST_STEP_MM = 0.05
#: Largest number of steps stored in a 16-bit integer, with some margin.
MOST_STEPS = 32000


@dataclass(frozen=True, slots=True)
class Lab:
    """Axes of a simulated laboratory, height of the turf, and position of the ball.

    up, target : names of the axes that point up and to the target, such as "+Z". ground_mm : height of the turf along
    the axis up. ball_mm : position of the ball from the origin, as (toward the target, to the right of the target
    line).
    """

    up: str = "+Z"
    target: str = "+X"
    ground_mm: float = 0.0
    ball_mm: tuple[float, float] = (0.0, 0.0)

    def from_study(self, points_m: np.ndarray, hand: str) -> np.ndarray:
        """Convert points (..., 3) from the study frame, in m, to the axes of the laboratory, in mm.

        In the study frame every golfer is right-handed; with `hand` "left", the points are mirrored back.
        """
        up, target = axis_vector(self.up), axis_vector(self.target)
        if up @ target != 0:
            raise BadRequest(
                f"the axes up ({self.up}) and target ({self.target}) of the laboratory are parallel",
                do="choose two different axes",
            )
        mm = 1000 * points_m * [1.0, 1.0, -1.0 if hand == "left" else 1.0]
        mm = mm + np.array([self.ball_mm[0], self.ground_mm, self.ball_mm[1]])
        return mm @ np.stack([target, up, np.cross(target, up)])


def captured(swing: Swing, lab: Lab, names: tuple[str, ...]) -> tuple[list[str], np.ndarray]:
    """Return the labels and positions of k landmarks as a capture file has them.

    Labels have left and right as in reality, also for a left-hander. Positions are (n, k, 3) in the axes of the
    laboratory, in mm.
    """
    points = np.stack([swing.points[name] for name in names], axis=1)
    labels = [mirrored_name(name) for name in names] if swing.hand == "left" else list(names)
    return labels, lab.from_study(points, swing.hand)


def write_c3d(swing: Swing, path: Path, lab: Lab, *, landmarks: tuple[str, ...] | None = None) -> Path:
    """Write the points of a swing to a C3D file with integer coordinates.

    The resolution is 0.05 mm, or the finest that 16 bits allow. A missing sample has the residual -1. `landmarks` :
    landmarks that are written; by default all markers of the swing, without joint centres.
    """
    labels, mm = captured(swing, lab, landmarks or landmarks_of("markers", swing.points))
    step = float(np.float32(max(SMALLEST_STEP_MM, np.nanmax(np.abs(mm)) / MOST_STEPS)))
    missing = ~np.isfinite(mm).all(axis=-1)
    counts = np.rint(np.nan_to_num(mm) / step)
    frames = np.zeros((*missing.shape, 5))
    # The writer truncates to integers. A quarter step away from zero makes it write the rounded number.
    frames[..., :3] = (counts + 0.25 * np.sign(counts)) * step
    frames[..., 3] = np.where(missing, -1.0, step)
    writer = c3d.Writer(point_rate=swing.rate_hz, point_scale=step, point_units="mm")
    writer.set_point_labels(labels)
    writer.set_screen_axis(lab.target, lab.up)
    nothing = np.zeros((0, 0))
    writer.add_frames([(frame, nothing) for frame in frames])
    with path.open("wb") as stream, warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="No analog data found")
        writer.write(stream)
    return path


def write_pose_table(swing: Swing, path: Path, lab: Lab) -> Path:
    """Write joint centres, club and ball of a swing to a wide table: time_s, <landmark>_x, _y and _z in mm."""
    labels, mm = captured(swing, lab, landmarks_of("joint_centres", swing.points))
    table: dict[str, np.ndarray] = {"time_s": swing.time_s}
    for k, label in enumerate(labels):
        for axis, letter in enumerate("xyz"):
            table[f"{label}_{letter}"] = np.round(mm[:, k, axis], 1)
    pd.DataFrame(table).round({"time_s": 6}).to_csv(path, index=False, lineterminator="\n")
    return path
