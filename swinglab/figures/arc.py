"""Figures of the strike: the arc of one swing with ball and turf, and the low points of all swings."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.patches import Circle

from swinglab import columns
from swinglab.conventions import BALL_RADIUS_M
from swinglab.errors import BadRequest, BadTable, near_names
from swinglab.figures.points import name_rows
from swinglab.figures.style import COLOURS, FAINT, GREY, TEXT, new_axes, plain
from swinglab.records import Strike, Trial

VIEWS = ("face_on", "above", "ball")
_BEFORE, _AFTER, _LEFT_OUT = 1, -1, 0


def draw_arc(strike: Strike, trial: Trial, ax: Axes | None = None, *, view: str = "face_on") -> Axes:
    """The undisturbed arc of one swing, with the points it rests on, the ball and the turf, in centimetres.

    Parameters
    ----------
    strike : Strike
        As `measure_strike` made it, with its `arc`.
    trial : Trial
        The swing's trial (its name and the club's set-up stand in the title).
    ax : Axes, optional
    view : {"face_on", "above", "ball"}
        In the plane of the arc as someone facing the golfer sees it; from above; or close to the ball,
        where height is drawn larger than length.

    Returns
    -------
    Axes
        The target lies to the right; for a left-hander, who is drawn as swung, to the left in the view face-on.

    Raises
    ------
    BadRequest
        The view does not exist, or the strike has no arc.
    """
    if view not in VIEWS:
        raise BadRequest(
            f"there is no view {view}", do=near_names(view, VIEWS) or f"one of {', '.join(VIEWS)}"
        )
    if "curve_m" not in strike.arc:
        why = next(iter(strike.missing.values()), "it was not measured")
        raise BadRequest(f"swing {strike.swing} has no arc to draw: {why}")
    ax = new_axes(ax, width=6.4, height=5.0 if view != "ball" else 3.6)
    arc = strike.arc
    origin = np.nan_to_num(arc["ball_m"]) * [1.0, 0.0, 1.0]
    axes = {"face_on": arc["plane_axes"][:2], "above": np.eye(3)[[0, 2]], "ball": np.eye(3)[:2]}[view]
    origin = origin + _turf(strike) * np.array([0.0, 1.0, 0.0])

    def flat(points: np.ndarray) -> np.ndarray:
        return 100 * (np.atleast_2d(points) - origin) @ axes.T

    _draw_points(ax, arc, flat)
    ax.plot(*flat(arc["curve_m"]).T, "-", color=COLOURS[0], lw=1.6, label="undisturbed arc", zorder=2)
    for name, marker, words in (("contact_m", "D", "impact"), ("low_point_m", "v", "low point")):
        if np.isfinite(arc[name]).all():
            ax.plot(
                *flat(arc[name]).T,
                marker,
                color=COLOURS[1],
                ms=7,
                mec="white",
                mew=0.8,
                ls="none",
                label=words,
            )
    _draw_low_point_error(ax, strike, flat(arc["low_point_m"])[0])
    if np.isfinite(arc["ball_m"]).all():
        _draw_ball(ax, flat(arc["ball_m"])[0], view, strike)
    _label(ax, strike, trial, view)
    return ax


def _turf(strike: Strike) -> float:
    """Height (m) of the clubhead with its sole on the turf; 0 where that is not known."""
    return float(np.nan_to_num(strike.arc["address_height_m"][0]))


def _draw_points(ax: Axes, arc: Mapping[str, np.ndarray], flat: Callable[[np.ndarray], np.ndarray]) -> None:
    first = "before impact" if np.isfinite(arc["contact_m"]).all() else "on the arc"
    look = ((_BEFORE, "o", COLOURS[0], first), (_AFTER, "s", COLOURS[2], "after impact"),
            (_LEFT_OUT, "x", FAINT, "not used"))  # fmt: skip
    rebuilt = arc["rebuilt"].astype(bool)
    for side, marker, colour, words in look:
        for hidden in (False, True):
            chosen = (arc["used"] == side) & (rebuilt == hidden) & np.isfinite(arc["points_m"]).all(axis=1)
            if not chosen.any():
                continue
            points = flat(arc["points_m"][chosen])
            face = "none" if hidden and marker != "x" else colour
            label = f"{words}, rebuilt from the shaft" if hidden else words
            ax.plot(*points.T, marker, ms=4, color=colour, mfc=face, ls="none", label=label, zorder=3)


def _draw_low_point_error(ax: Axes, strike: Strike, place: np.ndarray) -> None:
    error = strike.standard_errors.get("low_point_ahead_cm", float("nan"))
    if np.isfinite(error) and np.isfinite(place).all():
        ax.errorbar(place[0], place[1], xerr=1.96 * error, color=COLOURS[1], lw=1.2, capsize=3, zorder=4)


def _draw_ball(ax: Axes, centre: np.ndarray, view: str, strike: Strike) -> None:
    if view != "ball":
        ax.add_patch(Circle(tuple(centre), 100 * BALL_RADIUS_M, fill=False, ec=GREY, lw=1.2))
        return
    # Heights are the sole's here; the ball's outline would mislead beside them, its two sides do not.
    for side in (-1, 1):
        ax.axvline(centre[0] + side * 100 * BALL_RADIUS_M, color=GREY, lw=0.9, ls=":")
    ax.text(
        centre[0],
        0.98,
        "ball",
        ha="center",
        va="top",
        fontsize=9,
        color=GREY,
        transform=ax.get_xaxis_transform(),
    )
    entry = strike.values.get("turf_entry_ahead_cm", float("nan"))
    if np.isfinite(entry):
        error = strike.standard_errors["turf_entry_ahead_cm"]
        ax.errorbar(
            entry + centre[0],
            0.0,
            xerr=1.96 * error,
            fmt="^",
            color=COLOURS[3],
            ms=6,
            capsize=3,
            label="sole meets the turf",
        )


def _label(ax: Axes, strike: Strike, trial: Trial, view: str) -> None:
    known = np.isfinite(strike.arc["address_height_m"][0])
    ax.set_xlabel("along the target line from the ball (cm)\n+ toward the target")
    if view == "face_on":
        ax.set_xlabel("along the plane's level line from the ball (cm)\n+ toward the target")
        ax.set_ylabel("up the slope of the arc's plane (cm)")
    elif view == "above":
        ax.set_ylabel("across the target line (cm)\n+ away from the golfer")
    else:
        ax.set_ylabel("height of the sole above the turf (cm)" if known else "height of the clubhead (cm)")
    if view != "above" and known:
        ax.axhline(
            0.0, color=COLOURS[2], lw=1.0, label="turf, at the sole" if view == "ball" else "sole on the turf"
        )
    if view == "ball":
        low = 100 * (strike.arc["low_point_m"][0] - np.nan_to_num(strike.arc["ball_m"][0]))
        ends = (-30.0, float(np.nanmax([30.0, low + 15.0])))
        ax.set_xlim(*ends)
        curve = 100 * (strike.arc["curve_m"] - np.nan_to_num(strike.arc["ball_m"]) * [1, 0, 1])[:, :2]
        height = curve[(curve[:, 0] > ends[0]) & (curve[:, 0] < ends[1]), 1] - 100 * _turf(strike)
        if len(height):
            ax.set_ylim(min(height.min(), 0.0) - 1.0, height.max() + 1.0)
    else:
        ax.set_aspect("equal", adjustable="datalim")
        if view == "above" and trial.hand == "right":
            ax.invert_yaxis()
        if view == "face_on" and trial.hand == "left":
            ax.invert_xaxis()
    words = {"face_on": "in the plane of the arc", "above": "from above", "ball": "near the ball"}[view]
    ax.set_title(f"{trial.swing}: clubhead {words}", fontsize=10)
    ax.legend(frameon=False, fontsize=9, loc="best")
    plain(ax)


def draw_low_points(table: pd.DataFrame, ax: Axes | None = None, *, golfer: str = "golfer") -> Axes:
    """Low points of all swings, a row for each golfer, with their 95 % error bars, from the ball centre.

    Parameters
    ----------
    table : DataFrame
        One row a swing, with `low_point_ahead_cm`, the golfer and, where there, `low_point_ahead_se_cm` and
        `contact` (which sets the marker).
    ax : Axes, optional
    golfer : str
        Column that names the rows.

    Returns
    -------
    Axes
        Golfers from top to bottom in the order of their names; a short line marks each golfer's mean. Swings
        without a low point are left out.

    Raises
    ------
    BadTable
        A column is missing, or no swing has a low point.
    """
    outcome = "low_point_ahead_cm"
    for name in (golfer, outcome):
        if name not in table.columns:
            known = [str(n) for n in table.columns]
            raise BadTable(f"the table has no column {name}", do=near_names(name, known) or None)
    rows = table[np.isfinite(table[outcome].to_numpy(float))]
    if rows.empty:
        raise BadTable("no swing in this table has a low point")
    names = sorted(rows[golfer].astype(str).unique())
    ax = new_axes(ax, height=1.4 + 0.34 * len(names))
    kinds = rows["contact"].astype(str) if "contact" in rows.columns else pd.Series("", index=rows.index)
    look = {
        "fat": ("s", COLOURS[1]),
        "clean": ("o", COLOURS[0]),
        "thin": ("^", COLOURS[2]),
        "uncertain": ("D", GREY),
    }
    error_name = columns.error_column_name(outcome)
    shown: set[str] = set()
    for level, name in enumerate(names):
        own = rows[rows[golfer].astype(str) == name]
        offsets = np.linspace(-0.28, 0.28, len(own)) if len(own) > 1 else np.zeros(1)
        errors = own[error_name].to_numpy(float) if error_name in own.columns else np.zeros(len(own))
        values = own[outcome].to_numpy(float)
        for value, error, offset, kind in zip(values, errors, offsets, kinds[own.index], strict=True):
            marker, colour = look.get(kind, ("o", COLOURS[0]))
            label = kind if kind in look and kind not in shown else None
            shown.add(kind)
            ax.errorbar(
                value,
                level + offset,
                xerr=1.96 * np.nan_to_num(error),
                fmt=marker,
                color=colour,
                ms=3.6,
                lw=0.7,
                label=label,
            )
        name_rows(ax, own, values, level + offsets, outcome, golfer=golfer)
        ax.plot([values.mean()] * 2, [level - 0.4, level + 0.4], "-", color="black", lw=1.6, zorder=5)
    ax.axvline(0.0, color=GREY, lw=1.0, ls=":")
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.5, -0.5)
    ax.set_xlabel(columns.column(outcome).axis_label)
    if shown & set(look):
        ax.legend(
            frameon=False,
            fontsize=TEXT,
            loc="lower left",
            bbox_to_anchor=(-0.02, 1.0),
            ncols=4,
            borderaxespad=0.2,
            handletextpad=0.3,
            columnspacing=1.0,
        )
    plain(ax)
    return ax
