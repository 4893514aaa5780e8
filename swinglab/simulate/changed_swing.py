"""A measured swing after a simulated change of posture, with its consequences for the swing from geometry alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from scipy.spatial.transform import Rotation

from swinglab.conventions import BALL_LANDMARK, GOLFER_AXES, is_club_landmark
from swinglab.errors import MissingInput
from swinglab.records import Events, Trial
from swinglab.simulate.club_to_ball import LeadArm, meet_ball
from swinglab.simulate.measured_body import MeasuredBody
from swinglab.simulate.motion import Motion, bend_limb, draw_near, turn_about, turn_between
from swinglab.simulate.posture_change import (
    BALL,
    ELBOW,
    HANDS_KEEP_PATH,
    HANDS_ON_CLUB,
    OWN_SHARE,
    PELVIS,
    THORAX,
    PostureChange,
    course,
)

#: A leg that is too short by less than this is not reported.
SHORT_M = 0.005
_PELVIS_STEMS = ("asis", "psis", "hip")
_FOOT_STEMS = ("heel", "toe", "ankle", "ankle_lateral", "ankle_medial")


def what_if(trial: Trial, events: Events, change: PostureChange | Mapping[str, float]) -> Trial:
    """Return a measured swing with a changed posture from before delivery until after impact, by geometry.

    Parameters
    ----------
    trial : Trial
        A measured or simulated swing, in the study frame.
    events : Events
        Events of the swing; top, delivery and impact are needed.
    change : PostureChange or mapping of str to float
        The change, or for each posture quantity the amount that is added, in its unit. With a mapping the default
        variant is used: both hands stay on the club, the feet do not move, and segments keep their lengths. The arc of
        the clubhead moves with the lead shoulder, and arm and club are raised or lowered so that the clubhead still
        meets the ball.

    Returns
    -------
    Trial
        The changed swing with the same frames and landmarks, which can be measured like any other. A change of 0
        returns exactly the same numbers. `warnings` report if a limb is too short or the clubhead misses the ball.

    Raises
    ------
    BadRequest
        An event that the change needs is missing, markers are missing before impact, or the change is not valid (see
        `PostureChange`).
    MissingInput
        A landmark that the change needs is missing.

    Notes
    -----
    A thorax angle changes by the requested amount in turn-first order, by a rotation about a point fixed to the pelvis
    (`pivot_share`). Pelvis positions change along the axes of the study frame. The position of the ball is changed by
    moving the golfer, because the ball is the origin. The change is constant from before delivery until after impact,
    so that it adds nothing to the speed of the clubhead. Filtered and unfiltered points are changed in the same way.
    This is a geometric calculation, not advice. It does not include forces, timing or the abilities of a person.

    Examples
    --------
    >>> tilted = what_if(trial, events, {"thorax_lateral_flexion_deg": 5.0})  # doctest: +SKIP
    >>> measure_strike(tilted, find_events(tilted, None)).values["attack_angle_deg"]  # doctest: +SKIP
    """
    if not isinstance(change, PostureChange):
        change = PostureChange(change)
    share = course(trial.time_s, events, change.easing)
    if not any(change.amounts.values()):
        return trial
    chain = _Chain(trial, events, change, share)
    points, raw = np.array(trial.points_m), np.array(trial.raw_m)
    for k, name in enumerate(trial.landmarks):
        motion = chain.motion_of(name)
        if motion is None:
            continue
        for samples in (points, raw):
            # Where the share of the change is 0, only the golfer's position may differ, even if frames are missing.
            samples[:, k] = np.where(
                share[:, None] > 0, motion.apply(samples[:, k]), chain.golfer.apply(samples[:, k])
            )
    return replace(trial, points_m=points, raw_m=raw, warnings=(*trial.warnings, *chain.warnings))


class _Chain:
    """The rigid motions of all segments that result from one change of posture."""

    def __init__(self, trial: Trial, events: Events, change: PostureChange, share: np.ndarray) -> None:
        self.trial, self.events, self.change, self.share = trial, events, change, share
        self.body = MeasuredBody(trial, change.pivot_share)
        self.warnings: list[str] = []
        n = len(trial.time_s)
        self.golfer = Motion(np.zeros((n, 3, 3)), np.zeros((n, 3)), np.tile(self._ball_shift(), (n, 1)))
        self.pelvis = self._pelvis()
        self.thorax = self._thorax()
        self.club = self._club()
        self._segments: dict[str, Motion] = {}
        for side in ("left", "right"):
            self._add_arm(side)
            self._add_leg(side)

    def motion_of(self, landmark: str) -> Motion | None:
        """Return the rigid motion by which a landmark is displaced in each frame; None for the ball."""
        if landmark == BALL_LANDMARK:
            return None
        if is_club_landmark(landmark):
            return self.club
        stem, _, side = landmark.rpartition("_")
        if side not in ("left", "right"):
            return self.pelvis if landmark == "sacrum" else self.thorax
        if stem in _PELVIS_STEMS:
            return self.pelvis
        if stem in _FOOT_STEMS:
            return self.golfer
        return self._segments.get(landmark, self.thorax)

    # --- trunk -----------------------------------------------------------------------------------------------

    def _ball_shift(self) -> np.ndarray:
        return np.array([-self.change.amount(BALL[0]), 0.0, -self.change.amount(BALL[1])]) / 100

    def _pelvis(self) -> Motion:
        shift = np.array([self.change.amount(name) for name in PELVIS]) / 100
        moved = self.golfer.end + self.share[:, None] * shift
        return Motion(self.golfer.turn, self.golfer.start, moved + self._by_share("pelvis_m"))

    def _by_share(self, name: str) -> np.ndarray:
        """Displacement (n, 3), m, of a point as in the golfer's own swings (`OwnShare`); 0 in the other variants."""
        share = self.change.share
        if share is None:
            return np.zeros((len(self.share), 3))
        amount = self.change.amount(share.quantity)
        since = self.trial.time_s - self.events.time_s("impact")
        return amount * self.share[:, None] * share.at(name, since)

    def _thorax(self) -> Motion:
        body, n = self.body, len(self.share)
        amounts = [self.change.amount(name) for name in THORAX]
        if not any(amounts):
            return self.pelvis
        pivot = body.pivot
        turn = np.full((n, 3, 3), np.nan)
        seen = np.isfinite(body.thorax).all(axis=(1, 2))
        angles = Rotation.from_matrix(GOLFER_AXES.T @ body.thorax[seen]).as_euler("YXZ", degrees=True)
        changed = angles + self.share[seen, None] * np.array([amounts[0], amounts[1], -amounts[2]])
        after, before = (Rotation.from_euler("YXZ", a, degrees=True).as_matrix() for a in (changed, angles))
        turn[seen] = GOLFER_AXES @ (after @ np.swapaxes(before, 1, 2)) @ GOLFER_AXES.T - np.eye(3)
        return Motion(turn, pivot, self.pelvis.apply(pivot))

    # --- arms and club ---------------------------------------------------------------------------------------

    def _club(self) -> Motion:
        body, variant = self.body, self.change.variant
        if not self.trial.has("clubhead"):
            raise MissingInput(
                "the swing has no landmark clubhead, so the effect of a change of posture on the strike is not known",
                file=self.trial.file,
                do="assign a label to clubhead under [landmarks] in study.toml",
            )
        if variant == HANDS_KEEP_PATH:
            return Motion(self.thorax.turn, body.hands, body.hands)
        if variant == OWN_SHARE:
            return self._club_by_share()
        if variant == HANDS_ON_CLUB:
            club, missed = meet_ball(self.trial, self.events, self._lead_arm())
            self.warnings += [missed] if missed else []
            return club
        if not self.change.amount(ELBOW):
            return self.thorax
        elbow, axis = body.lead_elbow()
        bend = np.radians(self.change.amount(ELBOW)) * self.share[:, None]
        turn = turn_about(bend * np.einsum("nij,nj->ni", self.thorax.rotation, axis))
        return self.thorax.then(turn, self.thorax.apply(elbow))

    def _lead_arm(self) -> LeadArm:
        """The lead arm with unchanged direction in space; elbow flexion moves the wrist closer to the shoulder."""
        shoulder, wrist = self.body.shoulder("left"), self.body.wrist("left")
        reach = wrist - shoulder
        after = self.thorax.apply(shoulder)
        moved = wrist + (after - shoulder)
        if self.change.amount(ELBOW):
            elbow, _ = self.body.lead_elbow()
            upper, lower = (np.linalg.norm(a, axis=1) for a in (elbow - shoulder, wrist - elbow))
            length = np.linalg.norm(reach, axis=1)
            bend = np.arccos(np.clip((length**2 - upper**2 - lower**2) / (2 * upper * lower), -1.0, 1.0))
            bend = np.maximum(bend + np.radians(self.change.amount(ELBOW)) * self.share, 0.0)
            shorter = np.sqrt(upper**2 + lower**2 + 2 * upper * lower * np.cos(bend)) - length
            moved = moved + (shorter / length)[:, None] * reach
        return LeadArm(after, wrist, moved, self.share)

    def _club_by_share(self) -> Motion:
        hands, head = self.body.hands, self.trial.point("clubhead")
        by_hands = self._by_share("hands_m")
        by_head = self._by_share("clubhead_m")
        along = head - hands
        turn = turn_between(along, along + (by_head - by_hands))
        return Motion(turn, hands, hands + by_hands)

    def _add_arm(self, side: str) -> None:
        """Add elbow, wrist and hand of an arm, fitted between its shoulder and its hand on the club."""
        elbow = self.body.joint("elbow", side)
        girdle, lower = self._fit_arm(side, elbow) if elbow is not None else (self.thorax, self.thorax)
        for motion, stems in (
            (lower, ("elbow", "elbow_lateral", "elbow_medial")),
            (self.club, ("wrist", "wrist_radial", "wrist_ulnar", "hand")),
            (girdle, ("acromion", "shoulder")),
        ):
            self._segments |= {f"{stem}_{side}": motion for stem in stems}

    def _fit_arm(self, side: str, elbow: np.ndarray) -> tuple[Motion, Motion]:
        """Motions of shoulder girdle and forearm; the shoulder moves toward a hand that the arm cannot reach."""
        shoulder, wrist = self.body.shoulder(side), self.body.wrist(side)
        wrist_after, shoulder_after = self.club.apply(wrist), self.thorax.apply(shoulder)
        reach = np.linalg.norm(elbow - shoulder, axis=1) + np.linalg.norm(wrist - elbow, axis=1)
        shoulder_after = shoulder_after + draw_near(shoulder_after, wrist_after, reach)
        carried = self.thorax.apply(elbow)
        elbow_after, _ = bend_limb((shoulder, shoulder_after), (elbow, carried), (wrist, wrist_after))
        turn = turn_between(wrist - elbow, wrist_after - elbow_after)
        return Motion(self.thorax.turn, shoulder, shoulder_after), Motion(turn, elbow, elbow_after)

    # --- legs ------------------------------------------------------------------------------------------------

    def _add_leg(self, side: str) -> None:
        body = self.body
        knee, ankle = body.joint("knee", side), body.joint("ankle", side)
        if knee is None:
            return
        if ankle is None:
            stems = ("knee", "knee_lateral", "knee_medial")
            self._segments |= {f"{stem}_{side}": self.pelvis for stem in stems}
            return
        hip = self._hip(side)
        hip_after, ankle_after = self.pelvis.apply(hip), self.golfer.apply(ankle)
        carried = knee + (hip_after - hip + ankle_after - ankle) / 2
        after, short = bend_limb((hip, hip_after), (knee, carried), (ankle, ankle_after))
        if np.nanmax(short) > SHORT_M:
            word = "lead" if side == "left" else "trail"
            self.warnings.append(
                f"simulated change of posture: the {word} leg is up to {100 * np.nanmax(short):.1f} cm too short to "
                "reach the changed position of the pelvis"
            )
        motion = Motion(turn_between(knee - hip, after - hip_after), knee, after)
        self._segments |= {f"{stem}_{side}": motion for stem in ("knee", "knee_lateral", "knee_medial")}

    def _hip(self, side: str) -> np.ndarray:
        given = self.body.joint("hip", side)
        if given is not None:
            return given
        width = np.nanmedian(
            np.linalg.norm(self.trial.point("asis_right") - self.trial.point("asis_left"), axis=1)
        )
        out = (0.33 * width + 0.0073) * (1.0 if side == "right" else -1.0)  # Harrington et al. (2007)
        return self.body.mid_hip + out * self.body.pelvis[:, :, 2]
