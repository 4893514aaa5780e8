"""Measurement of the strike of a swing from its trial and events."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swinglab import columns
from swinglab.conventions import BALL_RADIUS_M, NO_SCALE, NO_SCALE_WORDS, ONE_CAMERA, ONE_CAMERA_WORDS
from swinglab.records import Events, Setup, Strike, Trial
from swinglab.strike.arc import Arc, NoSupport
from swinglab.strike.arc_selection import Fitted, address_height, fit_air, fit_strike
from swinglab.strike.contact_class import contact_class, contact_probabilities, find_low_angle
from swinglab.strike.outcomes import (
    Outcomes,
    Plane,
    Situation,
    add_delivery,
    add_heights,
    add_low_point,
    add_plane,
    add_turf_entry,
    find_plane,
    source_covariance,
)

#: Largest distance of the low point beyond the observed points, and its largest standard error. Then the largest
#: standard error of a direction. A value beyond its limit is missing.
FARTHEST_BEYOND_RAD, LEAST_SURE_CM = 0.35, 10.0
LEAST_SURE_DEG = 5.0
NOT_SURE = f"not determined: the standard error is above {LEAST_SURE_DEG:.0f} degrees"

#: Texts for the method of the strike: whether the position of impact on the arc is from the ball or from the event.
_BY_BALL, _BY_TIME = "impact from the ball's position", "impact from the event's time"
DELIVERY = ("clubhead_speed_mps", "attack_angle_deg", "club_path_in_to_out_deg")
LOW_POINT = ("low_point_ahead_cm", "low_point_ahead_of_lead_heel_cm", "low_point_height_cm", "arc_radius_m")
PLANE = ("arc_plane_inclination_deg", "arc_plane_direction_in_to_out_deg")
ENTRY = "turf_entry_ahead_cm"
FEWEST_IN_PLANE = 4


def measure_strike(trial: Trial, events: Events) -> Strike:
    """Return the strike of one swing: speed, attack angle, path, low point, turf entry, plane, radius and contact.

    All values describe the undisturbed arc: the path of the clubhead before impact, continued as if there were no
    ball. A circle with a smooth deviation from it (as in an ellipse, or if the centre of the circle moves) is fitted
    to the unfiltered points before impact. Points after impact contribute to the curvature only; direction and speed
    may change at impact, and points are not used after the sole has met the turf. Where the clubhead is hidden, its
    position is computed from other markers of the club.

    Parameters
    ----------
    trial : Trial
        The swing in the study frame; the unfiltered positions of its landmark ``clubhead`` are used (`raw_m`).
    events : Events
        Events of the same swing: `impact` and, if found, `address`, `top` and `shaft_horizontal_down`.

    Returns
    -------
    Strike
        `values` and `standard_errors` by the names of `columns.STRIKES`, NaN if missing, with the reason in `missing`;
        `covariance` of the errors of the values that are present; `contact` with its probabilities. `arc` contains the
        data for a figure, in metres in the study frame: `time_s` (n,) and `points_m` (n, 3) of the clubhead; `used`
        (n,) (1 used before impact, -1 used after impact, 0 not used); `rebuilt` (n,) (True where the clubhead was
        hidden); `noise_m` (1,) SD of the noise of one coordinate; `curve_m` (m, 3) points on the fitted path;
        `contact_m` (3,), `contact_s` (1,) and `contact_se_s` (1,) place and time of impact, with the standard error of
        the time; `low_point_m` (3,); `ball_m` (3,); `plane_axes` (3, 3) of the reference circle (rows: horizontal line
        of its plane, line of steepest slope, normal); `address_height_m` (1,) height of the clubhead at address.

    Notes
    -----
    Sign: the attack angle is positive upward, the path positive in-to-out (away from the golfer), low point and turf
    entry positive on the target side of the centre of the ball, heights positive above the turf.

    Missing: all values if there is no clubhead, no impact, fewer than five frames before impact, a ball farther than
    5 cm from the path, or a putt (clubhead speed below 4 m/s). The low point if it is far beyond the observed points.
    Heights, turf entry and contact if the sole of the club was not on the turf at address. Contact for a ball on a tee,
    in sand, on a slope, and for a putt.

    References: wahba1983, rousseeuw1984.

    Examples
    --------
    >>> from swinglab.strike import measure_strike
    >>> strike = measure_strike(trial, events)  # doctest: +SKIP
    >>> strike.values["attack_angle_deg"], strike.standard_errors["attack_angle_deg"]  # doctest: +SKIP
    (-4.1, 0.2)
    """
    try:
        fitted = fit_strike(trial, events) if events.found("impact") else fit_air(trial, events)
        return _report(trial, events, fitted)
    except NoSupport as reason:
        return _nothing(trial, str(reason))


def _nothing(trial: Trial, reason: str) -> Strike:
    names = tuple(columns.STRIKES)
    return Strike(
        trial.swing, trial.golfer, dict.fromkeys(names, float("nan")), dict.fromkeys(names, float("nan")), (),
        np.zeros((0, 0)), missing=dict.fromkeys((*names, "contact"), reason),
    )  # fmt: skip


def _situation(trial: Trial, events: Events, fitted: Fitted, plane: Plane | str) -> Situation:
    height, height_sd = address_height(trial, events)
    soled = trial.setup.soled_at_address
    rate, rate_sd = float("nan"), float("nan")
    if fitted.travel is not None:
        rate = fitted.travel.angle(fitted.contact_s, 1)
        rate_sd = fitted.travel.rate_error(fitted.contact_s)
    heel = float("nan")
    if trial.has("heel_left"):
        when = fitted.contact_s if fitted.travel is not None else float(fitted.path.time_s.mean())
        heel = float(trial.point("heel_left")[int(np.argmin(np.abs(trial.time_s - when))), 0])
    return Situation(
        contact=fitted.contact,
        along_sd=fitted.along_sd,
        ball_x=float("nan") if trial.ball_m is None else float(trial.ball_m[0]),
        ball_sd=trial.ball_se_m,
        ball_sets_contact=fitted.by_ball,
        address_height=height if soled else float("nan"),
        sole_sd=float(np.hypot(trial.setup.sole_height_se_mm / 1000, np.nan_to_num(height_sd))),
        rate=rate,
        rate_sd=rate_sd,
        lead_heel_x=heel,
        plane=None if isinstance(plane, str) else plane,
    )


def _report(trial: Trial, events: Events, fitted: Fitted) -> Strike:
    plane = _find_plane(events, fitted) if fitted.travel is not None else "no impact"
    arc, situation = fitted.arc, _situation(trial, events, fitted, plane)
    out = Outcomes(source_covariance(arc, situation))
    missing: dict[str, str] = {}
    struck = fitted.travel is not None
    low = find_low_angle(arc)
    moved = np.zeros(0)
    if struck:
        moved = add_delivery(out, arc, situation)
        for name in DELIVERY[1:]:
            if out.error(name) > LEAST_SURE_DEG:
                missing[name] = NOT_SURE
        if isinstance(plane, str):
            missing |= dict.fromkeys(PLANE, plane)
        else:
            add_plane(out, plane)
            for name in PLANE:
                if out.error(name) > LEAST_SURE_DEG:
                    missing[name] = NOT_SURE
    else:
        reason = events["impact"].note or "no impact was found"
        missing |= dict.fromkeys((*DELIVERY, *PLANE, ENTRY, "contact"), reason)
    lost = _low_point_lost(fitted, low)
    if lost is None:
        add_low_point(out, arc, situation, low)
        if out.error("low_point_ahead_of_lead_heel_cm") > LEAST_SURE_CM:
            lost = "the low point is not determined: its standard error is above 10 cm"
    if lost is not None:
        missing |= dict.fromkeys((*LOW_POINT, ENTRY), lost)
    contact, probabilities = "", dict[str, float]()
    if struck:
        if lost is None:
            _add_entry(out, arc, situation, low, missing)
        contact, probabilities = _contact(out, trial, arc, situation, moved, low, missing)
    _drop_unknown(trial, situation, missing)
    if trial.setup.unit == NO_SCALE:
        missing |= {
            name: NO_SCALE_WORDS for name, c in columns.STRIKES.items() if c.unit not in columns.SCALE_FREE
        }
    if trial.setup.source == ONE_CAMERA:
        missing |= dict.fromkeys((*DELIVERY[1:], *LOW_POINT, *PLANE, ENTRY, "contact"), ONE_CAMERA_WORDS)
        contact, probabilities = "", {}
    names = tuple(name for name in columns.STRIKES if name in out.values and name not in missing)
    covariance = out.covariance_of(names)
    errors = dict(zip(names, np.sqrt(np.diag(covariance)), strict=True))
    nan = float("nan")
    sides = "points before and after impact" if (arc.used < 0).any() else "points before impact"
    place = "no impact" if not struck else (_BY_BALL if fitted.by_ball else _BY_TIME)
    method = "; ".join(part for part in ("smooth arc", sides, place, trial.setup.source) if part)
    return Strike(
        trial.swing, trial.golfer,
        {name: out.values[name] if name in names else nan for name in columns.STRIKES},
        {name: float(errors[name]) if name in names else nan for name in columns.STRIKES},
        names, covariance, contact, probabilities, method, missing,
        _for_figures(trial, fitted, situation, low), _warnings(trial, fitted),
    )  # fmt: skip


def _warnings(trial: Trial, fitted: Fitted) -> tuple[str, ...]:
    words = []
    struck = fitted.travel is not None
    if struck and trial.ball_method in ("marker", "study") and trial.setup.reference_behind_face_cm is None:
        words.append(
            "the distance of the clubhead marker behind the face is not known: 0 +/- 1.5 cm was assumed "
            "(set reference_behind_face_cm under [club])"
        )
    beside = trial.setup.reference_beside_face_cm
    if struck and beside > 0:
        words.append(
            f"the clubhead marker is {beside:g} cm beside the centre of the face: speed and path are those of the "
            "marker, and heights above the turf are correct only if the shaft leans at impact as at address"
        )
    if struck and trial.setup.surface == "mat":
        words.append(
            "the ball lay on a mat: turf entry and contact are those that would have resulted on turf"
        )
    arc, path = fitted.arc, fitted.path
    if struck and (arc.used < 0).any() and not (trial.setup.teed or trial.setup.soled_at_address):
        words.append(
            "points after impact were used for the arc, but it is not known whether the sole had met the turf before "
            "(a divot), which may have changed the path (set soled_at_address under [club], or teed under [ball])"
        )
    last = fitted.contact_s if struck else np.inf
    window = (path.time_s >= path.time_s[arc.used > 0].min()) & (path.time_s < last - 1e-3)
    faults = int((window & (arc.used == 0) & np.isfinite(path.points_m).all(axis=1)).sum())
    if faults:
        words.append(
            f"frames before impact that were not used, because the clubhead marker is not on the path: {faults}"
        )
    return tuple(words)


def _low_point_lost(fitted: Fitted, low: float) -> str | None:
    """Reason why there is no low point, or None if there is one."""
    if not np.isfinite(low):
        return "the arc has no low point within 50 degrees of impact"
    seen = fitted.arc.angle_of(fitted.path.points_m[fitted.arc.used != 0])
    beyond = max(low - seen.max(), seen.min() - low)
    if beyond > FARTHEST_BEYOND_RAD:
        return f"the low point is {np.degrees(beyond):.0f} degrees of arc beyond the observed points"
    return None


def _find_plane(events: Events, fitted: Fitted) -> Plane | str:
    """Plane of the clubhead from shaft_horizontal_down to impact, or the reason why there is none."""
    if not events.found("shaft_horizontal_down"):
        note = events["shaft_horizontal_down"].note
        return "the event shaft_horizontal_down is missing" + (f": {note}" if note else "")
    path, arc, start_s = fitted.path, fitted.arc, events.time_s("shaft_horizontal_down")
    seen = np.isfinite(path.points_m).all(axis=1) & (path.time_s < fitted.contact_s)
    covered = seen & (arc.used == 0) & (path.time_s >= path.time_s[arc.used > 0].min())
    first = np.flatnonzero(seen & (path.time_s <= start_s))
    # Points that the arc rejected are outliers and are not used; before the arc's window all points are used.
    seen &= ~covered & (path.time_s >= (path.time_s[first[-1]] if len(first) else start_s))
    if seen.sum() < FEWEST_IN_PLANE or len(first) == 0:
        return "too few frames from shaft_horizontal_down to impact"
    time = np.append(path.time_s[seen], fitted.contact_s)
    points = np.vstack([path.points_m[seen], arc.curve(fitted.contact)])
    noise = np.append(np.hypot(arc.noise_m, path.extra_sd_m[seen]), arc.off_plane_error(fitted.contact))

    def plane_from(start: float) -> Plane:
        return find_plane(time, points, noise, start, fitted.contact_s)

    plane = plane_from(start_s)
    later = start_s + float(np.nan_to_num(events["shaft_horizontal_down"].standard_error_s))
    if start_s < later < time[-FEWEST_IN_PLANE]:
        # The error of the start time also tilts the plane.
        turned = plane.axes @ (plane_from(later).normal - plane.normal)
        plane = replace(plane, tilt_sd=np.hypot(plane.tilt_sd, turned))
    return plane


def _add_entry(out: Outcomes, arc: Arc, situation: Situation, low: float, missing: dict[str, str]) -> None:
    """Add the turf entry to `out`, or to `missing` if the sole does not meet the turf."""
    if not np.isfinite(situation.address_height):
        return
    if not np.isfinite(add_turf_entry(out, arc, situation, low)):
        missing[ENTRY] = "the sole does not meet the turf"


def _contact(
    out: Outcomes, trial: Trial, arc: Arc, situation: Situation, moved: np.ndarray, low: float,
    missing: dict[str, str],
) -> tuple[str, dict[str, float]]:  # fmt: skip
    setup = trial.setup
    if unsuited := _no_contact_class(setup):
        missing["contact"] = unsuited
    elif not np.isfinite(situation.address_height):
        missing["contact"] = _no_sole(trial)
    elif trial.ball_m is None:
        missing["contact"] = "the position of the ball is not known"
    if "contact" in missing:
        return "", {}
    limit = situation.ball_x - BALL_RADIUS_M - setup.fat_behind_cm / 100
    add_heights(out, arc, situation, moved, limit, low)
    pair = ("sole_before", "sole_at_impact")
    probabilities = contact_probabilities(
        out.values[pair[0]], out.values[pair[1]], out.covariance_of(pair), setup.thin_above_cm / 100
    )
    return contact_class(probabilities), probabilities


def _no_contact_class(setup: Setup) -> str:
    """Reason why fat, clean and thin do not apply to this ball and ground, or an empty string."""
    if setup.unit == NO_SCALE:
        return NO_SCALE_WORDS
    if setup.teed or setup.surface == "tee":
        return "the ball is on a tee"
    if setup.surface == "sand":
        return "the ball is in sand"
    if setup.lie != "level":
        return f"the lie is not level ({setup.lie})"
    return "a putt has no contact class" if setup.shot == "putt" else ""


def _no_sole(trial: Trial) -> str:
    if trial.setup.soled_at_address:
        return "no address: the height of the sole is not known"
    return "study.toml does not state that the sole of the club is on the turf at address (soled_at_address)"


def _drop_unknown(trial: Trial, situation: Situation, missing: dict[str, str]) -> None:
    """Add the reasons for outcomes that are unknown although the arc is known."""
    if not np.isfinite(situation.address_height):
        for name in ("low_point_height_cm", ENTRY):
            missing.setdefault(name, _no_sole(trial))
    if trial.ball_m is None:
        for name in ("low_point_ahead_cm", ENTRY):
            missing.setdefault(name, "the position of the ball is not known")
    if not np.isfinite(situation.lead_heel_x):
        missing.setdefault("low_point_ahead_of_lead_heel_cm", "no landmark heel_left at impact")


def _contact_error(fitted: Fitted, situation: Situation) -> float:
    """Standard error of the time of contact, seconds: that of the position along the path, divided by the speed."""
    if fitted.travel is None:
        return float("nan")
    along_sd = np.hypot(situation.along_sd, situation.ball_sd if fitted.by_ball else 0.0)
    return float(along_sd / (np.linalg.norm(fitted.arc.curve(fitted.contact, 1)) * situation.rate))


def _for_figures(trial: Trial, fitted: Fitted, situation: Situation, low: float) -> dict[str, np.ndarray]:
    arc = fitted.arc
    angles = arc.angle_of(fitted.path.points_m[arc.used != 0])
    first = float(angles.min())
    last = max(float(angles.max()), low + 0.2 if np.isfinite(low) else 0.3)
    level = np.cross([0.0, 1.0, 0.0], arc.normal)
    level *= np.sign(level[0]) / np.linalg.norm(level)
    slope = np.cross(arc.normal, level)
    slope *= np.sign(slope[1])
    unknown = np.full(3, np.nan)
    return {
        "time_s": fitted.path.time_s,
        "points_m": fitted.path.points_m,
        "used": arc.used,
        "rebuilt": fitted.path.rebuilt,
        "curve_m": arc.curve(np.linspace(first, last, 120)),
        "contact_m": arc.curve(fitted.contact) if np.isfinite(fitted.contact) else unknown,
        "contact_s": np.array([fitted.contact_s]),
        "contact_se_s": np.array([_contact_error(fitted, situation)]),
        "low_point_m": arc.curve(low) if np.isfinite(low) else unknown,
        "ball_m": unknown if trial.ball_m is None else np.asarray(trial.ball_m),
        "plane_axes": np.array([level, slope, np.cross(level, slope)]),
        "address_height_m": np.array([situation.address_height]),
        "noise_m": np.array([arc.noise_m]),
    }
