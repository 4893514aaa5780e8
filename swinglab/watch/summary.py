"""Summary shown on a session's page: means with SD, the target range, and the number of swings still to make."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.report import wording
from swinglab.study import Results, Study
from swinglab.study.gate import ACCEPTED
from swinglab.watch.number import Number
from swinglab.watch.standing import Standing

#: Swings of one day drawn in the strip.
MOST_DOTS = 60


def swings_of(study: Study, standing: Standing) -> pd.DataFrame:
    """Return one row for each swing of a session, in order.

    Columns: swing, phase, seen (contact as marked by the coach), exclude (why the swing is excluded; "" if it is not),
    posture and outcome (NaN if missing).
    """
    rows = standing.rows(study)
    measured = pd.DataFrame() if standing.results is None else standing.results.swings.set_index("swing")
    table = pd.DataFrame({"swing": rows["swing"].astype(str)})
    for name in ("phase", "seen", "exclude"):
        table[name] = rows[name].fillna("").astype(str) if name in rows.columns else ""
    for name, column in (("posture", standing.number.column), ("outcome", standing.number.outcome)):
        values = measured[column] if column in measured.columns else pd.Series(dtype=float)
        table[name] = pd.to_numeric(table["swing"].map(values), errors="coerce").astype(float)
    return table.reset_index(drop=True)


def problems_of(results: Results | None, swing: str) -> list[str]:
    """Return the problems of a swing in words: plausibility checks that failed, and parts that were not measured."""
    if results is None:
        return []
    gate = results.gate[(results.gate["swing"] == swing) & (results.gate["verdict"] != ACCEPTED)]
    left = results.left_out[(results.left_out["swing"] == swing) & (results.left_out["stage"] != "gate")]
    found = [
        f"{verdict}: {what}" + (f" ({value})" if value else "") + f". {do}"
        for verdict, what, value, do in gate[["verdict", "what", "value", "do"]]
        .astype(str)
        .to_numpy()
        .tolist()
    ]
    return [*found, *(f"{row.what}. {row.do}".strip() for row in left.itertuples())]


def summary(table: pd.DataFrame, number: Number, every: int, phase: str, *, singles: bool) -> dict[str, Any]:
    """Return the mean of the last complete block of swings in a phase, or the values of the last swing.

    Mean and SD of all swings of the phase are returned too. Swings that are excluded, such as practice swings without a
    ball, and swings without the posture are ignored; mishits and topped balls count. Swings of different phases are
    never combined.

    Parameters
    ----------
    table : pandas.DataFrame
        From `swings_of`.
    number : Number
        The posture and outcome that are shown.
    every : int
        Number of swings in a block.
    phase : str
        Phase of the session, for example before or after.
    singles : bool
        Whether the values of the last swing are shown instead of the mean of a block.

    Returns
    -------
    dict
        Numbers and texts for the page, among them: posture and outcome (each with label, unit, the value shown, and
        mean, SD and number of all swings of the phase), aim (the target range), shown (a text that names the block or
        swing of the value shown), until_next (number of swings until the next block is complete) and dots (one entry
        for each of the last 60 swings).
    """
    usable = table[(table["exclude"] == "") & np.isfinite(table["posture"])]
    own = usable[usable["phase"] == phase]
    full = len(own) // every * every
    block = own.iloc[full - every : full] if full else own.iloc[:0]
    shown = usable.iloc[-1:] if singles else block
    said = f"mean of swings {full - every + 1} to {full}{_in_phase(phase)}" if full else ""
    if singles:
        said = f"the last swing: {shown['swing'].iloc[0]}" if len(shown) else ""
    return {
        "posture": _measure(shown["posture"], own["posture"], number.column),
        "outcome": _measure(shown["outcome"], own["outcome"], number.outcome),
        "aim": None if number.aim is None else [round(value, 1) for value in number.aim],
        "shown": said,
        "own": f"all swings{_in_phase(phase)}" if phase else "this session",
        "swings": len(usable),
        "until_next": every - (len(own) - full),
        "dots": [
            {"swing": row.swing, "posture": round(row.posture, 2), "phase": row.phase, "seen": row.seen}
            for row in usable.iloc[-MOST_DOTS:].itertuples()
        ],
    }


def _in_phase(phase: str) -> str:
    return f", phase {phase}" if phase else ""


def _measure(shown: pd.Series, all_own: pd.Series, name: str) -> dict[str, Any]:
    column = columns.column(name) if columns.is_column(name) else None
    values = all_own[np.isfinite(all_own)]
    return {
        "label": wording.label(name),
        "unit": wording.unit_words(column.unit) if column else "",
        "positive": column.positive if column else "",
        "value": _rounded(shown.mean()),
        "mean": _rounded(values.mean()),
        "sd": _rounded(values.std(ddof=1)) if len(values) > 1 else None,
        "n": len(values),
    }


def _rounded(value: float) -> float | None:
    return round(float(value), 1) if np.isfinite(value) else None
