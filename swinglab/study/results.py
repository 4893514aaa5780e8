"""What measuring a study brings: one row a swing, and the long tables behind it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.study.gate import GATE_COLUMNS

if TYPE_CHECKING:
    from swinglab.study.opening import Study

LEFT_OUT_COLUMNS = ["swing", "file", "stage", "what", "do"]
_FIRST = ["swing", "golfer", "group", "hand", "session", "phase", "order", "club"]
#: Rows of the long table that are made wide at a time.
_ROWS = 500_000
_METHODS = ["capture_kind", "pelvis_frame_method", "thorax_frame_method", "arm_method", "impact_method",
            "ball_method"]  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Results:
    """The tables of a measured study.

    swings : one row a swing, with the standard error beside each measured column. posture, events, strike :
    as in their files, the text of posture as categories. left_out : swing, file, stage, what, do. quality : one row a
    measured swing. excluded : rows of the swing table of swings excluded by hand, which are measured all the same.
    inputs : sha256 of each capture as it was read. gate : one row for each doubt about a swing, measured or refused
    (`gate.shared_doubts` gives each once for the swings that share it). notes : what holds for these results
    as a whole.
    """

    swings: pd.DataFrame
    posture: pd.DataFrame
    events: pd.DataFrame
    strike: pd.DataFrame
    left_out: pd.DataFrame
    quality: pd.DataFrame
    excluded: pd.DataFrame = field(default_factory=lambda: pd.DataFrame({"swing": pd.Series(dtype=str)}))
    inputs: Mapping[str, str] = field(default_factory=dict)
    gate: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=GATE_COLUMNS, dtype=str))
    notes: tuple[str, ...] = ()

    @property
    def with_excluded(self) -> pd.DataFrame:
        """The swing table with the swings excluded by hand included, in the order of the swings' names."""
        return pd.concat([self.swings, self.excluded], ignore_index=True)


def swing_table(
    swings: pd.DataFrame,
    golfers: pd.DataFrame,
    posture: pd.DataFrame,
    strike: pd.DataFrame,
    quality: pd.DataFrame,
    quantities: pd.DataFrame,
) -> pd.DataFrame:
    """One row a measured swing, in the order of swings.csv: design, methods, strike, timing, posture."""
    # A hand given by swing, and values given by session, win over the golfer's.
    of_golfer = golfers.drop(columns=[n for n in golfers.columns if n in swings.columns and n != "golfer"])
    design = swings.merge(of_golfer, on="golfer", how="left", validate="m:1")
    first = [n for n in _FIRST if n in design.columns]
    rest = [n for n in design.columns if n not in first]
    keys = quality[["swing", *_METHODS]]
    table = design[[*first, *rest]].merge(keys, on="swing", how="left", validate="1:1")
    # A swing without a capture is there with its outcomes by another device; one that was left out is not.
    table = table[table["swing"].isin(keys["swing"]) | (table["capture"] == "")].reset_index(drop=True)
    outcome = strike.drop(columns=["method", "note"], errors="ignore")
    for part in (outcome, quantities):
        table = table.merge(part, on="swing", how="left", validate="1:1")
    return _beside(table, wide_posture(posture, table["swing"]))


def _beside(table: pd.DataFrame, wide: pd.DataFrame) -> pd.DataFrame:
    """Two tables side by side; the first is copied, because a table in many pieces is slow to take rows from."""
    return pd.concat([table.copy(), wide], axis=1)


def wide_posture(posture: pd.DataFrame, swings: pd.Series) -> pd.DataFrame:
    """Posture at events as columns, each followed by the part of its standard error that is noise and timing.

    This part differs from swing to swing and weakens slopes; the deformation of segments may repeat in every swing.

    Parameters
    ----------
    posture : DataFrame
        The long table. Its text may be categories, and it is read in parts: with 10,000 swings it has eight million
        rows.
    swings : Series
        Names of swings: the rows returned, with this index. NaN where a swing has no posture.
    """
    swing, quantity, event = (pd.Categorical(posture[name]) for name in ("swing", "quantity", "event"))
    events, quantities = event.categories, quantity.categories
    parts = [slice(first, first + _ROWS) for first in range(0, len(posture), _ROWS)]

    def pair(part: slice) -> np.ndarray:
        """Quantity and event of each row as one number."""
        return quantity.codes[part].astype(np.int64) * len(events) + event.codes[part]

    pairs = list(dict.fromkeys(number for part in parts for number in pd.unique(pair(part)).tolist()))
    place = np.zeros(len(quantities) * len(events), np.int64)
    place[pairs] = np.arange(len(pairs))
    row = pd.Index(swings).get_indexer(swing.categories)
    wide = np.full((len(swings), len(pairs), 2), np.nan)
    seen, expected = np.zeros((len(swings), len(pairs)), bool), 0
    for part in parts:
        rows = row[swing.codes[part]]
        known = rows >= 0
        at = rows[known], place[pair(part)[known]]
        seen[at] = True
        expected += len(at[0])
        for k, name in enumerate(("value", "noise_error")):
            wide[(*at, k)] = posture[name].iloc[part].to_numpy(float)[known]
    if seen.sum() < expected:
        raise ValueError("a quantity stands twice at one event of a swing")
    names = []
    for number in pairs:
        name = columns.event_column_name(
            str(quantities[number // len(events)]), str(events[number % len(events)])
        )
        names += [name, columns.error_column_name(name)]
    return pd.DataFrame(
        wide.reshape(len(swings), 2 * len(pairs)), index=swings.index, columns=names, copy=False
    )


def without_posture_errors(table: pd.DataFrame) -> pd.DataFrame:
    """The swing table as it is written: the posture's standard errors stand in posture.csv."""
    errors = [n for n in table.columns if columns.is_column(n) and columns.column(n).error_of]
    return table.drop(columns=[n for n in errors if columns.column(n).kind == "posture"])


def with_posture_errors(table: pd.DataFrame, posture: pd.DataFrame) -> pd.DataFrame:
    """The written swing table with the posture's standard errors beside their columns again."""
    wide = wide_posture(posture, table["swing"])
    return _beside(table.drop(columns=wide.columns, errors="ignore"), wide)


def without_capture_names(table: pd.DataFrame, study: Study) -> pd.DataFrame:
    """A table as it is written: swings in place of names of captures, which may hold names of people."""
    made = table.drop(columns=["capture"], errors="ignore")
    if "file" not in made.columns:
        return made
    shown = {swing: study.shown(path) for swing, path in study.captures.items()}
    made = made.assign(file=[f"capture of {swing}" for swing in made["swing"]])
    for name in ("what", "do"):
        if name in made.columns:
            made[name] = [
                _without_name(str(text), shown.get(swing, ""), swing)
                for swing, text in zip(made["swing"], made[name], strict=True)
            ]
    return made


def _without_name(text: str, shown: str, swing: str) -> str:
    for name in (shown, shown.rsplit("/", 1)[-1]):
        if name:
            text = text.replace(name, f"the capture of {swing}")
    return text


def with_capture_names(table: pd.DataFrame, study: Study) -> pd.DataFrame:
    """The written swing table with the column capture of swings.csv again."""
    if "capture" in table.columns or "capture" not in study.swings.columns:
        return table
    names = study.swings.set_index("swing")["capture"]
    return table.assign(capture=table["swing"].map(names))
