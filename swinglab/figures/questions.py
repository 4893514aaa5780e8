"""Figures for the questions of a study: a relation (hunch), a comparison of groups, a lesson."""

from __future__ import annotations

import textwrap

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from swinglab import columns
from swinglab.errors import BadTable, near_names
from swinglab.figures.many import MOST_GOLFERS, are_many, draw_density, sample_of_golfers
from swinglab.figures.points import name_rows
from swinglab.figures.steps import contact_steps, name_steps
from swinglab.figures.style import (
    FAINT,
    GREY,
    UNPHASED,
    group_look,
    legend_above,
    mark_reference,
    new_axes,
    phase_look,
    plain,
    spread,
)


def axis_text(name: str) -> str:
    """Return the axis label of a column: its label, unit and positive direction, or its name if it has no label."""
    text = columns.column(name).axis_label if columns.is_column(name) else name
    return "\n".join(line for part in text.split("\n") for line in textwrap.wrap(part, 44))


def need_columns(table: pd.DataFrame, *names: str | None) -> None:
    """Raise BadTable if the table lacks one of these columns; None is ignored."""
    for name in names:
        if name is not None and name not in table.columns:
            near = near_names(name, [str(n) for n in table.columns])
            raise BadTable(f"the table has no column {name}", do=near or "choose a column of the table")


