"""Data of swings for the viewer: all numbers as one array of float32 bytes, with a description of its contents."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from swinglab import columns
from swinglab.conventions import EVENT_LABELS
from swinglab.errors import BadRequest
from swinglab.figures.viewer.marks import Mark, mark_on_body
from swinglab.figures.viewer.skeleton import PASSING_OVER, SPINE, TRUNK, bones, drawn_points
from swinglab.records import Events, Posture, Trial

MOST_SWINGS = 2


@dataclass(frozen=True, slots=True, eq=False)
class SwingFrames:
    """Data of one swing for the viewer.

    names : names of the points. points_m : (n_frames, n_points, 3) in metres, study frame. bones : names of two points
    that are connected by a line, and what the line belongs to (lead, trail, trunk or club). events : (name, label,
    time in s). ball_m : (3,) position of the ball. quantity : posture quantity that is shown. values : its values
    (n_frames,). mark : lines that show it on the body.
    """

    swing: str
    golfer: str
    hand: str
    title: str
    rate_hz: float
    names: tuple[str, ...]
    points_m: np.ndarray
    bones: tuple[tuple[str, str, str], ...]
    events: tuple[tuple[str, str, float], ...] = ()
    ball_m: np.ndarray | None = None
    quantity: str = ""
    values: np.ndarray | None = None
    mark: Mark | None = None


def swing_frames(
    trial: Trial,
    posture: Posture | None = None,
    events: Events | None = None,
    *,
    quantity: str | None = None,
    title: str = "",
) -> SwingFrames:
    """Return the data of one swing for the viewer.

    Parameters
    ----------
    trial : Trial
        The swing.
    posture, events : optional
        Posture and events of the swing. They are needed for the hips, for the buttons of events, and to show a
        quantity.
    quantity : str, optional
        A posture quantity, one of ``columns.QUANTITIES``, that is drawn on the body and given as a number.
    title : str
        Title of the swing; if empty, the names of swing and golfer.

    Raises
    ------
    BadRequest
        An unknown quantity, or a quantity without `posture`.
    """
    points = drawn_points(trial, posture)
    mark, values = None, None
    if quantity is not None:
        columns.quantity_column(quantity)
        if posture is None:
            raise BadRequest(
                f"{quantity} cannot be drawn, because the argument posture is missing",
                do="give posture, the result of measure_posture for this swing",
            )
        if quantity in posture.quantities:
            values = _from_address(posture, events, quantity)
            mark = mark_on_body(quantity, points, trial, posture, events)
    found = [e for e in events.events if np.isfinite(e.time_s)] if events is not None else []
    return SwingFrames(
        trial.swing, trial.golfer, trial.hand, title or f"{trial.swing}, golfer {trial.golfer}",
        float(trial.rate_hz), tuple(points), np.stack(list(points.values()), axis=1), tuple(bones(points)),
        tuple((e.name, EVENT_LABELS[e.name], float(e.time_s)) for e in found), trial.ball_m, quantity or "",
        values, mark,
    )  # fmt: skip


def _from_address(posture: Posture, events: Events | None, quantity: str) -> np.ndarray:
    """Return a quantity in each frame (n_frames,); a position is relative to address if that was found."""
    curve = np.array(posture.curve(quantity), dtype=float)
    from_address = ("toward_target", "up", "toward_ball")
    is_relative = (
        columns.quantity_column(quantity).motion in from_address or quantity == "trail_heel_height_cm"
    )
    if is_relative and events is not None and events.found("address"):
        curve -= np.interp(events.time_s("address"), posture.time_s, curve)
    return curve


def pack_swings(
    swings: Sequence[SwingFrames], *, align: str = "impact", start: str = ""
) -> tuple[dict[str, Any], bytes]:
    """Return a description of one or two swings for the script of the viewer, and their numbers as bytes.

    Parameters
    ----------
    swings : sequence of SwingFrames
        One swing, or two that are shown side by side or overlaid.
    align : str
        Event at time 0; for a swing without this event, its first frame.
    start : str
        Event that is shown first; if it is empty or missing, address.

    Returns
    -------
    tuple
        A dict that can be written as JSON, and the bytes: all arrays one after another, as little-endian float32
        numbers. In the dict, "at" is the index of an array's first number (not byte).

    Raises
    ------
    BadRequest
        No swing, or more than two.
    """
    if not 1 <= len(swings) <= MOST_SWINGS:
        raise BadRequest(
            f"the swing viewer can show one or {MOST_SWINGS} swings, but {len(swings)} were given",
            do="choose one or two swings",
        )
    parts: list[np.ndarray] = []
    described = [_describe(frames, parts) for frames in swings]
    numbers = np.concatenate(parts).astype("<f4")
    return {"version": 2, "align": align, "start": start, "swings": described}, numbers.tobytes()


def _describe(frames: SwingFrames, parts: list[np.ndarray]) -> dict[str, Any]:
    def place(numbers: np.ndarray) -> int:
        start = sum(len(part) for part in parts)
        parts.append(np.ravel(numbers))
        return start

    index = {name: i for i, name in enumerate(frames.names)}
    described: dict[str, Any] = {
        "swing": frames.swing,
        "golfer": frames.golfer,
        "hand": frames.hand,
        "title": frames.title,
        "rate_hz": frames.rate_hz,
        "frames": len(frames.points_m),
        "points": len(frames.names),
        "at": place(frames.points_m),
        "bones": [[index[a], index[b], part, (a, b) in PASSING_OVER] for a, b, part in frames.bones],
        "trunk": [index[name] for name in TRUNK] if all(name in index for name in TRUNK) else None,
        "spine": [index[name] for name in SPINE] if all(name in index for name in SPINE) else None,
        "club_points": [i for name, i in index.items() if name.startswith("club") or name == "ball"],
        "head": index.get("head"),
        "clubhead": index.get("clubhead"),
        "ball": None if frames.ball_m is None else [round(float(v), 5) for v in frames.ball_m],
        "events": [{"name": name, "label": label, "time_s": time} for name, label, time in frames.events],
        "quantity": None,
    }
    if frames.quantity and frames.values is not None:
        column = columns.quantity_column(frames.quantity)
        described["quantity"] = {
            "label": column.label,
            "unit": columns.UNIT_WORDS.get(column.unit, column.unit),
            "decimals": columns.UNIT_DECIMALS.get(column.unit, 1),
            "positive": column.positive,
            "at": place(frames.values),
            "mark": _describe_mark(frames.mark, place),
        }
    return described


def _describe_mark(mark: Mark | None, place: Any) -> dict[str, Any] | None:
    if mark is None:
        return None
    return {"kind": mark.kind, "exact": mark.is_exact, "at": [place(points) for points in mark.points]}
