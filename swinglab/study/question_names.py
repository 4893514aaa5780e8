"""Names that questions and overrides give: each is checked against what the study and the kit have."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pandas as pd

from swinglab import columns, conventions
from swinglab.errors import SwinglabError, near_names
from swinglab.study.names import near_columns, near_events
from swinglab.study.settings import FILE, Asked, Settings


def _unknown(where: str, what: str, name: str, near: str = "") -> SwinglabError:
    return SwinglabError(f"there is no {what} {name}", file=FILE, where=where, do=near or None)


def question_faults(settings: Settings, golfers: pd.DataFrame, swings: pd.DataFrame) -> list[SwinglabError]:
    """Names in questions that stand for nothing; a question with another fault is checked as far as it goes."""
    faults: list[SwinglabError] = []
    own = set(golfers.columns) | set(swings.columns)
    for asked in settings.asked:
        faults += _names_of_question(asked, own, golfers, swings)
    names = [asked.keys["name"] for asked in settings.asked if "name" in asked.keys]
    for name in sorted({n for n in names if names.count(n) > 1}):
        faults.append(
            SwinglabError(f"two questions are called {name}", file=FILE, do="give each its own name")
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
            faults.append(_unknown(f"{asked.where} adjust", "column to adjust for", name, near))
    for name, values in asked.keys.get("where", {}).items():
        held = sorted(set(swings[name].astype(str))) if name in swings else []
        faults += [
            _unknown(f"{asked.where} where", name, value, near_names(value, held))
            for value in values
            if value not in held
        ]
    return faults + _measured_name(asked, own)


def _measured_name(asked: Asked, own: set[str]) -> list[SwinglabError]:
    """The quantity a question is of, and its event."""
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
            what = f"{of} is measured at events, and none is given"
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
    """Clubs and sessions that study.toml overrides and no swing has."""
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


def accepted_faults(settings: Settings, golfers: pd.DataFrame, swings: pd.DataFrame) -> list[SwinglabError]:
    """Swings and golfers that [[accept]] names and the study has not."""
    faults = []
    for place, accepted in enumerate(settings.accepted, start=1):
        where = f"[[accept]] {place}"
        for key, name, known in (
            ("swing", accepted.swing, list(swings["swing"])),
            ("golfer", accepted.golfer, list(golfers["golfer"])),
        ):
            if name is not None and name not in known:
                faults.append(_unknown(f"{where} {key}", key, name, near_names(name, known)))
    return faults
