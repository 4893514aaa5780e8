"""Results of measuring a study: the swing table (one row for each swing) and tables with several rows a swing."""

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
#: Rows of the long table that are pivoted at a time.
_ROWS = 500_000
_METHODS = ["capture_kind", "pelvis_frame_method", "thorax_frame_method", "arm_method", "impact_method",
            "ball_method"]  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Results:
    """The tables of a measured study.

    swings : the swing table, one row for each swing; each measured column is followed by its standard error. posture,
    events, strike : as in posture.csv, events.csv and strike.csv; text columns of posture are categories. left_out :
    swings, or parts of swings, that were not measured (columns swing, file, stage, what, do). quality : one row for
    each measured swing, as in quality.csv. excluded : rows of the swing table for swings excluded by hand, which are
    measured but not used in answers. inputs : SHA-256 of each capture when it was read. gate : one row for each check
    of plausibility that a swing failed (`gate.shared_doubts` lists each message once). notes : notes on the results as
    a whole.
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
        """The swing table including the swings excluded by hand, which are its last rows."""
        return pd.concat([self.swings, self.excluded], ignore_index=True)


def swing_table(
    swings: pd.DataFrame,
    golfers: pd.DataFrame,
    posture: pd.DataFrame,
    strike: pd.DataFrame,
    quality: pd.DataFrame,
    quantities: pd.DataFrame,
) -> pd.DataFrame:
    """Build the swing table: one row for each measured swing, in the order of swings.csv.

    Swings without a capture, which have only outcomes of another device, are included too. Swings with a reason in the
    column exclude of swings.csv are not. The columns are in this order: design (from swings.csv and golfers.csv),
    methods of measurement, strike, timing, posture.

    Parameters
    ----------
    swings, golfers : DataFrame
        The tables swings.csv and golfers.csv.
    posture, strike, quality : DataFrame
        As in `Results`.
    quantities : DataFrame
        Quantities with one value for each swing, such as times of peak turning speed.
    """
    if "exclude" in swings.columns:
        swings = swings[swings["exclude"] == ""]
    # A hand given by swing, and values given by session, override the golfer's.
    of_golfer = golfers.drop(columns=[n for n in golfers.columns if n in swings.columns and n != "golfer"])
    design = swings.merge(of_golfer, on="golfer", how="left", validate="m:1")
    first = [n for n in _FIRST if n in design.columns]
    rest = [n for n in design.columns if n not in first]
    keys = quality[["swing", *_METHODS]]
    table = design[[*first, *rest]].merge(keys, on="swing", how="left", validate="1:1")
    # Swings without a capture are included with another device's outcomes; swings that were left out are not.
    table = table[table["swing"].isin(keys["swing"]) | (table["capture"] == "")].reset_index(drop=True)
    outcome = strike.drop(columns=["method", "note"], errors="ignore")
    for part in (outcome, quantities):
        table = table.merge(part, on="swing", how="left", validate="1:1")
    return _beside(table, wide_posture(posture, table["swing"]))


def _beside(table: pd.DataFrame, wide: pd.DataFrame) -> pd.DataFrame:
    """Join two tables side by side; the first is copied, because row access to a fragmented table is slow."""
    return pd.concat([table.copy(), wide], axis=1)


def wide_posture(posture: pd.DataFrame, swings: pd.Series) -> pd.DataFrame:
    """Return posture at events with one row for each swing and one column for each quantity and event.

    Each column is followed by its standard error from marker noise and event timing. Only this part of the error
    differs at random from swing to swing and therefore attenuates slopes; the part due to deformation of segments may
    be the same in every swing.

    Parameters
    ----------
    posture : DataFrame
        One row for each swing, event and quantity; text columns may be categories. It is processed in chunks, because
        with 10,000 swings it has eight million rows.
    swings : Series
        Names of the swings to return. The result has the same index, and NaN for a swing without posture.

    Raises
    ------
    ValueError
        A quantity appears more than once for the same event of a swing.
    """
    swing, quantity, event = (pd.Categorical(posture[name]) for name in ("swing", "quantity", "event"))
    events, quantities = event.categories, quantity.categories
    parts = [slice(first, first + _ROWS) for first in range(0, len(posture), _ROWS)]

    def pair(part: slice) -> np.ndarray:
        """Return the pair of quantity and event of each row, coded as one number."""
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
        raise ValueError("the posture table contains a quantity more than once for the same event of a swing")
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
    """Return the swing table without standard errors of posture, as it is written to swing_table.csv.

    The standard errors are in posture.csv; `with_posture_errors` restores them.
    """
    errors = [n for n in table.columns if columns.is_column(n) and columns.column(n).error_of]
    return table.drop(columns=[n for n in errors if columns.column(n).kind == "posture"])


def with_posture_errors(table: pd.DataFrame, posture: pd.DataFrame) -> pd.DataFrame:
    """Return the swing table, as read from swing_table.csv, with standard errors of posture added from posture.csv."""
    wide = wide_posture(posture, table["swing"])
    return _beside(table.drop(columns=wide.columns, errors="ignore"), wide)


def without_capture_names(table: pd.DataFrame, study: Study) -> pd.DataFrame:
    """Return a table in which names of capture files are replaced by "capture of SWING".

    The column `file` of a swing without a capture is unchanged. File names may contain people's names, which the
    results must not show.
    """
    made = table.drop(columns=["capture"], errors="ignore")
    if "file" not in made.columns:
        return made
    shown = {swing: study.shown(path) for swing, path in study.captures.items()}
    files = zip(made["swing"], made["file"], strict=True)
    made = made.assign(file=[f"capture of {swing}" if swing in shown else file for swing, file in files])
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
    """Return the swing table, as read from swing_table.csv, with the names of capture files of swings.csv restored."""
    if "capture" in table.columns or "capture" not in study.swings.columns:
        return table
    names = study.swings.set_index("swing")["capture"]
    return table.assign(capture=table["swing"].map(names))
