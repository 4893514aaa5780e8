"""Effect of a simulated change of posture on the strike of a measured swing, and the slope of this effect."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from swinglab.errors import BadRequest, SwinglabError, near_names
from swinglab.events import find_events
from swinglab.records import Events, Strike, Trial
from swinglab.simulate import CHANGEABLE, EASINGS, OwnShare, PostureChange, what_if
from swinglab.strike import measure_strike

#: Strike quantities that a change of posture can affect. The height of the sole at impact relative to address
#: (`SOLE`) is computed from `Strike.arc`.
SOLE = "sole_at_impact_cm"
OUTCOMES = ("attack_angle_deg", "club_path_in_to_out_deg", "low_point_ahead_cm", "low_point_height_cm", SOLE)
#: An effect that differs by more than this share between time courses of the change is not reported, unless the
#: difference is below the resolution of the fit.
MOST_APART, RESOLVED = 0.2, {"deg": 0.05, "cm": 0.1}
#: Steps of the central difference, and the size for which a derivative is stated.
STEP, PER = {"deg": 1.0, "cm": 0.5}, {"deg": 10.0, "cm": 1.0}
#: Standard error of the height of the thorax's pivot, as a share of the trunk's length (a judgement: about 4 cm).
PIVOT_SE = 0.08


@dataclass(frozen=True, slots=True, eq=False)
class PostureEffect:
    """A measured swing after a simulated change of posture.

    trial, events, strike : of the changed swing. change : name of each outcome -> its value in the changed
    swing minus that in the measured swing, in its unit; NaN if missing. missing : outcome -> reason why it is
    missing. warnings : limits of the simulation that matter for this change.
    """

    trial: Trial
    events: Events
    strike: Strike
    change: Mapping[str, float]
    missing: Mapping[str, str]
    warnings: tuple[str, ...]


def posture_effect(
    trial: Trial, events: Events, change: PostureChange | Mapping[str, float], *, strike: Strike | None = None
) -> PostureEffect:
    """Change the posture of a measured swing by geometry, and return the changed swing and the change of its strike.

    Parameters
    ----------
    trial, events : Trial, Events
        The measured swing.
    change : PostureChange or mapping of str to float
        The change, or for each posture quantity the amount that is added to it, in its unit.
    strike : Strike, optional
        Strike of the measured swing; by default it is computed.

    Returns
    -------
    PostureEffect
        The change is applied with three time courses (`simulate.EASINGS`), because the true one is not known. An
        outcome whose effect differs by more than 20 % between them is missing.

    Raises
    ------
    BadRequest, MissingInput
        The change is not possible, or the swing lacks landmarks or events for it (see `simulate.what_if`).
    """
    change = change if isinstance(change, PostureChange) else PostureChange(change)
    before = outcomes_of(strike or measure_strike(trial, events))
    ways = [change.easing, *(easing for easing in EASINGS if easing != change.easing)]
    measured = [_measured(trial, events, replace(change, easing=easing)) for easing in ways]
    after, found, result = measured[0]
    effects = pd.DataFrame([{n: outcomes_of(m[2])[n] - before[n] for n in OUTCOMES} for m in measured])
    missing = {n: why for n in OUTCOMES if (why := _unsure(n, effects[n], result))}
    value = {n: float("nan") if n in missing else float(effects[n].iloc[0]) for n in OUTCOMES}
    return PostureEffect(after, found, result, value, missing, after.warnings[len(trial.warnings) :])


def _measured(trial: Trial, events: Events, change: PostureChange) -> tuple[Trial, Events, Strike]:
    """Return the changed swing, its events and its strike."""
    after = what_if(trial, events, change)
    found = events if after is trial else find_events(after, None)
    return after, found, measure_strike(after, found)


def outcomes_of(strike: Strike) -> dict[str, float]:
    """Return the quantities of a strike that posture can change: name -> value in its unit, NaN if missing."""
    values = {name: strike.values.get(name, float("nan")) for name in OUTCOMES if name != SOLE}
    height = float("nan")
    if "contact_m" in strike.arc:
        height = 100 * float(strike.arc["contact_m"][1] - strike.arc["address_height_m"][0])
    return {**values, SOLE: height}


def _unsure(outcome: str, effects: pd.Series, strike: Strike) -> str:
    """Return the reason why an effect is not reported; "" if it is reported.

    `effects` : the effect with each time course of the change. `strike` : strike of the changed swing.
    """
    if not np.isfinite(effects.iloc[0]):
        return strike.missing.get(outcome, "not measured before or after the change")
    apart = float(np.ptp(effects[np.isfinite(effects)]))
    limit = max(MOST_APART * abs(float(effects.iloc[0])), RESOLVED[outcome.rsplit("_", 1)[1]])
    if apart > limit or effects.isna().any():
        return "the effect depends on the assumed time course of the change"
    return ""


def sensitivity(
    trial: Trial,
    events: Events,
    *,
    postures: Sequence[str] = CHANGEABLE,
    variant: str = "hands_on_club",
    share: OwnShare | None = None,
    draws: int = 6,
) -> pd.DataFrame:
    """Return slopes of attack angle, club path, low point and sole height on each posture, from geometry alone.

    Parameters
    ----------
    trial, events : Trial, Events
        The measured swing.
    postures : sequence of str
        Posture quantities that can be changed; names from `simulate.CHANGEABLE`.
    variant : str
        How the arms and the club follow the changed body; a name from `simulate.VARIANTS`.
    share : OwnShare, optional
        Result of `simulate.estimate_own_share`; used only for the variant "own_share", which needs it.
    draws : int
        Number of random draws of noise from which the standard errors are computed; 0 for no standard errors.

    Returns
    -------
    pandas.DataFrame
        One row for each posture and outcome: posture, outcome, slope, standard_error (both per `per` units of the
        posture: 10 deg or 1 cm), per, note. A slope that cannot be computed is NaN, with the reason in `note`.

    Raises
    ------
    BadRequest, MissingInput
        An unknown posture, or a missing event that every change needs.

    Notes
    -----
    Slopes are central differences between two changed swings, each measured like a captured swing. The standard error
    contains the noise of the clubhead's position and, for the thorax, the uncertain height of its centre of rotation.
    The influence of that height, and of the time course of the change, is examined only for the changed swing in which
    the posture is larger.

    Examples
    --------
    >>> sensitivity(trial, events, postures=["thorax_lateral_flexion_deg"])  # doctest: +SKIP
    """
    unknown = [name for name in postures if name not in CHANGEABLE]
    if unknown:
        raise BadRequest(
            f"the posture {unknown[0]} cannot be changed by simulation in a measured swing",
            do=near_names(unknown[0], CHANGEABLE) or f"choose from {', '.join(CHANGEABLE)}",
        )
    what_if(
        trial, events, {"thorax_flexion_deg": 1.0}
    )  # raises where an event that every change needs is missing
    rows = []
    for posture in postures:
        try:
            rows += _slopes(trial, events, PostureChange({posture: 0.0}, variant, share=share), draws)
        except SwinglabError as fault:
            nothing = {"slope": np.nan, "standard_error": np.nan, "note": fault.what}
            unit = posture.rsplit("_", 1)[1]
            rows += [{"posture": posture, "outcome": n, "per": PER[unit], **nothing} for n in OUTCOMES]
    return pd.DataFrame(rows, columns=["posture", "outcome", "slope", "standard_error", "per", "note"])


def _slopes(trial: Trial, events: Events, change: PostureChange, draws: int) -> list[dict[str, object]]:
    (posture,) = change.amounts
    unit = posture.rsplit("_", 1)[1]
    step, per = STEP[unit], PER[unit]

    def moved(sign: float, **other: Any) -> tuple[Trial, Events, Strike]:
        return _measured(trial, events, replace(change, amounts={posture: sign * step}, **other))

    def slope(pair: Sequence[Strike]) -> pd.Series:
        more, less = (pd.Series(outcomes_of(strike)) for strike in pair)
        return per * (more - less) / (2 * step)

    both = [moved(1.0), moved(-1.0)]
    found = slope([m[2] for m in both])
    error = _noise_error(both, slope, draws)
    more = pd.Series(outcomes_of(both[0][2]))
    if posture.startswith("thorax_"):
        # The effects of pivot height and of time course are examined for the positive step only.
        higher = pd.Series(outcomes_of(moved(1.0, pivot_share=change.pivot_share + PIVOT_SE)[2]))
        error = (error**2 + (per * (higher - more) / step) ** 2) ** 0.5
    other = [outcomes_of(moved(1.0, easing=easing)[2]) for easing in EASINGS if easing != change.easing]
    rows = []
    for name in OUTCOMES:
        effect = found[name] * step / per
        effects = [effect, *(effect + one[name] - more[name] for one in other)]
        note = _unsure(name, pd.Series(effects), both[0][2])
        value, its_error = (np.nan, np.nan) if note else (float(found[name]), float(error[name]))
        rows.append({"posture": posture, "outcome": name, "slope": value, "standard_error": its_error,
                     "per": per, "note": note})  # fmt: skip
    return rows


def _noise_error(
    both: Sequence[tuple[Trial, Events, Strike]], slope: Callable[[Sequence[Strike]], pd.Series], draws: int
) -> pd.Series:
    """Return the SD of each outcome's slope over random draws of the clubhead's noise.

    A draw is the same in both changed swings. `slope` : function that computes the slopes from the strikes of
    the two swings. 0 with fewer than two draws.
    """
    if draws < 2:
        return pd.Series(0.0, index=list(OUTCOMES))
    first = both[0][0]
    k = first.landmarks.index("clubhead")
    sd = both[0][2].arc["noise_m"][0] if "noise_m" in both[0][2].arc else float(first.noise_m[k])
    random = np.random.default_rng(0)
    found = []
    for _ in range(draws):
        noise = np.zeros(first.raw_m.shape)
        noise[:, k] = random.normal(0.0, float(np.nan_to_num(sd)), noise[:, k].shape)
        pair = [measure_strike(replace(t, raw_m=t.raw_m + noise), e) for t, e, _ in both]
        found.append(slope(pair))
    return pd.DataFrame(found).std(ddof=1)
