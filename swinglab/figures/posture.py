"""Figures of posture over a swing as curves with events, and of the body as a stick figure at one time."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import cycle

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Circle

from swinglab.columns import UNIT_WORDS, quantity_column
from swinglab.errors import BadRequest, near_names
from swinglab.figures.style import COLOURS, EVENT_SHORT, FAINT, GREY, new_axes, plain
from swinglab.figures.viewer.marks import Mark
from swinglab.figures.viewer.skeleton import PASSING_OVER, SPINE, TRUNK, bones, drawn_points
from swinglab.records import Events, Posture, Trial

#: view -> study-frame axes drawn to the right and up, with the words for their labels.
VIEWS = {
    "face_on": (np.array([1.0, 0, 0]), np.array([0, 1.0, 0]), "toward the target (m)", "up (m)"),
    "down_the_line": (np.array([0, 0, 1.0]), np.array([0, 1.0, 0]), "toward the ball (m)", "up (m)"),
    "above": (
        np.array([1.0, 0, 0]),
        np.array([0, 0, -1.0]),
        "toward the target (m)",
        "away from the ball (m)",
    ),
}
#: Colour and line style of each part of the figure, so that parts can be distinguished without colour.
_LOOK = {"lead": (COLOURS[0], "-"), "trail": (COLOURS[1], "--"), "trunk": ("black", "-"), "club": (GREY, "-")}


#: Radius of the circle drawn for the head, about the middle of its markers.
HEAD_RADIUS_M = 0.105
_MARKED = "#00795a"


def draw_posture_curves(
    posture: Posture, quantities: Sequence[str], events: Events | None = None, ax: Axes | None = None
) -> Axes:
    """Draw posture quantities over time for one swing, each with a band of plus and minus one standard error.

    Parameters
    ----------
    posture : Posture
        A swing, frame by frame.
    quantities : sequence of str
        Names of posture quantities, all with the same unit.
    events : Events, optional
        Events that are marked by vertical lines; if impact was found, time is then from impact.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes
        One line for each quantity. The standard errors of the bands include noise only.

    Raises
    ------
    BadRequest
        An unknown quantity, no quantity, or quantities with different units.
    MissingInput
        A quantity could not be measured in this swing; the message gives the reason.

    Examples
    --------
    >>> draw_posture_curves(posture, ["pelvis_axial_rotation_deg"], events)  # doctest: +SKIP
    """
    declared = [quantity_column(name) for name in quantities]
    units = sorted({c.unit for c in declared})
    if len(units) != 1:
        raise BadRequest(
            f"a figure can show quantities of one unit only, but these have {len(units)} units"
            + (f" ({', '.join(units)})" if units else ""),
            do="draw quantities with different units in separate figures",
        )
    curves = {c.label: posture.curve(c.name) for c in declared}
    ax = new_axes(ax)
    impact = events.time_s("impact") if events is not None else np.nan
    zero = impact if np.isfinite(impact) else 0.0
    t = posture.time_s - zero
    dashes = cycle(("-", "--", "-.", ":"))
    colours = cycle(COLOURS)
    for c, curve in zip(declared, curves.values(), strict=True):
        error = posture.standard_errors[:, posture.quantities.index(c.name)]
        (line,) = ax.plot(t, curve, ls=next(dashes), color=next(colours), lw=1.4, label=c.label)
        ax.fill_between(t, curve - error, curve + error, color=line.get_color(), alpha=0.25, lw=0)
    if events is not None:
        _mark_events(ax, events, zero)
    ax.set_xlim(t[0], t[-1])
    ax.set_xlabel("time from impact (s)" if np.isfinite(impact) else "time (s)")
    single = declared[0].axis_label if len(declared) == 1 else UNIT_WORDS.get(units[0], units[0])
    ax.set_ylabel(single)
    if len(declared) > 1:
        ax.legend(frameon=False, fontsize="small")
    plain(ax)
    return ax


def _mark_events(ax: Axes, events: Events, zero: float) -> None:
    """Draw a vertical line at each event that was found, with its short name above the axes."""
    for event in events.events:
        if np.isfinite(event.time_s):
            ax.axvline(event.time_s - zero, color=FAINT, lw=0.8, zorder=0)
            ax.annotate(
                EVENT_SHORT[event.name], (event.time_s - zero, 1.01), xycoords=("data", "axes fraction"),
                rotation=60, ha="left", va="bottom", fontsize=7, color=GREY,
            )  # fmt: skip


def draw_stick_figure(
    trial: Trial,
    time_s: float,
    *,
    view: str = "face_on",
    posture: Posture | None = None,
    mark: Mark | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw body and club as a stick figure at one time; the lead side has solid lines, the trail side dashed lines.

    Parameters
    ----------
    trial : Trial
        The swing.
    time_s : float
        Time in s from the file's first frame; the nearest frame is drawn.
    view : str
        ``"face_on"`` (target to the right), ``"down_the_line"`` (ball to the right) or ``"above"``. A
        left-hander is drawn as in reality: in the first two views, target and ball are then to the left.
    posture : Posture, optional
        Posture of the swing, for the hip and shoulder joint centres.
    mark : Mark, optional
        A quantity that is drawn on the body; result of `mark_on_body`.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes
        In metres, with the same scale on both axes. A dotted circle is drawn for a head without landmarks.

    Raises
    ------
    BadRequest
        An unknown view, or a time outside the capture.

    Examples
    --------
    >>> draw_stick_figure(trial, 1.2, view="down_the_line")  # doctest: +SKIP
    """
    if view not in VIEWS:
        raise BadRequest(
            f"there is no view {view} of the stick figure",
            do=near_names(view, VIEWS) or f"use one of {', '.join(VIEWS)}",
        )
    if not trial.time_s[0] <= time_s <= trial.time_s[-1]:
        raise BadRequest(
            f"the time {time_s:g} s is outside the capture",
            file=trial.file,
            do=f"give a time from {trial.time_s[0]:g} to {trial.time_s[-1]:g} s",
        )
    across, upward, across_words, up_words = VIEWS[view]
    frame = int(np.abs(trial.time_s - time_s).argmin())
    points = {name: xyz[frame] for name, xyz in drawn_points(trial, posture).items()}
    ax = new_axes(ax)
    _draw_torso(ax, points, across, upward)
    labelled: set[str] = set()
    for a, b, part in bones(points):
        ends = np.array([points[a], points[b]])
        colour, dash = _LOOK[part]
        width = {"trunk": 1.6, "club": 1.8}.get(part, 3.2) if (a, b) not in PASSING_OVER else 1.2
        ax.plot(ends @ across, ends @ upward, ls=dash, color=colour, lw=width,
                label=part if part not in labelled else None)  # fmt: skip
        labelled.add(part)
    if view != "above":
        ax.axhline(0.0, color=FAINT, lw=1.0, zorder=0)
    if mark is not None:
        _draw_mark(ax, mark, frame, across, upward)
    if trial.ball_m is not None:
        ax.plot(
            trial.ball_m @ across, trial.ball_m @ upward, "o", mfc="white", mec="black", ms=5, label="ball"
        )
    ax.set_aspect("equal")
    if trial.hand == "left" and view != "above":
        ax.invert_xaxis()  # in the study frame a left-hander is mirrored; this shows the real swing
    if trial.hand == "left" and view == "above":
        ax.invert_yaxis()
    ax.set_xlabel(across_words)
    ax.set_ylabel(up_words)
    ax.legend(frameon=False, fontsize="small", loc="center left", bbox_to_anchor=(1.0, 0.5))
    plain(ax)
    return ax