def draw_relation(
    table: pd.DataFrame,
    *,
    posture: str,
    outcome: str,
    group: str | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw outcome against posture: every swing, each golfer's own regression line, and the golfers' means.

    Parameters
    ----------
    table : DataFrame
        One row for each swing.
    posture, outcome : str
        Columns for the horizontal and the vertical axis, in their units.
    group : str, optional
        Column whose values differ in colour and marker.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes
        Lines of golfers with three swings or more are least-squares fits. The dashed line is the least-squares fit to
        the golfers' means; it is drawn with three golfers or more. A very large number of swings is drawn as a density;
        then only a sample of the golfers' lines is drawn (`many.sample_of_golfers`), with the means of all golfers.

    Raises
    ------
    BadTable
        A column is missing.
    """
    need_columns(table, "golfer", posture, outcome, group)
    ax = new_axes(ax)
    rows = table.filter(items=list(dict.fromkeys(["swing", "golfer", posture, outcome, group or "golfer"])))
    rows = rows.dropna(subset=[posture, outcome])
    names = sorted(rows[group].astype(str).unique()) if group else [""]
    look = group_look(names)
    means: list[tuple[float, float, str]] = []
    many, lines, golfers = are_many(rows), set(sample_of_golfers(rows, posture)), rows["golfer"].nunique()
    for golfer, own in rows.groupby("golfer", sort=True):
        name = str(own[group].iloc[0]) if group else ""
        colour, marker = look[name]
        x, y = own[posture].to_numpy(float), own[outcome].to_numpy(float)
        if not many:
            ax.plot(x, y, marker, ms=3.2, color=colour, alpha=0.35, mew=0, ls="none")
        if str(golfer) in lines and len(x) >= 3 and np.ptp(x) > 0:
            slope, intercept = np.polynomial.polynomial.polyfit(x, y, 1)[::-1]
            ends = np.array([x.min(), x.max()])
            ax.plot(ends, intercept + slope * ends, "-", color=colour, lw=1.4, alpha=0.9)
        means.append((x.mean(), y.mean(), name))
    for name in names:
        colour, marker = look[name]
        own_means = np.array([(x, y) for x, y, n in means if n == name])
        if len(own_means):
            label = f"golfer's mean{f', {name}' if name else ''}"
            size, edge = (8.5, 1.2) if golfers <= MOST_GOLFERS else (3.2, 0.3)
            ax.plot(
                *own_means.T, marker, color=colour, ms=size, mec="white", mew=edge, ls="none", label=label
            )
    _between_line(ax, np.array([(x, y) for x, y, _ in means]))
    if many:
        draw_density(ax, rows[posture], rows[outcome])
    else:
        name_rows(ax, rows, rows[posture], rows[outcome], posture, outcome)
    words = f"own, {len(lines)} of {golfers}" if len(lines) < golfers else "own swings"
    ax.plot([], [], "-", color=GREY, lw=1.4, label=words)
    ax.set_xlabel(axis_text(posture))
    ax.set_ylabel(axis_text(outcome))
    legend_above(ax, ncols=2)
    plain(ax)
    return ax


def _between_line(ax: Axes, means: np.ndarray) -> None:
    if len(means) < 3 or np.ptp(means[:, 0]) == 0:
        return
    slope, intercept = np.polynomial.polynomial.polyfit(means[:, 0], means[:, 1], 1)[::-1]
    ends = np.array([means[:, 0].min(), means[:, 0].max()])
    ax.plot(ends, intercept + slope * ends, "--", color="black", lw=1.3, label="between golfers")


def draw_comparison(
    table: pd.DataFrame,
    *,
    value: str,
    between: str,
    reference: str | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw the golfers' means of a column by group, and the single swings.

    Parameters
    ----------
    table : DataFrame
        One row for each swing.
    value, between : str
        Column that is compared, and column that defines the groups.
    reference : str, optional
        Name of the reference group; the means of its golfers are repeated as short lines at the right edge.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes
        The bar at a golfer's mean extends one standard deviation of the golfer's swings to both sides. With many
        golfers, the means are small and single swings are not drawn.
    """
    need_columns(table, "golfer", value, between)
    ax = new_axes(ax)
    rows = table.filter(items=list(dict.fromkeys(["swing", "golfer", "club", between, value])))
    rows = rows.dropna(subset=["golfer", between, value])
    names = sorted(rows[between].astype(str).unique())
    look = group_look(names)
    many = rows["golfer"].nunique() > MOST_GOLFERS
    for place, name in enumerate(names):
        own = rows[rows[between].astype(str) == name]
        colour, marker = look[name]
        golfers = own.groupby("golfer", sort=True)[value].agg(["mean", "std", "size"]).sort_values("mean")
        spots = spread(place, len(golfers), 0.6)
        for spot, code in [] if many else zip(spots, golfers.index, strict=True):
            swings = own[own["golfer"] == code]
            x = np.full(len(swings), spot)
            ax.plot(x, swings[value], "_", color=FAINT, ms=7, zorder=1)
            name_rows(ax, swings, x, swings[value], value)
        size, width, edge = (2.5, 0.4, 0.2) if many else (7.0, 1.2, 1.0)
        ax.errorbar(spots, golfers["mean"], yerr=np.nan_to_num(golfers["std"]), fmt=marker, ms=size, color=colour,
                    mec="white", mew=edge, elinewidth=width, ls="none", zorder=3)  # fmt: skip
        mean = golfers["mean"].mean()
        ax.plot([place - 0.38, place + 0.38], [mean, mean], "-", color="black", lw=1.6, zorder=2)
        if name == reference:
            mark_reference(ax, own, value, name)
    counts = rows.groupby(rows[between].astype(str))["golfer"].nunique()
    ax.set_xticks(range(len(names)), [f"{name}\n({counts[name]} golfers)" for name in names])
    ax.set_xlim(-0.6, len(names) - 0.4)
    ax.set_ylabel(axis_text(value))
    legend_above(ax, ncols=2)
    plain(ax)
    return ax


def _swings(number: int) -> str:
    return f"{number} swing{'' if number == 1 else 's'}"


def draw_lesson(
    table: pd.DataFrame,
    *,
    value: str,
    phase: str,
    target_value: float | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw one golfer's swings in the order of play, by phase, with the mean of each phase.

    Parameters
    ----------
    table : DataFrame
        Swings of one golfer, one row each, in the order of play.
    value, phase : str
        Column that is drawn, and column with the phase of the lesson. The words fat, clean and thin are drawn as three
        steps, without means.
    target_value : float, optional
        Target of the lesson, drawn as a dotted line.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes

    Raises
    ------
    BadTable
        A column is missing or has no values to draw.
    """
    need_columns(table, value, phase)
    ax = new_axes(ax)
    rows = table.reset_index(drop=True)
    in_words = not pd.api.types.is_numeric_dtype(rows[value])
    if in_words:
        rows[value] = contact_steps(rows[value])
        name_steps(ax)
    if rows[value].isna().all():
        raise BadTable(
            f"there is nothing to draw, because the column {value} has no values", do="choose another column"
        )
    names = list(dict.fromkeys(rows[phase].astype(str)))
    look = phase_look(names)
    count = np.arange(1, len(rows) + 1)
    errors = columns.error_column_name(value) if columns.is_column(value) else None
    for name in names:
        own = (rows[phase].astype(str) == name).to_numpy()
        colour, marker = look[name]
        y = rows.loc[own, value].to_numpy(float)
        se = rows.loc[own, errors].to_numpy(float) if errors in rows.columns else None
        ax.errorbar(count[own], y, yerr=se, fmt=marker, ms=5, color=colour, mec="white", mew=0.6, lw=0.8,
                    elinewidth=0.7, label=f"{name or UNPHASED} ({_swings(int(np.isfinite(y).sum()))})")  # fmt: skip
        if np.isfinite(y).any() and not in_words:
            mean = np.nanmean(y)
            ax.plot([count[own].min() - 0.4, count[own].max() + 0.4], [mean, mean], "-", color=colour, lw=2)
    name_rows(ax, table, count, rows[value].to_numpy(float), value)
    if target_value is not None:
        ax.axhline(target_value, ls=":", color="black", lw=1.2, label="target")
    ax.set_xlabel("swing, in the order of play")
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    ax.set_ylabel(axis_text(value))
    legend_above(ax, ncols=2)
    plain(ax)
    return ax
