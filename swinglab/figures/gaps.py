"""Which landmark is missing when: one line a landmark, a bar for each gap."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.patches import Patch

from swinglab.errors import BadTable
from swinglab.figures.style import COLOURS, FAINT, GREY, new_axes, plain
from swinglab.records import Trial

_COLUMNS = ("landmark", "start_s", "end_s", "samples", "state")
#: State -> words of the legend, colour and hatching (colour alone carries nothing).
_LOOKS = {
    "missing": ("missing", COLOURS[1], ""),
    "filled": ("missing in the file, filled", COLOURS[0], "////"),
}


def draw_gaps(trial_or_table: Trial | pd.DataFrame, *, ax: Axes | None = None) -> Axes:
    """Draw which landmark is missing when, and which of it was filled.

    Parameters
    ----------
    trial_or_table : Trial or DataFrame
        A trial (gaps of the file, filled and left open), or the table of `load.describe_gaps`: landmark,
        start_s, end_s, samples, state ("missing" or "filled").
    ax : Axes, optional
        Where to draw; else a new figure.

    Returns
    -------
    Axes
        Time in seconds from the file's first frame; with a trial, a line at the coarse contact time.

    Raises
    ------
    BadTable
        The table lacks a column, or holds a state that is not known.

    Examples
    --------
    >>> import pandas as pd
    >>> gap = {"landmark": "c7", "start_s": 0.1, "end_s": 0.2, "samples": 24, "state": "missing"}
    >>> draw_gaps(pd.DataFrame([gap])).get_title()
    'Missing samples'
    """
    table = _gaps_of(trial_or_table) if isinstance(trial_or_table, Trial) else trial_or_table
    _need_columns(table)
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
    if isinstance(trial_or_table, Trial):
        ax.set_xlim(trial_or_table.time_s[0], trial_or_table.time_s[-1])
        ax.set_title(f"Missing samples, {trial_or_table.swing}", fontsize=11)
        if trial_or_table.contact_time_s is not None:
            ax.axvline(trial_or_table.contact_time_s, color=GREY, linestyle="--", linewidth=1)
            ax.annotate(
                "contact", (trial_or_table.contact_time_s, 0), xycoords=("data", "axes fraction"), xytext=(3, 3),
                textcoords="offset points", color=GREY, fontsize=9,
            )  # fmt: skip
    else:
        ax.set_title("Missing samples", fontsize=11)
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


def _need_columns(table: pd.DataFrame) -> None:
    lost = [name for name in _COLUMNS if name not in table.columns]
    if lost:
        raise BadTable(
            f"the table of gaps lacks {', '.join(lost)}", do="give what load.describe_gaps returns"
        )
    strange = sorted(set(table["state"]) - set(_LOOKS))
    if strange:
        raise BadTable(f"a gap is {' or '.join(_LOOKS)}, not {', '.join(map(str, strange))}")


def _gaps_of(trial: Trial) -> pd.DataFrame:
    """The gaps of a trial: stretches missing in the file, filled ones and open ones."""
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
    return pd.DataFrame(rows, columns=list(_COLUMNS))
