"""Draw the code book's pictures from a simulated golfer: each quantity on the body, seen from where it shows best.

python references/draw_conventions.py
"""

from __future__ import annotations

import matplotlib
import numpy as np
from make_conventions import PICTURES, picture_name
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from swinglab import columns
from swinglab.conventions import EVENTS
from swinglab.figures import draw_stick_figure
from swinglab.figures.posture import VIEWS
from swinglab.figures.viewer.marks import Mark, mark_on_body
from swinglab.figures.viewer.skeleton import drawn_points
from swinglab.records import Event, Events, Posture, Trial
from swinglab.segments import measure_posture
from swinglab.simulate import make_golfer, make_swing

ABOVE = ("axial_rotation", "separation", "lean_direction", "spin", "toward_ball", "spacing", "distance")
BESIDE = ("flexion", "lean", "elevation", "plane_of_elevation")
MARK = "#c03030"


def view_of(c: columns.Column) -> str:
    """Where a quantity is seen from."""
    motion = c.motion.removesuffix("_isb")
    if motion in ABOVE:
        return "above"
    beside = motion in BESIDE and not c.part.startswith(("lead_elbow", "trail_elbow", "lead_wrist"))
    return "down_the_line" if beside else "face_on"


def draw_mark(ax: Axes, mark: Mark, frame: int, view: str) -> None:
    """Two lines with the arc between them, or a distance."""
    across, upward, *_ = VIEWS[view]
    points = [np.asarray(p)[frame] for p in mark.points]
    flat = [np.array([p @ across, p @ upward]) for p in points]
    if mark.kind == "distance":
        ax.annotate("", flat[1], flat[0], arrowprops={"arrowstyle": "<->", "color": MARK, "lw": 1.6})
        return
    for end, dash in zip(flat[1:], ("--", "-"), strict=True):
        ax.plot(*np.transpose([flat[0], end]), dash, color=MARK, lw=1.6)
    start, end = (p - points[0] for p in points[1:])
    turns = np.linspace(0, 1, 15)[:, None]
    arc = (1 - turns) * start / np.linalg.norm(start) + turns * end / np.linalg.norm(end)
    arc = points[0] + 0.25 * arc / np.linalg.norm(arc, axis=1, keepdims=True)
    ax.plot(arc @ across, arc @ upward, color=MARK, lw=1.0)


def draw_one(c: columns.Column, trial: Trial, posture: Posture, events: Events) -> bool:
    """Write one quantity's picture; False where nothing can be drawn for it."""
    event = c.events[-1] if len(c.events) < len(EVENTS) else "shaft_horizontal_down"
    frame = int(np.abs(trial.time_s - events.time_s(event)).argmin())
    mark = mark_on_body(c.name, drawn_points(trial, posture), trial, posture, events)
    if c.name == "pelvis_ahead_of_thorax_cm":
        pelvis, thorax = posture.centres_m["pelvis_centre"], posture.centres_m["thorax_centre"]
        mark = Mark("distance", (np.column_stack([thorax[:, 0], pelvis[:, 1:]]), pelvis))
    if mark is None or not all(np.isfinite(np.asarray(p)[frame]).all() for p in mark.points):
        return False
    figure = Figure(figsize=(2.0, 2.2), layout="constrained")
    ax = draw_stick_figure(trial, trial.time_s[frame], view=view_of(c), posture=posture, ax=figure.subplots())
    draw_mark(ax, mark, frame, view_of(c))
    ax.get_legend().remove()
    ax.set_axis_off()
    figure.savefig(PICTURES / f"{picture_name(c)}.svg", metadata={"Date": None})
    return True


def main() -> None:
    """Every picture of the code book."""
    matplotlib.rcParams["svg.hashsalt"] = "swinglab"
    swing = make_swing(make_golfer(name="G01"), seed=1)
    trial = swing.trial()
    posture = measure_posture(trial)
    found = tuple(Event(name, swing.true_events[name], 0.0, "made") for name in EVENTS)
    events = Events(swing.name, swing.golfer.name, swing.rate_hz, found)
    PICTURES.mkdir(exist_ok=True)
    wanted = {picture_name(c): c for c in reversed(columns.QUANTITIES.values())}
    without = [name for name, c in wanted.items() if not draw_one(c, trial, posture, events)]
    print(f"{len(wanted) - len(without)} pictures; none for {', '.join(without) or 'no one'}")


if __name__ == "__main__":
    main()
