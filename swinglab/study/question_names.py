"""Checks that the names in questions and in [club.NAME], [ball.NAME] and [session.NAME] exist."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pandas as pd

from swinglab import columns, conventions
from swinglab.errors import SwinglabError, near_names
from swinglab.records import FoundIn
from swinglab.study.gate import CHECKS
from swinglab.study.names import near_columns, near_events
from swinglab.study.settings import FILE, Asked, Settings


def _unknown(where: str, what: str, name: str, near: str = "") -> SwinglabError:
    return SwinglabError(
        f"there is no {what} {name}", file=FILE, where=where, do=near or "check the spelling"
    )


def question_faults(settings: Settings, golfers: pd.DataFrame, swings: pd.DataFrame) -> list[SwinglabError]:
    """Return faults for unknown names of golfers, columns, events and groups in the questions of study.toml.

    Questions with other faults are checked as far as possible.
    """
    faults: list[SwinglabError] = []
    own = set(golfers.columns) | set(swings.columns)
    for asked in settings.asked:
        faults += _names_of_question(asked, own, golfers, swings)
    names = [asked.keys["name"] for asked in settings.asked if "name" in asked.keys]
    for name in sorted({n for n in names if names.count(n) > 1}):
        faults.append(
            SwinglabError(f"two questions have the same name, {name}", file=FILE, do="give each its own name")
        )
    group = settings.reference_group
    if group is not None and group not in set(golfers["group"]):
        faults.append(_unknown("[reference] group", "group", group, near_names(group, golfers["group"])))
    return faults


def _names_of_question(
    asked: Asked, own: set[str], golfers: pd.DataFrame, swings: pd.DataFrame
) -> list[SwinglabError]:
    outcomes = [*columns.outcomes(), *own]
    adjustable = [*own, *columns.outcomes(), *columns.SWINGS]
    golfer_names, swing_columns = list(golfers["golfer"]), list(swings.columns)
    known: dict[str, tuple[str, Iterable[str]]] = {
        "outcome": ("outcome", outcomes),
        "posture": ("posture quantity", columns.QUANTITIES),
        "between": ("column", own),
        "golfer": ("golfer", golfer_names),
        "phase": ("column of swings.csv", swing_columns),
    }
    faults = []
    for key, (what, names) in known.items():
        name = asked.keys.get(key)
        if name is not None and name not in names:
            faults.append(_unknown(f"{asked.where} {key}", what, name, near_columns(name, names)))
    for name in asked.keys.get("adjust", ()):
        if not columns.is_column(name) and name not in own:
            near = near_columns(name, adjustable)
            faults.append(_unknown(f"{asked.where} adjust", "covariate", name, near))
    for name, values in _kept_values(asked).items():
        # golfers.csv may contain golfers whose swings are not recorded yet.
        there = {v for table in (golfers, swings) if name in table for v in table[name]}
        words = sorted({str(v) for v in there})
        faults += [
            _unknown(f"{asked.where} where", name, str(value), near_names(str(value), words))
            for value in values
            if value not in there and str(value) not in words
        ]
    faults += _search_names(asked, own, swings)
    return faults + _measured_name(asked, own)


def _kept_values(asked: Asked) -> dict[str, list]:
    """Return column -> selected values of a question's key `where`; columns with a range of numbers are left out."""
    where = asked.keys.get("where", {})
    return {name: list(kept) for name, kept in where.items() if not isinstance(kept, dict)}


def _search_names(asked: Asked, own: set[str], swings: pd.DataFrame) -> list[SwinglabError]:
    """Return faults for unknown names in a screen (parts, events, columns) and in the key `found_in` of a question.

    Also checked: that level and golfer of a screen agree, and that a hunch with `found_in` has a direction.
    """
    keys, where = asked.keys, asked.where
    groups = sorted({c.group for c in columns.QUANTITIES.values()})
    found = keys.get("found_in", FoundIn())
    cells = {
        name: sorted(set(swings.get(name, pd.Series(dtype=str)))) for name in ("golfer", "session", "swing")
    }
    lists: list[tuple[str, str, Iterable[str], Iterable[str]]] = [
        ("parts", "part of the body", keys.get("parts", ()), groups),
        ("events", "event", keys.get("events", ()), conventions.EVENTS),
        ("where", "column of golfers.csv or swings.csv", keys.get("where", ()), own),
        ("found_in", "golfer", found.golfers, cells["golfer"]),
        ("found_in", "session", found.sessions, cells["session"]),
        ("found_in", "swing", found.swings, cells["swing"]),
    ]
    faults = [
        _unknown(f"{where} {key}", what, name, near_names(name, known))
        for key, what, names, known in lists
        for name in names
        if name not in list(known)
    ]
    level, golfer = keys.get("level"), keys.get("golfer")
    if asked.kind == "screen" and (level == "golfer") != (golfer is not None):
        what = "level and golfer do not agree: a search with level golfer needs a golfer, and other levels have none"
        faults.append(
            SwinglabError(
                what,
                file=FILE,
                where=where,
                do='write, for example, level = "golfer" and golfer = "G07", or remove golfer',
            )
        )
    if asked.kind == "hunch" and "found_in" in keys and keys.get("expect", "either") == "either":
        what = "a hunch with found_in must give the direction that the search found"
        faults.append(
            SwinglabError(
                what, file=FILE, where=f"{where} expect", do='give expect = "positive" or "negative"'
            )
        )
    return faults


