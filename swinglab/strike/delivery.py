"""Orientation of the club face at impact, for clubs with markers on the face, and the predicted start of the ball."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.spatial.transform import Rotation

from swinglab import conventions
from swinglab.records import Strike, Trial
from swinglab.strike.dplane import (
    TOWARD_FACE,
    direction_vector,
    spin_axis_tilt_deg,
    spin_loft_deg,
    start_direction_deg,
)

#: Most frames before impact from which the head's rotation is extrapolated to impact, and the fewest needed.
FRAMES, FEWEST_FRAMES = 9, 6
NAMES = (
    "face_loft_deg", "face_angle_in_to_out_deg", "face_to_path_in_to_out_deg", "spin_loft_deg",
    "spin_axis_tilt_deg",
)  # fmt: skip


@dataclass(frozen=True)
class Delivery:
    """Orientation of the club face at impact, and the start direction of the ball predicted from it.

    values, standard_errors : name -> degrees. `face_loft_deg` is the elevation of the normal of the face (positive
    up), `face_angle_in_to_out_deg` its horizontal direction (positive away from the golfer), and
    `face_to_path_in_to_out_deg` this direction minus that of the club path. start : predicted start direction of the
    ball, which lies between the direction of the path (share 0) and the normal of the face (share 1): share ->
    (elevation, in-to-out direction) in degrees, for the shares measured by Wood et al. (2018). missing : the reason if
    there are no values.
    """

    values: Mapping[str, float]
    standard_errors: Mapping[str, float]
    start: Mapping[float, tuple[float, float]] = field(default_factory=dict)
    missing: str = ""


def measure_delivery(trial: Trial, strike: Strike, face: tuple[str, ...]) -> Delivery:
    """Return direction and loft of the club face at impact, and the predicted start direction of the ball.

    Parameters
    ----------
    trial : Trial
        The swing, with three landmarks on the face; further landmarks on the club head reduce the error of its
        rotation.
    strike : Strike
        The strike of the same swing, with club path and attack angle.
    face : tuple of str
        Three landmarks in the plane of the face, not on one line, in any order. Of the two normals of this plane, the
        one that points in the direction of the path is used.

    Returns
    -------
    Delivery
        Values at impact, from the rotation of the club head over the last frames before impact, which is extrapolated.
        At 240 Hz the face rotates by about ten degrees from frame to frame, so the standard error is seldom below one
        degree.

    Notes
    -----
    Missing: the values are missing if a landmark is absent, if there are fewer than six frames before impact, or if the
    strike has no club path.

    References: jorgensen1999, wood2018.

    Examples
    --------
    >>> measure_delivery(trial, strike, ("clubhead_1", "clubhead_2", "clubhead_3"))  # doctest: +SKIP
    """
    absent = [name for name in face if not trial.has(name)]
    if absent:
        return _nothing(f"the capture has no landmark {' or '.join(absent)}")
    path = (strike.values["attack_angle_deg"], strike.values["club_path_in_to_out_deg"])
    if not np.isfinite(path).all():
        return _nothing(strike.missing.get("attack_angle_deg", "the path was not measured"))
    impact = float(strike.arc["contact_s"][0])
    others = [n for n in trial.landmarks if n.startswith(conventions.HEAD_POINT_STEM) and n not in face]
    names = [*face, *others, "clubhead"]
    points = np.stack([trial.point(name, raw=True) for name in names], axis=1)
    whole = np.flatnonzero(np.isfinite(points).all(axis=(1, 2)) & (trial.time_s < impact))[-FRAMES:]
    if len(whole) < FEWEST_FRAMES or trial.time_s[whole[0]] < impact - 0.15:
        return _nothing(
            f"too few frames before impact in which all markers of the clubhead are visible: {len(whole)}, but "
            f"{FEWEST_FRAMES} are needed"
        )
    impact_se = float(strike.arc["contact_se_s"][0])
    normal, spread = _normal_at(
        trial.time_s[whole] - impact, points[whole], direction_vector(*path), impact_se
    )
    return _report(normal, spread, path, strike)


def _nothing(reason: str) -> Delivery:
    nan = dict.fromkeys(NAMES, float("nan"))
    return Delivery(nan, dict(nan), missing=reason)


def _normal_at(
    lag: np.ndarray, points: np.ndarray, along: np.ndarray, lag_se: float
) -> tuple[np.ndarray, np.ndarray]:
    """Face normal (3,) at lag 0 and the covariance (3, 3) of its error, expressed as a small rotation (rad).

    points : (n, k, 3), the first three on the face. The head is treated as a rigid body whose rotation relative to
    the last frame is a quadratic function of time. The error includes noise, the time of impact (the face turns by
    0.25 degrees in 0.1 ms) and the quadratic model, which is compared with a cubic.
    """
    centred = points - points.mean(axis=1, keepdims=True)
    turns = [Rotation.align_vectors(centred[-1], frame)[0] for frame in centred]
    # The mean of all frames, each rotated onto the last one, gives the head's shape with less noise.
    shape = np.mean([turn.apply(frame) for turn, frame in zip(turns, centred, strict=True)], axis=0)
    turns = [Rotation.align_vectors(frame, shape)[0] for frame in centred]
    normal = np.cross(shape[1] - shape[0], shape[2] - shape[0])
    normal /= np.linalg.norm(normal)
    vectors = np.array([turn.as_rotvec() for turn in turns])
    design = np.vander(lag, 3, increasing=True)
    inverse = np.linalg.pinv(design)
    terms = inverse @ vectors
    cubic = np.linalg.pinv(np.vander(lag, 4, increasing=True))
    residual = vectors - np.vander(lag, 4, increasing=True) @ (cubic @ vectors)
    noise = residual.T @ residual / max(len(lag) - 4, 1)
    bent = (cubic[0] - inverse[0]) @ vectors
    covariance = (
        noise * (inverse[0] @ inverse[0]) + np.outer(bent, bent) + lag_se**2 * np.outer(terms[1], terms[1])
    )
    turned = Rotation.from_rotvec(terms[0]).apply(normal)
    return turned * np.sign(turned @ along), covariance


def _report(normal: np.ndarray, spread: np.ndarray, path: tuple[float, float], strike: Strike) -> Delivery:
    places = [strike.covariance_names.index(n) for n in ("attack_angle_deg", "club_path_in_to_out_deg")]
    path_covariance = strike.covariance[np.ix_(places, places)]

    def read(normal: np.ndarray, path: tuple[float, float]) -> np.ndarray:
        loft, heading = np.degrees([np.arcsin(normal[1]), np.arctan2(normal[2], normal[0])])
        directions = (path[0], path[1], float(loft), float(heading))
        return np.array(
            [loft, heading, heading - path[1], spin_loft_deg(*directions), spin_axis_tilt_deg(*directions)]
        )

    values = read(normal, path)
    step = 1e-4
    by_turn = np.array(
        [(read(Rotation.from_rotvec(step * e).apply(normal), path) - values) / step for e in np.eye(3)]
    ).T
    by_path = np.array(
        [
            (read(normal, (path[0] + step * a, path[1] + step * b)) - values) / step
            for a, b in ((1, 0), (0, 1))
        ]
    ).T
    errors = np.sqrt(np.diag(by_turn @ spread @ by_turn.T) + np.diag(by_path @ path_covariance @ by_path.T))
    directions = (path[0], path[1], float(values[0]), float(values[1]))
    start = {share: start_direction_deg(*directions, toward_face=share) for share in TOWARD_FACE}
    return Delivery(
        {name: float(v) for name, v in zip(NAMES, values, strict=True)},
        {name: float(e) for name, e in zip(NAMES, errors, strict=True)},
        start,
    )
