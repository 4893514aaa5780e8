"""Cells: sets of swings of one golfer, in one session, of one kind (club and shot). Swings are compared within them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from swinglab.finding_words import Note
from swinglab.statistics.rows import listed

GOLFER, SESSION, CLUB, SHOT = "golfer", "session", "club", "shot"
#: Columns that define the kind of swing: posture and strike differ from club to club.
KINDS = (CLUB, SHOT)


def kinds_of(rows: pd.DataFrame) -> pd.Series:
    """Return the kind of each swing: its club and shot as text, such as "driver full".

    A column in which all rows have the same value is omitted; if there is only one kind, the text is "".
    """
    differ = [name for name in KINDS if name in rows and rows[name].nunique(dropna=False) > 1]
    if not differ:
        return pd.Series("", index=rows.index)
    words = rows[differ].astype(object).fillna("").astype(str)
    return words.agg(" ".join, axis=1).str.strip()


def cells_of(rows: pd.DataFrame) -> pd.Series:
    """Return the cell of each swing as text: its golfer, session and kind, as far as the table has these columns."""
    session = rows[SESSION].astype(object).fillna("").astype(str) if SESSION in rows else ""
    return rows[GOLFER].astype(str) + " | " + session + " | " + kinds_of(rows)


def kind_notes(rows: pd.DataFrame, where: Mapping[str, Sequence[str]], *, centred: bool) -> list[Note]:
    """Return notes for the reader if the table has no column club, or if an answer uses several clubs or shots.

    `where` : the question's selection of swings, column -> values. `centred` : whether swings are compared within each
    kind only.
    """
    if CLUB not in rows:
        return [] if CLUB in where else [Note("no_club_column")]
    kinds = sorted(set(kinds_of(rows)) - {""})
    if len(kinds) < 2:
        return []
    return [Note("kinds_centred" if centred else "kinds_term", kinds=listed(kinds))]
