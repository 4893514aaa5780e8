"""Doubts: failed plausibility checks of swings, as a table and grouped by message."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import pandas as pd

from swinglab.records import Accepted

DOUBTFUL, IMPOSSIBLE, ACCEPTED = "doubtful", "impossible", "accepted"

#: Every check, by the name used in messages and [[accept]], with what it checks.
CHECKS = {
    "up": "the head is above the feet",
    "target": "the golfer faces the ball's side and the club travels toward the target",
    "hand": "the golfer faces the ball's side as a right- or left-hander",
    "facing": "the golfer faces the ball's side within 60 deg",
    "travel": "the club travels toward the target at impact, within 60 deg",
    "sides": "left and right landmarks are on the correct sides",
    "front_back": "landmarks at the front and back of pelvis, thorax, head and feet are in the correct places",
    "club_ends": "the clubhead is farther from the hands than the butt",
    "unit": "the body has a human size in the capture's unit",
    "size": "the stature estimated from segment lengths is 0.95 to 2.4 m",
    "proportions": "segments have human proportions to one another",
    "constant": "the lengths of rigid segments stay within 25 % during the swing",
    "same_lengths": "segments are within 5 % (or 8 mm, if this is more) of the golfer's other swings in the session",
    "ground": "the feet are on the ground",
    "ball": "the ball is in front of the golfer and at rest until impact",
    "passes": "the club passes the ball's place once at speed",
    "time": "the frame rate is plausible for motion capture",
    "range": "values are within their plausible ranges",
}

GATE_COLUMNS = ["swing", "golfer", "check", "verdict", "key", "what", "value", "do", "reason"]


class Doubt(NamedTuple):
    """A plausibility check that a swing failed.

    check : name of the check, a key of `CHECKS`. verdict : doubtful or impossible. key : the setting or column to
    check. what : what is wrong, in the same words for all swings with the same fault. value : what was measured in this
    swing, with its unit. do : what to do.
    """

    check: str
    verdict: str
    key: str
    what: str
    value: str = ""
    do: str = ""

    def message(self) -> str:
        """Return what is wrong, in words, and the value in this swing."""
        return f"{self.what} ({self.value})" if self.value else self.what


def gate_table(
    doubts: Mapping[str, Sequence[Doubt]], golfers: Mapping[str, str], accepted: Iterable[Accepted]
) -> pd.DataFrame:
    """Return a table with one row for each doubt and the columns of gate.csv.

    The verdict is doubtful, impossible or, if a person has accepted the doubt, accepted.

    Parameters
    ----------
    doubts : mapping
        Swing -> its doubts.
    golfers : mapping
        Swing -> golfer.
    accepted : iterable of Accepted
        Entries of [[accept]] in study.toml. They apply to doubtful data, never to impossible data.
    """
    accepted = list(accepted)
    rows = []
    for swing, found in doubts.items():
        for doubt in found:
            reason = _reason(doubt, swing, golfers[swing], accepted)
            verdict = ACCEPTED if reason else doubt.verdict
            rows.append((swing, golfers[swing], doubt.check, verdict, *doubt[2:], reason))
    return pd.DataFrame(rows, columns=GATE_COLUMNS).astype(str)


def _reason(doubt: Doubt, swing: str, golfer: str, accepted: Iterable[Accepted]) -> str:
    if doubt.verdict != DOUBTFUL:
        return ""
    for entry in accepted:
        names = {"swing": entry.swing in (None, swing), "golfer": entry.golfer in (None, golfer)}
        if entry.check == doubt.check and all(names.values()):
            return entry.reason
    return ""


def quality_columns(table: pd.DataFrame, swings: Sequence[str]) -> pd.DataFrame:
    """Return the columns swing, gate (passed, doubtful or accepted) and doubts (in words) of quality.csv.

    table : from `gate_table`. swings : names of the swings; the result has one row for each.
    """
    doubts = {str(swing): rows for swing, rows in table.groupby("swing", sort=False)}
    rows = []
    for swing in swings:
        own = doubts.get(swing)
        if own is None:
            rows.append((swing, "passed", ""))
            continue
        worst = DOUBTFUL if (own["verdict"] == DOUBTFUL).any() else str(own["verdict"].iloc[0])
        words = [f"{check}: {what}" + (f" ({value})" if value else "")
                 for check, what, value in zip(own["check"], own["what"], own["value"], strict=True)]  # fmt: skip
        rows.append((swing, worst, " | ".join(words)))
    return pd.DataFrame(rows, columns=["swing", "gate", "doubts"])


class SharedDoubt(NamedTuple):
    """A doubt, with all swings that failed the same check in the same way.

    check, verdict, key, what, do : as in a `Doubt`; the verdict may also be accepted. reason : why the doubt was
    accepted; empty if it was not. swings, values : names of the swings, and the value of each.
    """

    check: str
    verdict: str
    key: str
    what: str
    do: str
    reason: str
    swings: tuple[str, ...]
    values: tuple[str, ...]

    def sentence(self, *, swings: int = 4) -> str:
        """Return the doubt in one line: verdict, message, names of up to `swings` swings, and what to do."""
        shown = ", ".join(self.swings[:swings]) + (", ..." if len(self.swings) > swings else "")
        number = f"{len(self.swings)} swings ({shown})" if len(self.swings) > 1 else f"swing {shown}"
        values = [value for value in dict.fromkeys(self.values) if value]
        some = f" ({', '.join(values[:3])}{', ...' if len(values) > 3 else ''})" if values else ""
        ending = f" Accepted: {self.reason}." if self.reason else (f" Do: {self.do}." if self.do else "")
        return f"{self.verdict} [{self.check}]: {self.what}{some}: {number}.{ending}"


def shared_doubts(table: pd.DataFrame) -> tuple[SharedDoubt, ...]:
    """Return each doubt once, with all swings that share it: impossible first, then doubtful, then accepted.

    Parameters
    ----------
    table : DataFrame
        From `gate_table` (``Results.gate``).
    """
    order = {IMPOSSIBLE: 0, DOUBTFUL: 1, ACCEPTED: 2}
    keys = ["check", "verdict", "key", "what", "do", "reason"]
    found = []
    for _, rows in table.groupby(keys, sort=False):
        check, verdict, key, what, do, reason = (str(rows.iloc[0][name]) for name in keys)
        swings, values = tuple(rows["swing"]), tuple(rows["value"])
        found.append(SharedDoubt(check, verdict, key, what, do, reason, swings, values))
    return tuple(sorted(found, key=lambda one: order[one.verdict]))
