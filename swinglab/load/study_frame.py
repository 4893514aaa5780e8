"""Conversion from the axes of a capture to the study frame (X to the target, Y up), with left-handers mirrored."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swinglab.conventions import AXIS_NAMES, BALL_RADIUS_M, axis_vector, mirrored_name
from swinglab.errors import BadRequest
from swinglab.load.coarse_contact import address_stretch, rest_before
from swinglab.records import Setup

#: Standard error, along the target line, of a ball position inferred from the clubhead at address (assumed value).
ADDRESS_BALL_SE_M = 0.015
#: A ball marker whose height differs by more than this from that of a ball on the turf gives a warning.
_HEIGHT_DOUBT_M = 0.02


@dataclass(frozen=True, slots=True)
class Ball:
    """Position of the ball at rest, in metres, in the axes of the study frame, from the origin of the capture.

    centre : (3,) centre of the ball; None if unknown. method : how the centre was determined. se_m : standard error of
    the centre along the target line. origin : (3,) point on the turf that becomes the origin of the study frame: under
    the ball or, if the ball is unknown, between the feet. warnings : about the ball.
    """

    centre: np.ndarray | None
    method: str  # marker | study | ball_from_address | none
    se_m: float
    origin: np.ndarray
    warnings: tuple[str, ...] = ()


def study_axes(setup: Setup) -> np.ndarray:
    """Return the rotation matrix (3, 3) from the axes of the capture to the study frame.

    Its rows are the directions to the target, up, and their cross product. Raises BadRequest if up or target is not a
    direction, or if they are parallel.
    """
    up = _direction(setup.up, "up")
    target = _direction(setup.target, "target")
    along = target - (target @ up) * up
    if np.linalg.norm(along) < 0.1:
        raise BadRequest(
            f"the axes up ({setup.up}) and target ({setup.target}) are parallel",
            where="[lab] in study.toml",
            do="give the keys up and target two perpendicular axes of the capture, for example +Z and +X",
        )
    along /= np.linalg.norm(along)
    return np.stack([along, up, np.cross(along, up)])


def _direction(value: str | tuple[float, ...], key: str) -> np.ndarray:
    if isinstance(value, str):
        if value not in AXIS_NAMES:
            raise BadRequest(
                f"{value!r} is not an axis",
                where=f"{key} under [lab] in study.toml",
                do=f"set it to one of {', '.join(AXIS_NAMES)}, or to a vector [x, y, z]",
            )
        return axis_vector(value)
    vector = np.asarray(value, dtype=float)
    if vector.shape != (3,) or not np.isfinite(vector).all() or np.linalg.norm(vector) == 0:
        raise BadRequest(
            f"{value} is not a direction",
            where=f"{key} under [lab] in study.toml",
            do="give three numbers that are not all zero",
        )
    return vector / np.linalg.norm(vector)


def turn(points: np.ndarray, setup: Setup, metres: float) -> np.ndarray:
    """Return points (..., 3) in the axes of the study frame, with the turf at height 0, and left-handers mirrored.

    `points` : in metres, in the axes of the capture. `metres` : factor from the unit of the capture to metres, for the
    lengths in `setup`. The origin along and across the target line is still that of the capture.
    """
    turned = points @ study_axes(setup).T
    turned[..., 1] -= setup.ground * metres
    if setup.hand == "left":
        turned[..., 2] *= -1
    return turned


def sided_names(names: tuple[str, ...], hand: str) -> tuple[str, ...]:
    """Return landmark names as for a right-hander: for a left-hander (`hand` "left"), left and right are exchanged."""
    return tuple(mirrored_name(name) for name in names) if hand == "left" else names


def find_ball(
    names: tuple[str, ...],
    points: np.ndarray,
    rate_hz: float,
    contact_s: float | None,
    setup: Setup,
    metres: float,
) -> Ball:
    """Return the centre of the ball at rest, and the point on the turf that becomes the origin of the study frame.

    The ball's position is from its marker, from study.toml, or from the clubhead at address, in this order. `points` :
    (n_frames, n_landmarks, 3) in metres, in the axes of the study frame (see `turn`). `contact_s` : approximate time of
    contact. `metres` : factor from the unit of the capture to metres.
    """
    warnings: list[str] = []
    ball = _ball_from_marker(names, points, rate_hz, contact_s, setup, warnings)
    if ball is None and setup.ball_position is not None:
        given = turn(np.asarray(setup.ball_position, dtype=float) * metres, setup, metres)
        ball = given, "study", 0.0
    if ball is None:
        ball = _ball_from_address(names, points, rate_hz, contact_s, setup)
    if ball is None:
        return Ball(None, "none", 0.0, _origin_without_ball(names, points, rate_hz), tuple(warnings))
    centre, method, error = ball
    if not setup.teed:
        if method != "ball_from_address" and abs(centre[1] - BALL_RADIUS_M) > _HEIGHT_DOUBT_M:
            warnings.append(
                f"the centre of the ball is {100 * centre[1]:.1f} cm above the turf, but the ball was assumed to "
                "lie on the turf: check the setting ground, or set teed = true under [ball] in study.toml"
            )
        centre = np.array([centre[0], BALL_RADIUS_M, centre[2]])
    return Ball(centre, method, error, centre * [1, 0, 1], tuple(warnings))


def _ball_from_marker(
    names: tuple[str, ...],
    points: np.ndarray,
    rate_hz: float,
    contact_s: float | None,
    setup: Setup,
    warnings: list[str],
) -> tuple[np.ndarray, str, float] | None:
    if "ball" not in names:
        return None
    path = points[:, names.index("ball")]
    rest = rest_before(path, rate_hz, contact_s)
    if not rest.any():
        warnings.append(
            "the marker of the ball is never at rest before contact, so it was not used for the position of the ball"
        )
        return None
    samples = path[rest]
    centre = samples.mean(axis=0)
    if contact_s is not None:
        before = np.flatnonzero(
            np.isfinite(path).all(axis=1) & (np.arange(len(path)) < contact_s * rate_hz - 1)
        )
        moved = float(np.linalg.norm(path[before[-1]] - centre))
        if moved > BALL_RADIUS_M:
            warnings.append(
                f"the ball was moved by {100 * moved:.0f} cm shortly before contact; its last position at rest was used"
            )
    if setup.ball_marker == "top":
        centre = centre - [0, BALL_RADIUS_M, 0]
    error = float(samples[:, 0].std(ddof=1) / np.sqrt(len(samples))) if len(samples) > 1 else 0.001
    return centre, "marker", error


def _ball_from_address(
    names: tuple[str, ...], points: np.ndarray, rate_hz: float, contact_s: float | None, setup: Setup
) -> tuple[np.ndarray, str, float] | None:
    if "clubhead" not in names:
        return None
    head = points[:, names.index("clubhead")]
    still = address_stretch(head, rate_hz, contact_s)
    if still is None:
        return None
    centre = np.nanmean(head[still], axis=0)
    centre[0] += BALL_RADIUS_M + (setup.reference_behind_face_cm or 0.0) / 100
    return centre, "ball_from_address", ADDRESS_BALL_SE_M


def _origin_without_ball(names: tuple[str, ...], points: np.ndarray, rate_hz: float) -> np.ndarray:
    """Point on the turf below the middle of the feet, else of the pelvis, else of all points, early in the capture."""
    feet = ("ankle_lateral", "ankle_medial", "ankle", "heel", "toe")
    pelvis = ("asis", "psis", "hip")
    for stems in (feet, pelvis):
        sides = []
        for side in ("left", "right"):
            places = [k for k, name in enumerate(names) if name in {f"{stem}_{side}" for stem in stems}]
            seen = _early(points[:, places], rate_hz)
            if seen is not None:
                sides.append(seen)
        if len(sides) == 2:
            return (sides[0] + sides[1]) / 2 * [1, 0, 1]
    everything = _early(points, rate_hz)
    return np.zeros(3) if everything is None else everything * [1, 0, 1]


def _early(points: np.ndarray, rate_hz: float) -> np.ndarray | None:
    """Mean position of points over the first quarter second with samples; None if there are no samples."""
    seen = (
        np.flatnonzero(np.isfinite(points).all(axis=-1).any(axis=1)) if points.shape[1] else np.empty(0, int)
    )
    if not len(seen):
        return None
    some = points[seen[0] : seen[0] + max(1, round(rate_hz / 4))]
    flat = some.reshape(-1, 3)
    return flat[np.isfinite(flat).all(axis=1)].mean(axis=0)
