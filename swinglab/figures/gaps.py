"""Figure of gaps in the data of landmarks: one row for each landmark, one bar for each gap."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.patches import Patch

from swinglab.figures.style import COLOURS, FAINT, GREY, new_axes, plain
from swinglab.records import Trial

#: State -> text of the legend, colour and hatching (so that the figure can be read without colour).
_LOOKS = {
    "missing": ("missing", COLOURS[1], ""),
    "filled": ("missing in the file, filled", COLOURS[0], "////"),
}


def draw_gaps(trial: Trial, *, ax: Axes | None = None) -> Axes:
    """Draw the times at which each landmark is missing, and which of these gaps were filled.

    Parameters
    ----------
    trial : Trial
        The swing.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes
        Time in s from the file's first frame, with a dashed line at the approximate time of contact.
    """
    table = _gaps_of(trial)
    names = list(dict.fromkeys(table["landmark"]))
    ax = new_axes(ax, width=7.2, height=0.9 + 0.2 * max(4, len(names)))
    place = {name: row for row, name in enumerate(names)}
    gaps = table[table["samples"] > 0]
    for state, (_, colour, hatch) in _LOOKS.items():
        some = gaps[gaps["state"] == state]
        start, end = some["start_s"].to_numpy(float), some["end_s"].to_numpy(float)
        rows = [place[name] for name in some["landmark"]]
        ax.barh(
            rows,
            end - start,
            left=start,
            height=0.7,
            color=colour,
            hatch=hatch,
            edgecolor="white",
            linewidth=0,
        )
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.5, -0.5)
    ax.hlines(
        range(len(names)), 0, 1, transform=ax.get_yaxis_transform(), color=FAINT, linewidth=0.4, zorder=0
    )
    ax.set_xlabel("time from the file's first frame (s)")
    ax.set_xlim(trial.time_s[0], trial.time_s[-1])
    ax.set_title(f"Missing samples, {trial.swing}", fontsize=11)
    if trial.contact_time_s is not None:
        ax.axvline(trial.contact_time_s, color=GREY, linestyle="--", linewidth=1)
        ax.annotate(
            "contact", (trial.contact_time_s, 0), xycoords=("data", "axes fraction"), xytext=(3, 3),
            textcoords="offset points", color=GREY, fontsize=9,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1, "alpha": 0.85},
        )  # fmt: skip
    handles = [
        Patch(facecolor=colour, hatch=hatch, edgecolor="white", label=words)
        for state, (words, colour, hatch) in _LOOKS.items()
        if (gaps["state"] == state).any()
    ]
    if handles:
        ax.legend(handles=handles, fontsize=9, loc="upper left", bbox_to_anchor=(1.0, 1.0), frameon=False)
    else:
        ax.annotate("nothing is missing", (0.5, 0.5), xycoords="axes fraction", ha="center", color=GREY)
    plain(ax)
    return ax


def _gaps_of(trial: Trial) -> pd.DataFrame:
    """Return the stretches of each landmark's data, with start and end in s, and state "missing" or "filled".

    A row with 0 samples is a stretch without a gap.
    """
    missing = ~np.isfinite(trial.raw_m).all(axis=-1)
    rows = []
    for k, name in enumerate(trial.landmarks):
        state = np.where(missing[:, k], np.where(trial.filled[:, k], 2, 1), 0)
        change = np.flatnonzero(np.diff(state)) + 1
        for run in np.split(np.arange(len(state)), change):
            word = {0: "missing", 1: "missing", 2: "filled"}[int(state[run[0]])]
            samples = len(run) if state[run[0]] else 0
            ends = ((run[0] - 0.5) / trial.rate_hz, (run[-1] + 0.5) / trial.rate_hz)
            rows.append((name, *ends, samples, word))
    return pd.DataFrame(rows, columns=["landmark", "start_s", "end_s", "samples", "state"])
