"""Swing tables straight from a variance structure, without captures: truth for calibrating the statistics."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from scipy.signal import lfilter

from swinglab.columns import column, error_column_name, event_column_name
from swinglab.errors import BadRequest


@dataclass(frozen=True, slots=True)
class TableParameters:
    """Variance structure of a table study; posture in its unit, outcome in its own, slopes outcome per posture unit.

    Within a golfer outcome = golfer's level + (within_slope + golfer's own part) x deviation from the golfer's
    mean posture + residual; between golfers level = outcome_mean + between_slope x the golfer's mean posture
    less posture_mean + golfer's own part (+ group_outcome). What is observed has per-swing errors added to
    both, and to posture one placement error for each session.
    """

    golfers: int = 12
    swings: int = 12  # of each golfer, over all sessions
    sessions: int = 1
    posture: str = "thorax_lateral_flexion_deg"
    event: str = "shaft_horizontal_down"
    outcome: str = "attack_angle_deg"
    posture_mean: float = 15.0
    posture_sd_between: float = 4.0
    posture_sd_within: float = 2.0
    outcome_mean: float = -4.0
    within_slope: float = 0.20
    slope_sd: float = 0.05
    between_slope: float = 0.0
    outcome_sd_between: float = 0.8
    outcome_sd_within: float = 0.5
    posture_memory: float = 0.0  # autocorrelation of successive swings
    outcome_memory: float = 0.0
    posture_drift: float = 0.0  # from the first swing to the last
    outcome_drift: float = 0.0
    groups: tuple[str, ...] = ("skilled", "learners")
    group_posture: float = 0.0  # the last group less the first, in the mean posture
    group_outcome: float = 0.0
    lesson_posture: float = 0.0  # step between the halves of each golfer's swings, named before and after
    lesson_outcome: float = 0.0
    posture_error: float = 0.0  # standard deviation, each swing
    outcome_error: float = 0.0
    placement_error: float = 0.0  # standard deviation, each session

    def __post_init__(self) -> None:
        faults = [name for name in ("golfers", "swings", "sessions") if getattr(self, name) < 1]
        faults += [
            name for name in self.__slots__
            if ("_sd" in name or name.endswith("_error")) and getattr(self, name) < 0
        ]  # fmt: skip
        faults += [n for n in ("posture_memory", "outcome_memory") if not -1 < getattr(self, n) < 1]
        if self.swings < self.sessions:
            faults.append("sessions (more than swings)")
        if faults:
            raise BadRequest(
                f"a table study cannot be simulated with these: {', '.join(faults)}",
                do="counts from 1, standard deviations from 0, memory between -1 and 1",
            )


@dataclass(frozen=True, slots=True, eq=False)
class TableStudy:
    """A simulated swing table and its true parameters.

    table : one row a swing, in the columns of a swing table, with the posture's and outcome's error columns.
    truth : the population's values. slopes : golfer -> that golfer's true within slope. true_posture,
    true_outcome : (n,) before any error.
    """

    table: pd.DataFrame
    truth: Mapping[str, float]
    slopes: Mapping[str, float]
    true_posture: np.ndarray
    true_outcome: np.ndarray
    parameters: TableParameters = field(default_factory=TableParameters)


def make_table_study(
    parameters: TableParameters | None = None, *, seed: int | np.random.Generator = 0, **changes: object
) -> TableStudy:
    """A swing table from its variance structure; thousands a minute.

    Parameters
    ----------
    parameters : TableParameters, optional
    seed : int or numpy Generator
    **changes : fields of TableParameters, instead of `parameters`.

    Returns
    -------
    TableStudy

    Raises
    ------
    BadRequest : values that make no study, or names of no column.

    Examples
    --------
    >>> study = make_table_study(golfers=8, swings=10, within_slope=0.3, seed=1)
    >>> study.table.shape[0], study.truth["within_slope"]
    (80, 0.3)
    """
    p = parameters or TableParameters(**changes)  # type: ignore[arg-type]
    random = np.random.default_rng(seed)
    group = (
        np.arange(p.golfers) * len(p.groups) // max(p.golfers, 1) if p.groups else np.zeros(p.golfers, int)
    )
    side = group / max(len(p.groups) - 1, 1)
    centre = random.normal(0.0, p.posture_sd_between, p.golfers) + p.group_posture * side
    slopes = p.within_slope + random.normal(0.0, p.slope_sd, p.golfers)
    level = (
        p.between_slope * centre
        + random.normal(0.0, p.outcome_sd_between, p.golfers)
        + p.group_outcome * side
    )
    run = np.linspace(-0.5, 0.5, p.swings) if p.swings > 1 else np.zeros(1)
    half = (np.arange(p.swings) >= p.swings / 2).astype(float)
    moved = p.posture_sd_within * _remember(random, p.golfers, p.swings, p.posture_memory)
    moved += p.posture_drift * run + p.lesson_posture * (half - half.mean())
    rest = p.outcome_sd_within * _remember(random, p.golfers, p.swings, p.outcome_memory)
    rest += p.outcome_drift * run + p.lesson_outcome * (half - half.mean())
    posture = p.posture_mean + centre[:, None] + moved
    outcome = p.outcome_mean + level[:, None] + slopes[:, None] * moved + rest
    return _as_study(p, random, group, slopes, posture, outcome)


def _remember(random: np.random.Generator, golfers: int, swings: int, memory: float) -> np.ndarray:
    """(golfers, swings) stationary first-order autoregressions of unit variance."""
    shocks = random.standard_normal((golfers, swings))
    if memory == 0:
        return shocks
    shocks[:, 1:] *= np.sqrt(1 - memory**2)
    return lfilter([1.0], [1.0, -memory], shocks, axis=1)


def _as_study(
    p: TableParameters, random: np.random.Generator, group: np.ndarray, slopes: np.ndarray,
    posture: np.ndarray, outcome: np.ndarray,
) -> TableStudy:  # fmt: skip
    session = np.arange(p.swings) * p.sessions // p.swings
    placed = random.normal(0.0, p.placement_error, (p.golfers, p.sessions))[:, session]
    seen_posture = posture + placed + random.normal(0.0, p.posture_error, posture.shape)
    seen_outcome = outcome + random.normal(0.0, p.outcome_error, outcome.shape)
    width = max(2, len(str(p.golfers)))
    names = [f"G{k + 1:0{width}d}" for k in range(p.golfers)]
    golfer, order = np.repeat(np.arange(p.golfers), p.swings), np.tile(np.arange(p.swings), p.golfers)
    where = event_column_name(p.posture, p.event)
    table = pd.DataFrame(
        {
            "swing": [f"{names[g]}_{o + 1:03d}" for g, o in zip(golfer, order, strict=True)],
            "golfer": np.array(names)[golfer],
            "session": [f"{names[g]}-{session[o] + 1}" for g, o in zip(golfer, order, strict=True)],
            "order": order + 1,
            "phase": np.where(order >= p.swings / 2, "after", "before"),
            where: seen_posture.ravel(),
            error_column_name(where): p.posture_error,
            column(p.outcome).name: seen_outcome.ravel(),
            error_column_name(p.outcome): p.outcome_error,
        }
    )
    if p.groups:
        table.insert(2, "group", np.array(p.groups)[group][golfer])
    within, between = p.posture_sd_within**2, p.posture_sd_between**2
    truth = {
        "within_slope": p.within_slope, "slope_sd": p.slope_sd, "between_slope": p.between_slope,
        "group_posture": p.group_posture, "group_outcome": p.group_outcome,
        "lesson_posture": p.lesson_posture,
        "lesson_outcome": p.lesson_outcome + p.within_slope * p.lesson_posture,
        "posture_icc": between / (between + within) if between + within > 0 else float("nan"),
        "posture_drift": p.posture_drift, "outcome_drift": p.outcome_drift,
        "posture_reliability": within / (within + p.posture_error**2) if within > 0 else float("nan"),
    }  # fmt: skip
    own = {name: float(slope) for name, slope in zip(names, slopes, strict=True)}
    return TableStudy(table, truth, own, posture.ravel(), outcome.ravel(), p)
