"""Translation of the labels of columns and events into their names, so that users may write either."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from swinglab import columns, conventions
from swinglab.errors import near_names


@cache
def _by_label() -> dict[str, str]:
    """Return label in lower case -> name of every column that a question may name; ambiguous labels are left out."""
    known = [*columns.QUANTITIES, *columns.outcomes(), *columns.SWINGS]
    found: dict[str, set[str]] = {}
    for name in known:
        found.setdefault(columns.column(name).label.lower(), set()).add(name)
    return {label: names.pop() for label, names in found.items() if len(names) == 1}


_EVENTS = {label.lower(): name for name, label in conventions.EVENT_LABELS.items()}


def event_name(word: str) -> str:
    """Return the name of the event with this name or label; an unknown word is returned unchanged.

    Examples
    --------
    >>> event_name("delivery"), event_name("top"), event_name("the end")
    ('shaft_horizontal_down', 'top', 'the end')
    """
    return word if word in conventions.EVENTS else _EVENTS.get(word.strip().lower(), word)


def column_name(word: str) -> str:
    """Return the name of the column with this name or label; an unknown word is returned unchanged.

    Examples
    --------
    >>> column_name("Attack angle"), column_name("handicap")
    ('attack_angle_deg', 'handicap')
    """
    return word if columns.is_column(word) else _by_label().get(word.strip().lower(), word)


def near_events(word: str) -> str:
    """Return what to do about an unknown event, with similar names and labels; empty if none is similar."""
    return near_names(word, [*conventions.EVENTS, *conventions.EVENT_LABELS.values()])


def near_columns(word: str, known: Iterable[str]) -> str:
    """Return what to do about an unknown column, with similar names and labels; empty if none in `known` is similar."""
    known = list(known)
    labels = [columns.column(name).label for name in known if columns.is_column(name)]
    return near_names(word, [*known, *labels])