def _draw_torso(ax: Axes, points: dict[str, np.ndarray], across: np.ndarray, upward: np.ndarray) -> None:
    """Draw the trunk as a filled area and the head as a circle, dotted where the head was not captured."""
    if all(name in points for name in TRUNK):
        corners = np.array([points[name] for name in TRUNK])
        ax.fill(corners @ across, corners @ upward, fc="#d9d9d9", ec="black", lw=1.0, zorder=1)
    if "head" in points:
        centre = (points["head"] @ across, points["head"] @ upward)
        ax.add_patch(Circle(centre, HEAD_RADIUS_M, fc="#f2f2f2", ec="black", lw=1.4, zorder=1))
    elif all(name in points for name in SPINE):
        low, high = (points[name] for name in SPINE)
        crown = high + 0.2 * (high - low) / np.linalg.norm(high - low)
        ax.add_patch(
            Circle((crown @ across, crown @ upward), HEAD_RADIUS_M, fill=False, ec=GREY, ls=":", lw=1.2)
        )


def _draw_mark(ax: Axes, mark: Mark, frame: int, across: np.ndarray, upward: np.ndarray) -> None:
    """Draw the lines of a quantity at one frame: reference dashed, body solid."""
    places = np.array([points[frame] for points in mark.points])
    flat = np.column_stack([places @ across, places @ upward])
    lines = ((flat[[0, 1]], "--"), (flat[[0, 2]], "-")) if mark.kind == "angle" else ((flat, "-"),)
    for line, dash in lines:
        ax.plot(*line.T, ls=dash, color=_MARKED, lw=2.4, zorder=4)
