"""Regression of pelvis, hand and club positions on a posture, over the swings of one golfer, at times before impact."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from swinglab.errors import BadRequest
from swinglab.records import Events, Trial
from swinglab.simulate.measured_body import MeasuredBody

#: Times from impact (s) at which the coefficients are estimated, from well before delivery to just before impact. After
#: impact the ball has changed the club's path, so the last coefficients are extrapolated linearly in time.
TIMES_S = np.linspace(-0.20, -0.004, 50)
#: Time after impact up to which they are extrapolated, and duration before impact to which the line is fitted.
AFTER_S, LINE_OVER_S = 0.15, 0.012
FEWEST_SWINGS, FEWEST_FRAMES = 5, 8


@dataclass(frozen=True, slots=True, eq=False)
class OwnShare:
    """Slopes of the positions of pelvis, hands and clubhead on a posture, over one golfer's swings.

    quantity : name of the posture. time_s : (m,) times from impact. pelvis_m, hands_m, clubhead_m : (m, 3) metres per
    unit of the posture. n_swings : number of swings used.
    """

    quantity: str
    time_s: np.ndarray
    pelvis_m: np.ndarray
    hands_m: np.ndarray
    clubhead_m: np.ndarray
    n_swings: int

    def at(self, name: str, since_impact_s: np.ndarray) -> np.ndarray:
        """Return the coefficients (n, 3), m per unit of posture, of a point at times (n,) in s from impact.

        `name` : "pelvis_m", "hands_m" or "clubhead_m". Before the first and after the last time they are constant.
        """
        values = getattr(self, name)
        return np.column_stack([np.interp(since_impact_s, self.time_s, values[:, k]) for k in range(3)])


def estimate_own_share(
    quantity: str, posture: Sequence[float], swings: Sequence[tuple[Trial, Events]]
) -> OwnShare:
    """Regress positions of pelvis, hands and clubhead on a posture over one golfer's swings, at times before impact.

    Parameters
    ----------
    quantity : str
        Name of the posture, an angle of the thorax.
    posture : sequence of float
        Its value in each swing, at one event.
    swings : sequence of (Trial, Events)
        At least five swings of the same golfer, in which impact was found.

    Returns
    -------
    OwnShare
        Least-squares slopes on the posture, from regressions with an intercept.

    Raises
    ------
    BadRequest
        Too few swings or too few frames before impact, a posture that does not vary, or numbers of values and swings
        that differ.

    Notes
    -----
    The coefficients are associations in this golfer's swings. If the posture varies together with another cause, they
    include the effect of that cause.
    """
    value = np.asarray(posture, dtype=float)
    if len(value) != len(swings):
        raise BadRequest(
            f"the argument posture has {len(value)} values, but there are {len(swings)} swings",
            do="give one value of the posture for each swing",
        )
    usable = [k for k, (_, events) in enumerate(swings) if np.isfinite(value[k]) and events.found("impact")]
    if len(usable) < FEWEST_SWINGS or np.ptp(value[usable]) == 0:
        raise BadRequest(
            f"{len(usable)} swings with impact and a value of {quantity} are too few, or {quantity} does not vary",
            do=f"give at least {FEWEST_SWINGS} swings with different values",
        )
    paths = np.stack([_paths(*swings[k]) for k in usable])  # (swings, points, times, 3)
    off = value[usable] - value[usable].mean()
    slopes = np.tensordot(off, paths - paths.mean(axis=0), axes=1) / (off @ off)
    late = TIMES_S[-1] - LINE_OVER_S < TIMES_S
    further = np.linspace(0.0, AFTER_S, 40)
    line = [np.polyfit(TIMES_S[late], point[late], 1) for point in slopes]
    beyond = [np.outer(further, fit[0]) + fit[1] for fit in line]
    coefficients = [np.vstack(pair) for pair in zip(slopes, beyond, strict=True)]
    pelvis, hands, clubhead = coefficients
    return OwnShare(quantity, np.append(TIMES_S, further), pelvis, hands, clubhead, len(usable))


def _paths(trial: Trial, events: Events) -> np.ndarray:
    """Positions (3, m, 3) of pelvis, hands and clubhead at times before impact, by cubic splines through the frames."""
    body = MeasuredBody(trial)
    since = trial.time_s - events.time_s("impact")
    points = np.stack([body.mid_hip, body.hands, trial.point("clubhead")])
    seen = np.isfinite(points).all(axis=(0, 2)) & (since < 0)
    if seen.sum() < FEWEST_FRAMES:
        raise BadRequest(
            "pelvis, hands and clubhead are visible in too few frames before impact", file=trial.file,
            where=f"swing {trial.swing}", do="leave out this swing",
        )  # fmt: skip
    return CubicSpline(since[seen], points[:, seen], axis=1)(TIMES_S)
