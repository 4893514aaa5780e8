"""The time line of a swing: elevations of shaft and arms, with every event marked, so that a person can check."""

from __future__ import annotations

from textwrap import fill

import numpy as np
from matplotlib.axes import Axes

from swinglab.conventions import EVENT_LABELS, shaft_points
from swinglab.figures.style import COLOURS, FAINT, GREY, new_axes, plain
from swinglab.records import Event, Events, Trial

LOOKS = {"shaft": (COLOURS[0], "-"), "lead arm": (COLOURS[1], "--"), "trail arm": (COLOURS[2], "-.")}
#: The curve that an event is read from, for the dot; the others stand on the shaft where there is one.
READ_FROM = {
    "lead_arm_horizontal_back": "lead arm",
    "lead_arm_horizontal_down": "lead arm",
    "trail_arm_horizontal_through": "trail arm",
}
#: Least distance between two names along the time axis, as a share of its length.
NAMES_APART = 0.036
#: Letters in one line of a name.
LINE_LENGTH = 24


def draw_event_timeline(trial: Trial, events: Events, ax: Axes | None = None) -> Axes:
    """Elevation of shaft and of both arms over time, with every event marked and named.

    Parameters
    ----------
    trial : Trial
        The swing; points as measured with (body points smoothed, club points not).
    events : Events
        Its events. Seconds from the file's first frame.
    ax : Axes, optional

    Returns
    -------
    Axes
        Degrees above horizontal over seconds. A dot where the event lies on the curve that it is read from;
        a band of two standard errors about each event; hollow dots for events set by hand or in the file.
        Events that are missing are listed below the axis.

    Notes
    -----
    Missing: a curve whose landmarks are not in the trial is left out.
    """
    ax = new_axes(ax, width=9.5, height=5.6)
    curves = measure_elevations(trial)
    found = sorted((e for e in events.events if np.isfinite(e.time_s)), key=lambda e: e.time_s)
    for name, curve in curves.items():
        colour, style = LOOKS[name]
        ax.plot(trial.time_s, curve, style, color=colour, lw=1.5, label=name)
    for level in (0.0, 45.0):
        ax.axhline(level, color=FAINT, lw=0.8, zorder=0)
    first, last = _limits(trial, found)
    ax.set_xlim(first, last)
    for event in found:
        _mark(ax, trial, curves, event)
    _name(ax, found, first, last)
    ax.set_xlabel("time from the file's first frame (s)" + _missing_text(events))
    ax.set_ylabel("elevation (deg)\n+ above horizontal")
    if curves:
        ax.legend(loc="upper left", fontsize=8, frameon=False)
    plain(ax)
    return ax


def measure_elevations(trial: Trial) -> dict[str, np.ndarray]:
    """Name -> (n_frames,) degrees above horizontal: shaft (first to last point on it) and arms."""
    ends: dict[str, tuple[tuple[str, ...], tuple[str, ...]] | None] = {"shaft": _shaft_ends(trial)}
    for word, side in (("lead arm", "left"), ("trail arm", "right")):
        top = [n for n in (f"acromion_{side}", f"shoulder_{side}") if trial.has(n)]
        pair = tuple(n for n in (f"wrist_radial_{side}", f"wrist_ulnar_{side}") if trial.has(n))
        wrist = pair or tuple(n for n in (f"wrist_{side}",) if trial.has(n))
        ends[word] = ((top[0],), wrist) if top and wrist else None
    return {name: _elevation(trial, *pair) for name, pair in ends.items() if pair is not None}


def _shaft_ends(trial: Trial) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    points = [n for n in shaft_points(trial.landmarks) if trial.has(n)]
    if len(points) >= 2:
        return (points[0],), (points[-1],)
    hands = tuple(n for n in ("hand_left", "hand_right", "wrist_left", "wrist_right") if trial.has(n))[:2]
    if not trial.has("clubhead") or not (points or hands):
        return None
    return (points[0],) if points else hands, ("clubhead",)


def _elevation(trial: Trial, tails: tuple[str, ...], tips: tuple[str, ...]) -> np.ndarray:
    tail, tip = (np.mean([trial.point(n) for n in names], axis=0) for names in (tails, tips))
    way = tip - tail
    return np.degrees(np.arctan2(way[:, 1], np.hypot(way[:, 0], way[:, 2])))


def _limits(trial: Trial, found: list[Event]) -> tuple[float, float]:
    start, end = float(trial.time_s[0]), float(trial.time_s[-1])
    if len(found) < len(EVENT_LABELS) / 2:  # too few to say which part of the capture matters
        return start, end
    return max(start, found[0].time_s - 0.15), min(end, max(found[-1].time_s + 0.15, found[0].time_s + 0.5))


def _mark(ax: Axes, trial: Trial, curves: dict[str, np.ndarray], event: Event) -> None:
    wide = 2 * event.standard_error_s
    ax.axvspan(event.time_s - wide, event.time_s + wide, color=GREY, alpha=0.18, lw=0, zorder=0)
    ax.axvline(event.time_s, color=GREY, lw=0.7, zorder=1)
    name = READ_FROM.get(event.name, "shaft")
    name = name if name in curves else next(iter(curves), "")
    if not name:
        return
    curve = curves[name]
    seen = np.isfinite(curve)
    height = float(np.interp(event.time_s, trial.time_s[seen], curve[seen]))
    given = event.method in ("by hand", "file")
    face = "white" if given else LOOKS[name][0]
    ax.plot(event.time_s, height, "o", ms=5, mfc=face, mec=LOOKS[name][0], zorder=3)


def _name(ax: Axes, found: list[Event], first: float, last: float) -> None:
    """The names above the axis, spread so that none covers another, each tied to its line."""
    places = _spread([(e.time_s - first) / (last - first) for e in found])
    axis = ax.get_xaxis_transform()
    for event, place in zip(found, places, strict=True):
        tail = {"by hand": " (by hand)", "file": " (file)"}.get(event.method, "")
        ax.annotate(
            fill(EVENT_LABELS[event.name] + tail, LINE_LENGTH), xy=(event.time_s, 1.0), xytext=(place, 1.06),
            xycoords=axis, textcoords="axes fraction", rotation=90, ha="center", va="bottom", fontsize=7.5,
            linespacing=0.95, annotation_clip=False,
            arrowprops={"arrowstyle": "-", "color": GREY, "lw": 0.6, "shrinkA": 0, "shrinkB": 0},
        )  # fmt: skip


def _spread(shares: list[float]) -> list[float]:
    """Places from 0 to 1 in the same order, at least NAMES_APART from each other, as near as may be."""
    groups: list[list[float]] = []  # each group: its members' wished places
    for share in shares:
        groups.append([share])
        while len(groups) > 1 and _start(groups[-1]) < _start(groups[-2]) + NAMES_APART * len(groups[-2]):
            groups[-2:] = [groups[-2] + groups[-1]]
    return [_start(group) + k * NAMES_APART for group in groups for k in range(len(group))]


def _start(group: list[float]) -> float:
    """Where a group's first name stands so that the group's middle is that of its members."""
    length = NAMES_APART * (len(group) - 1)
    return float(np.clip(np.mean(group) - length / 2, 0.0, 1.0 - length))


def _missing_text(events: Events) -> str:
    missing = [EVENT_LABELS[e.name] for e in events.events if not np.isfinite(e.time_s)]
    return "\n" + fill(f"not found: {', '.join(missing)}", 120) if missing else ""