def _measured_name(asked: Asked, own: set[str]) -> list[SwinglabError]:
    """Return faults for an unknown quantity (key `of`) or event, and for a quantity not measured at the event."""
    keys, where = asked.keys, asked.where
    faults = []
    event, of = keys.get("event"), str(keys.get("of", keys.get("posture", "")))
    at_event = event is not None or asked.kind != "comparison" or of in columns.QUANTITIES
    if "of" in keys:
        names = list(columns.QUANTITIES) if at_event else [*columns.QUANTITIES, *columns.outcomes(), *own]
        if of not in names:
            what = "posture quantity" if at_event else "quantity"
            faults.append(_unknown(f"{where} of", what, of, near_columns(of, names)))
    if event is None:
        if asked.kind == "comparison" and of in columns.QUANTITIES:
            what = f"{of} is measured at events, and the event is missing"
            faults.append(SwinglabError(what, file=FILE, where=f"{where} event", do='add event = "impact"'))
        return faults
    if event not in conventions.EVENTS:
        return [*faults, _unknown(f"{where} event", "event", event, near_events(event))]
    if of in columns.QUANTITIES and event not in columns.QUANTITIES[of].events:
        declared = ", ".join(columns.QUANTITIES[of].events)
        faults.append(SwinglabError(f"{of} is not measured at {event}", file=FILE, where=f"{where} event",
                                    do=f"use one of {declared}"))  # fmt: skip
    return faults


def override_faults(settings: Settings, swings: pd.DataFrame) -> list[SwinglabError]:
    """Return faults for sections [club.NAME], [ball.NAME] and [session.NAME] whose club or session no swing has."""
    cells: dict[str, list[str]] = {
        name: sorted(set(swings.get(name, pd.Series(dtype=str))) - {""}) for name in ("club", "session")
    }
    either = [*cells["club"], *cells["session"]]
    faults = [
        _unknown(f"[club.{name}] or [ball.{name}]", "club or session", name, near_names(name, either))
        for name in settings.by_name
        if name not in either
    ]
    named: dict[str, Any] = dict.fromkeys([*settings.by_session, *settings.session_errors])
    return faults + [
        _unknown(f"[session.{name}]", "session", name, near_names(name, cells["session"]))
        for name in named
        if name not in cells["session"]
    ]


def validation_faults(settings: Settings, swings: pd.DataFrame) -> list[SwinglabError]:
    """Return faults for unknown sessions, events and angles in the section [validate]."""
    asked = settings.validation
    if asked is None:
        return []
    sessions = sorted(set(swings.get("session", pd.Series(dtype=str))) - {""})
    angles = [name for name, column in columns.QUANTITIES.items() if column.unit == "deg"]
    faults = [
        _unknown("[validate] sessions", "session", name, near_names(name, sessions))
        for name in asked.sessions
        if name not in sessions
    ]
    if asked.event not in conventions.EVENTS:
        faults.append(_unknown("[validate] event", "event", asked.event, near_events(asked.event)))
    if not asked.angles:
        faults.append(
            SwinglabError(
                "the list is empty",
                file=FILE,
                where="[validate] angles",
                do="name at least one angle, or remove this key",
            )
        )
    return faults + [
        _unknown("[validate] angles", "angle", name, near_columns(name, angles))
        for name in asked.angles
        if name not in angles
    ]


def accepted_faults(settings: Settings, golfers: pd.DataFrame, swings: pd.DataFrame) -> list[SwinglabError]:
    """Return faults for unknown swings, golfers and checks in the entries [[accept]]."""
    faults = []
    for place, accepted in enumerate(settings.accepted, start=1):
        where = f"[[accept]] {place}"
        for key, name, known in (
            ("swing", accepted.swing, list(swings["swing"])),
            ("golfer", accepted.golfer, list(golfers["golfer"])),
            ("check", accepted.check, list(CHECKS)),
        ):
            if name is not None and name not in known:
                faults.append(_unknown(f"{where} {key}", key, name, near_names(name, known)))
    return faults
