"""Motion of the club after a simulated change of posture, such that the clubhead meets the ball again.

Lead arm and club keep their directions in space, so the arc of the clubhead moves with the lead shoulder. To meet the
ball, the path must then pass it at the same height and the same distance from the golfer as before. To satisfy these
two conditions, lead arm and club are each rotated about the direction of motion of the clubhead at impact. These
rotations do not displace the club along its path, so its timing does not change.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from swinglab.errors import BadRequest
from swinglab.records import Events, Trial
from swinglab.simulate.linkage import unit
from swinglab.simulate.motion import Motion, turn_about

#: Number of frames before impact to which the clubhead's path is fitted, and order of the polynomial in time.
FRAMES, ORDER = 8, 3
#: Largest rotation of arm or club that is still the same swing (a judgement); beyond it the ball is missed.
MOST_DEG = 25.0
#: Iterations that find the place of a path nearest to the ball; largest error, m, with which the ball counts as met.
ROUNDS, CLOSE_M = 8, 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class LeadArm:
    """Lead shoulder and lead wrist in every frame, (n, 3) m, before the lead arm is rotated toward the ball.

    shoulder_after, wrist_after : after the change of posture. wrist : before it. share : (n,) share of the change that
    applies in each frame, 0 to 1.
    """

    shoulder_after: np.ndarray
    wrist: np.ndarray
    wrist_after: np.ndarray
    share: np.ndarray

    def rows(self, chosen: np.ndarray) -> LeadArm:
        """Return a copy with the chosen frames only (mask or indices)."""
        return LeadArm(*(getattr(self, name)[chosen] for name in self.__slots__))

    def club(self, angles: np.ndarray, travel: np.ndarray) -> Motion:
        """Return the motion of the club after rotations of the lead arm and of the club.

        `angles` : (2,) angles of rotation of arm and club, rad; in each frame they are multiplied by `share`.
        `travel` : (3,) axis of both rotations, the direction of motion of the clubhead at impact.
        """
        arm, club = (turn_about(angle * self.share[:, None] * travel) for angle in angles)
        reach = self.wrist_after - self.shoulder_after
        return Motion(club, self.wrist, self.wrist_after + np.einsum("nij,nj->ni", arm, reach))


def path_before_impact(trial: Trial, events: Events) -> tuple[np.ndarray, np.ndarray]:
    """Return the indices of k frames before impact, and the matrix that fits a polynomial in time to points in them.

    The matrix (number of powers, k) multiplied by the points (k, 3) gives the coefficients of the polynomial, with
    time from impact in units of the duration of these frames. Raises BadRequest if the clubhead is visible in too few
    frames.
    """
    impact = events.time_s("impact")
    seen = np.isfinite(trial.point("clubhead", raw=True)).all(axis=1) & (trial.time_s < impact)
    rows = np.flatnonzero(seen)[-FRAMES:]
    if len(rows) < ORDER + 1:
        raise BadRequest(
            "a change of posture cannot be simulated: the clubhead is missing in most frames before impact",
            file=trial.file, where=f"swing {trial.swing}",
            do="choose another swing",
        )  # fmt: skip
    time = (trial.time_s[rows] - impact) / (impact - trial.time_s[rows[0]])
    return rows, np.linalg.pinv(np.vander(time, ORDER + 1, increasing=True))


def meet_ball(trial: Trial, events: Events, arm: LeadArm) -> tuple[Motion, str]:
    """Return the motion of the club with which the clubhead passes the ball as before the change of posture.

    It is found by least squares over two angles of rotation (lead arm and club). The second result is a warning if the
    ball is missed, otherwise "".
    """
    rows, to_terms = path_before_impact(trial, events)
    head = trial.point("clubhead", raw=True)[rows]
    near = arm.rows(rows)
    terms = to_terms @ head
    start, travel = terms[0], unit(terms[1])

    def miss(angles: np.ndarray) -> np.ndarray:
        return _beside(to_terms @ near.club(angles, travel).apply(head), start)

    if not np.isfinite(miss(np.zeros(2))).all():
        raise BadRequest(
            "a change of posture cannot be simulated: markers of the body are missing in the last frames before impact",
            file=trial.file, where=f"swing {trial.swing}", do="choose another swing",
        )  # fmt: skip
    most = np.radians(MOST_DEG)
    found = least_squares(miss, np.zeros(2), bounds=(-most, most), xtol=1e-12, ftol=1e-14, gtol=1e-14)
    left = float(np.linalg.norm(found.fun))
    if left < CLOSE_M:
        return arm.club(found.x, travel), ""
    missed = (
        "simulated change of posture: the ball is out of reach; the clubhead passes it "
        f"{100 * left:.1f} cm from its measured path"
    )
    return arm.club(found.x, travel), missed


def _beside(terms: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Distances (2,), m, at which a path passes a place: upward, and away from the golfer.

    terms : (k, 3) coefficients of the powers of time.
    """
    powers = np.arange(len(terms))
    rates = powers[1:, None] * terms[1:]
    time = 0.0
    for _ in range(ROUNDS):
        at, way = time**powers @ terms, time ** powers[:-1] @ rates
        step = (place - at) @ way / (way @ way)
        time += float(np.clip(step, -0.5, 0.5))
    out = unit(np.cross(way, [0.0, 1.0, 0.0]))
    return np.array([(at - place) @ np.cross(out, way / np.linalg.norm(way)), (at - place) @ out])
