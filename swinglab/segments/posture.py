"""Posture of one swing in every frame: all quantities for which it has landmarks, with methods and standard errors."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from swinglab.columns import QUANTITIES, SCALE_FREE
from swinglab.conventions import NO_SCALE, NO_SCALE_WORDS, ONE_CAMERA, ONE_CAMERA_WORDS
from swinglab.records import Posture, Trial
from swinglab.segments.anatomy import centres_of, frames_of
from swinglab.segments.body import Body, Made
from swinglab.segments.centres import check_hip_method
from swinglab.segments.geometry import unwrapped
from swinglab.segments.neutral import add_from_neutral
from swinglab.segments.noise import point_errors, propagate_errors
from swinglab.segments.quantities import SHAFT_STAND_IN_DEG, measure_all
from swinglab.segments.singular import near_singular
from swinglab.segments.sizes import measure_sizes

#: Quantities with these words in their names are rotations about a vertical or long axis, which one camera cannot see.
TURNS = ("axial_rotation", "separation")


def measure_posture(
    trial: Trial, *, hip_method: str = "harrington", neutral: Trial | Posture | None = None
) -> Posture:
    """Return segment angles, joint angles and positions of one swing in every frame.

    Parameters
    ----------
    trial : Trial
        A swing in the study frame.
    hip_method : str
        Regression of the hip joint centres: ``"harrington"`` [harrington2007]_, ``"harrington_single"``,
        ``"bell"`` [bell1990]_ or ``"hara"`` [hara2016]_; see `hip_centres`.
    neutral : Trial or Posture, optional
        A capture of the golfer standing in a neutral posture. Angles minus their mean in this capture are added as
        ``<part>_<motion>_from_neutral_deg``; the other quantities do not change.

    Returns
    -------
    Posture
        Angles in degrees, without jumps of 360 degrees; positions in centimetres from the origin on the turf under
        the ball. `missing` gives the reason why a quantity cannot be measured.

    Raises
    ------
    BadRequest
        An unknown hip method.

    Notes
    -----
    Frame: angles of pelvis and thorax are relative to the golfer's frame (X to the ball, Y up, Z to the trail side).
    Segment axes of pelvis and femur are those of [wu2002]_, of thorax, humerus and forearm those of [wu2005]_, of the
    knee those of [grood1983]_.

    Sequence: pelvis and thorax in turn-first order (intrinsic Y-X-Z [baker2001]_) and, with names that contain
    ``_isb``, in ISB order (intrinsic Z-X-Y); also as lean, lean direction and spin. Joints Z-X-Y, shoulder Y-X-Y.

    Sign: axial rotation is positive when open to the target, lateral flexion when the trail side is lower, flexion when
    bent forward.

    Differs from the source: in the ISB recommendation extension of thorax and spine is positive, here flexion is.

    Missing: if a landmark is absent, the quantities that need it are missing, with the reason. A substitute (T10 for
    T8, sacrum for PSIS, joint centres) is named in `methods`.

    Standard errors include the marker noise that remains after smoothing, the deformation of segments in this swing
    (motion of their markers relative to each other) and the bias of the filter in fast motion. They do not include
    marker placement error or soft tissue that moves all markers of a segment together.

    Examples
    --------
    >>> posture = measure_posture(trial)  # doctest: +SKIP
    >>> posture.curve("thorax_axial_rotation_deg").shape  # doctest: +SKIP
    (340,)
    """
    check_hip_method(hip_method)
    body = body_of(trial, hip_method)
    given = measure_all(body)
    if trial.setup.unit == NO_SCALE:
        given |= {name: NO_SCALE_WORDS for name in given if QUANTITIES[name].unit not in SCALE_FREE}
    if trial.setup.source == ONE_CAMERA:
        given |= {name: ONE_CAMERA_WORDS for name in given if any(turn in name for turn in TURNS)}
    ordered = {name: given[name] for name in QUANTITIES if name in given}
    measured = {name: made for name, made in ordered.items() if isinstance(made, Made)}
    missing = {name: reason for name, reason in given.items() if isinstance(reason, str)}
    reference = _reference_frame(trial)
    values = np.full((len(trial.time_s), len(measured)), np.nan)
    for k, made in enumerate(measured.values()):
        values[:, k] = made.value
    angles = [k for k, name in enumerate(measured) if QUANTITIES[name].unit == "deg"]
    values[:, angles] = unwrapped(values[:, angles], reference)
    errors, noise_errors = _errors(trial, body, measured, values)
    posture = Posture(
        swing=trial.swing, golfer=trial.golfer, hand=trial.hand, kind=trial.kind, time_s=trial.time_s,
        quantities=tuple(measured), values=values, standard_errors=errors, noise_errors=noise_errors,
        methods={name: _method(made, trial) for name, made in measured.items()}, missing=missing,
        rotations=frames_of(body), centres_m=centres_of(body), warnings=_warnings(trial, measured, values),
        stand_ins=tuple(name for name, made in measured.items() if made.stand_in),
    )  # fmt: skip
    if neutral is None:
        return posture
    if isinstance(neutral, Trial):
        neutral = measure_posture(neutral, hip_method=hip_method)
    return add_from_neutral(posture, neutral)


def body_of(trial: Trial, hip_method: str) -> Body:
    """Return the body of a trial, with body lengths and all landmarks that are visible in at least one frame.

    `hip_method` : regression of the hip centres, as in `measure_posture`.
    """
    contiguous = np.ascontiguousarray(trial.points_m.transpose(1, 2, 0))
    there = np.isfinite(contiguous).any(axis=(1, 2))
    points = {name: contiguous[k].T for k, name in enumerate(trial.landmarks) if there[k]}
    labels = trial.setup.landmarks
    return Body(
        points, sizes=measure_sizes(Body(points)), hip_method=hip_method, labels=labels, ball_m=trial.ball_m,
        marker_radius_m=(trial.setup.marker_radius_mm or 0.0) / 1000.0,
    )  # fmt: skip


def _method(made: Made, trial: Trial) -> str:
    """Method text of a quantity; includes the source of the coordinates if the study states it."""
    return "; ".join(part for part in (made.method, trial.setup.source) if part)


def _reference_frame(trial: Trial) -> int:
    """Index of the frame in which unwrapped angles lie within -180 to 180 degrees.

    It is the frame of contact, where the golfer is not far turned, or the first frame if contact is unknown.
    """
    if trial.contact_time_s is None:
        return 0
    return int(np.searchsorted(trial.time_s, trial.contact_time_s))


def _errors(
    trial: Trial, body: Body, measured: Mapping[str, Made], values: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Standard errors (n_frames, n_quantities) from the errors of the points, the ball's position and the shaft.

    The second result is the same without the deformation of segments.
    """
    if not measured:
        return values.copy(), values.copy()
    angle = np.array([QUANTITIES[name].unit == "deg" for name in measured])

    def measure(points: Mapping[str, np.ndarray]) -> list[np.ndarray]:
        moved = Body(
            points, sizes=body.sizes, hip_method=body.hip_method, labels=body.labels, ball_m=body.ball_m,
            marker_radius_m=body.marker_radius_m,
        )  # fmt: skip
        given = {name: made for name, made in measure_all(moved).items() if isinstance(made, Made)}
        return [given[name].value for name in measured]

    total, noise = propagate_errors(body.points, point_errors(trial), measure, angle, trial)
    for errors in (total, noise):
        for k, (name, made) in enumerate(measured.items()):
            if name.endswith("_ahead_of_ball_cm") or name == "ball_ahead_of_lead_heel_cm":
                errors[:, k] = np.hypot(errors[:, k], 100.0 * trial.ball_se_m)
            if name == "shaft_forward_lean_deg" and made.stand_in:
                errors[:, k] = np.hypot(errors[:, k], SHAFT_STAND_IN_DEG)
        errors[~np.isfinite(values)] = np.nan
    return total, noise


def _warnings(trial: Trial, measured: Mapping[str, Made], values: np.ndarray) -> tuple[str, ...]:
    found = near_singular(tuple(measured), values, trial.time_s)
    unknown = [name for name, noise in zip(trial.landmarks, trial.noise_m, strict=True) if np.isnan(noise)]
    if unknown:
        found.append(
            f"the noise of these landmarks is not known: {', '.join(unknown)}. Quantities that use them have no "
            "standard error"
        )
    return tuple(found)
