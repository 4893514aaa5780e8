"""Slope of strike on posture from the body's geometry, from regression within golfers, and their difference.

The geometric slope comes from a model in which the posture changes and everything else in the swing stays the same.
The difference contains everything that the model leaves out (action of the hands, other variables that change with
the posture) and the errors of both slopes. It cannot be read as a share of the effect or as a cause.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.posture_effect import OUTCOMES, sensitivity
from swinglab.answers.question import frame_question
from swinglab.answers.selection import rows_where
from swinglab.answers.within import within_slope
from swinglab.errors import BadRequest, BadTable, SwinglabError
from swinglab.records import Errors, Events, Finding, Hunch, Trial
from swinglab.simulate import CHANGEABLE
from swinglab.statistics.estimate import Estimate

#: Events at which the simulated change of posture has its full size; a geometric slope exists only there.
CONSTANT_AT = ("shaft_45_down", "shaft_horizontal_down", "impact")
#: Slopes are given per this many units of the posture.
STEP = 10.0
#: Fewest golfers with a geometric slope, and fewest swings of a golfer in each phase.
FEWEST = 3


@dataclass(frozen=True, slots=True, eq=False)
class GeometryBesideRegression:
    """Geometric slope, slope within golfers and their difference, in outcome units per 10 units of the posture.

    geometric : mean over golfers of the slopes from geometry. players : slope within golfers by the primary
    method. difference : players minus geometric. by_golfer : table with golfer, geometric, geometric_se,
    players, players_se (se: standard error) and n_swings. held_out : table with one row for each golfer with
    swings in two phases: changes of posture and outcome, and three predictions of the change of outcome: 0
    (no_change), and the change of posture times the golfer's geometric slope (geometry) or times the slope
    within the other golfers (players). prediction_error : name of a prediction -> root-mean-square error over
    those golfers, in the outcome's unit; NaN if there are none.
    """

    outcome: str
    posture: str
    event: str
    geometric: Estimate
    players: Finding
    difference: Estimate
    by_golfer: pd.DataFrame
    held_out: pd.DataFrame
    prediction_error: Mapping[str, float]


def has_geometry(hunch: Hunch) -> bool:
    """Return whether a geometric slope exists for a hunch.

    The posture must be one that `simulate.what_if` can change, the outcome a quantity of the clubhead's path, and the
    event shaft at 45 degrees in the downswing, delivery or impact.
    """
    return hunch.posture in CHANGEABLE and hunch.event in CONSTANT_AT and hunch.outcome in OUTCOMES


def geometric_slopes(
    swings: Mapping[str, Sequence[tuple[Trial, Events]]], posture: str, outcome: str
) -> pd.DataFrame:
    """Return each golfer's slope of outcome on posture as computed from geometry, averaged over the golfer's swings.

    Parameters
    ----------
    swings : mapping of str to sequence of (Trial, Events)
        A few measured swings of each golfer.
    posture, outcome : str
        Names of the quantities; the posture is one of `simulate.CHANGEABLE`.

    Returns
    -------
    pandas.DataFrame
        golfer, geometric (slope) and geometric_se (its standard error), both per 10 units of the posture, n_swings
        (number of swings with a slope), note (reason if there is no slope, otherwise "").

    Raises
    ------
    BadRequest
        A posture that is not in `simulate.CHANGEABLE`.
    """
    if posture not in CHANGEABLE:
        raise BadRequest(
            f"the effect of {posture} on the strike cannot be computed from geometry",
            do=f"choose a posture from {', '.join(CHANGEABLE)}",
        )
    rows = []
    for golfer, own in swings.items():
        found, why = [], ""
        for trial, events in own:
            try:
                table = sensitivity(trial, events, postures=[posture], draws=3).set_index("outcome")
                row = table.loc[outcome]
                found.append(np.array([row["slope"], row["standard_error"]], float) * STEP / row["per"])
                why = why or str(row["note"])
            except SwinglabError as fault:
                why = why or fault.what
        seen = np.array([pair for pair in found if np.isfinite(pair).all()]).reshape(-1, 2)
        if not len(seen):
            rows.append(
                {"golfer": golfer, "geometric": np.nan, "geometric_se": np.nan, "n_swings": 0, "note": why}
            )
            continue
        # Most of the error comes from the assumed height of the thorax's centre of rotation. It is the same
        # in all swings of a golfer, so the mean over swings does not reduce it.
        rows.append({"golfer": golfer, "geometric": seen[:, 0].mean(), "geometric_se": seen[:, 1].mean(),
                     "n_swings": len(seen), "note": ""})  # fmt: skip
    return pd.DataFrame(rows, columns=["golfer", "geometric", "geometric_se", "n_swings", "note"])


def compare_geometry(
    table: pd.DataFrame, slopes: pd.DataFrame, hunch: Hunch, *, errors: Errors, phase: str = "phase",
    phases: tuple[str, str] = ("before", "after"),
) -> GeometryBesideRegression:  # fmt: skip
    """Compare the slope of strike on posture from geometry with the slope within golfers.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table.
    slopes : pandas.DataFrame
        Result of `geometric_slopes`.
    hunch : Hunch
        Outcome, posture and event. The hunch is always answered within golfers; its `level` is ignored.
    errors : Errors
        Known measurement errors.
    phase, phases : str, (str, str)
        The column that divides a golfer's swings into before and after, and its two values.

    Returns
    -------
    GeometryBesideRegression

    Raises
    ------
    BadRequest
        An event at which no geometric slope exists, or an unknown quantity.
    BadTable
        Too few golfers with a geometric slope, or too few swings for a slope within golfers.

    Notes
    -----
    The interval of the difference assumes that the errors of the two slopes are independent. Its degrees of freedom
    follow Welch and Satterthwaite. Predictions of the change of a golfer's outcome use the change of that golfer's
    posture, but no change of that golfer's outcome.
    """
    if hunch.event not in CONSTANT_AT:
        raise BadRequest(
            f"the effect of a posture at {hunch.event} cannot be computed from geometry, because the "
            f"simulated change of posture is constant only from {CONSTANT_AT[0]} to {CONSTANT_AT[-1]}",
            do=f"choose the event {' or '.join(CONSTANT_AT)}",
        )
    table = rows_where(table, hunch.where)
    known = slopes[np.isfinite(slopes["geometric"])]
    if len(known) < FEWEST:
        raise BadTable(
            f"the comparison needs {FEWEST} or more golfers with a slope from geometry, but the table has "
            f"{len(known)}",
            do="compute slopes of more golfers with geometric_slopes",
        )
    asked = replace(hunch, level="within", golfer=None, found_in=None)
    players = within_slope(frame_question(table, asked, errors))
    g = known["geometric"].to_numpy(float)
    spread = float(g.std(ddof=1)) / np.sqrt(len(g))
    # The assumed height of the centre of rotation is the same for all golfers: its error does not shrink.
    error = float(np.hypot(spread, known["geometric_se"].mean()))
    geometric = Estimate.by_t(float(g.mean()), error, len(g) - 1)
    apart = float(np.hypot(players.standard_error, error))
    parts = ((players.standard_error, players.df), (spread, len(g) - 1))
    difference = Estimate.by_t(players.estimate - geometric.estimate, apart, _welch_df(apart, parts))
    lines = golfer_lines(table, hunch)
    own = pd.DataFrame(
        {"golfer": lines["golfer"], "players": STEP * lines["slope"], "players_se": STEP * lines["slope_se"]}
    )
    held_out = _held_out(table, known.set_index("golfer"), asked, errors, phase, phases)
    rms = {
        name: float(np.sqrt(np.mean((held_out[name] - held_out["outcome_change"]) ** 2)))
        if len(held_out) else float("nan")
        for name in PREDICTIONS
    }  # fmt: skip
    return GeometryBesideRegression(
        hunch.outcome, hunch.posture, hunch.event, geometric, players, difference,
        slopes.merge(own, on="golfer", how="outer"), held_out, rms,
    )  # fmt: skip


def _welch_df(error: float, parts: Sequence[tuple[float, float]]) -> float:
    """Return the degrees of freedom of a standard error by Welch and Satterthwaite; infinite if no part is estimated.

    `parts` : (standard error, degrees of freedom) of each estimated part; what is left of `error`, such as the error of
    the assumed pivot, counts as known.
    """
    unsure = sum(part**4 / (df if np.isfinite(df) else np.inf) for part, df in parts)
    return error**4 / unsure if unsure > 0 else float("inf")


PREDICTIONS = ("no_change", "geometry", "players")


def _columns(table: pd.DataFrame, hunch: Hunch) -> pd.DataFrame:
    """Return golfer, posture (x) and outcome (y) of the complete rows."""
    names = {columns.event_column_name(hunch.posture, hunch.event): "x", hunch.outcome: "y"}
    return table.rename(columns=names)[["golfer", "x", "y"]].dropna()


def golfer_lines(table: pd.DataFrame, hunch: Hunch) -> pd.DataFrame:
    """Fit a least-squares line of outcome on posture to each golfer's swings, without correction for error.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table.
    hunch : Hunch
        Outcome, posture, event, and the selection of swings in `where`.

    Returns
    -------
    pandas.DataFrame
        golfer, posture and outcome (the golfer's means), half_range (half the range of the posture), slope and
        slope_se (outcome per unit of the posture). A golfer with fewer than four swings, or
        whose posture does not vary, has no row.
    """
    rows = []
    for golfer, own in _columns(rows_where(table, hunch.where), hunch).groupby("golfer"):
        x, y = (own[c].to_numpy(float) - own[c].mean() for c in ("x", "y"))
        if len(x) < 4 or not x @ x > 0:
            continue
        slope = x @ y / (x @ x)
        left = y - slope * x
        error = np.sqrt(left @ left / (len(x) - 2) / (x @ x))
        rows.append((golfer, own["x"].mean(), own["y"].mean(), np.ptp(x) / 2, slope, error))
    return pd.DataFrame(rows, columns=["golfer", "posture", "outcome", "half_range", "slope", "slope_se"])


def _held_out(
    table: pd.DataFrame, slopes: pd.DataFrame, hunch: Hunch, errors: Errors, phase: str, phases: tuple[str, str]
) -> pd.DataFrame:  # fmt: skip
    """Return the changes of each golfer with three or more swings in both phases, and their predictions."""
    names = [
        "golfer",
        "posture_change",
        "posture_change_se",
        "outcome_change",
        "outcome_change_se",
        *PREDICTIONS,
    ]
    if phase not in table.columns:
        return pd.DataFrame(columns=names)
    rows = []
    needed = ["golfer", phase, columns.event_column_name(hunch.posture, hunch.event), hunch.outcome]
    in_phases = table.loc[table[phase].isin(phases), list(dict.fromkeys(needed))]
    for golfer, own in in_phases.groupby("golfer"):
        parts = [_columns(own[own[phase] == p], hunch) for p in phases]
        if min(len(p) for p in parts) < FEWEST or golfer not in slopes.index:
            continue
        moved = parts[1][["x", "y"]].mean() - parts[0][["x", "y"]].mean()
        error = np.sqrt(sum(p[["x", "y"]].var() / len(p) for p in parts))
        try:
            rest = frame_question(table[table["golfer"] != golfer], hunch, errors)
            others = within_slope(rest).estimate
        except BadTable:
            others = float("nan")
        rows.append((golfer, moved["x"], error["x"], moved["y"], error["y"], 0.0,
                     float(slopes["geometric"][golfer]) / STEP * moved["x"], others / STEP * moved["x"]))  # fmt: skip
    return pd.DataFrame(rows, columns=names)
