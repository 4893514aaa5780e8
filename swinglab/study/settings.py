"""Reading study.toml: its settings, and a list of all its faults."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from swinglab import conventions
from swinglab.errors import SwinglabError, UnreadableFile, near_if_listed, near_names
from swinglab.records import (
    Accepted,
    Comparison,
    Errors,
    FoundIn,
    Hunch,
    Lesson,
    PostureScreen,
    Setup,
    Validation,
)
from swinglab.study.device_outcomes import Device, read_device
from swinglab.study.names import column_name, event_name, near_events
from swinglab.study.setting_keys import (
    ACCEPT,
    BY_NAME,
    NAMED_SECTIONS,
    NEEDED,
    OF_SESSION,
    QUESTIONS,
    SECTIONS,
    TOP,
    Check,
    labels,
    text,
)

FILE = "study.toml"
#: Limits on file length and nesting: checking a longer file, or parsing deeper keys, would take minutes.
MOST_CHARACTERS, _MOST_DOTS = 200_000, 500

_RECORDS = {"hunch": Hunch, "comparison": Comparison, "lesson": Lesson, "screen": PostureScreen}


class Asked(NamedTuple):
    """A question in study.toml: kind (hunch, comparison, lesson, screen), place in the file, values of valid keys."""

    kind: str
    where: str
    keys: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings in study.toml; names of golfers and columns are checked later, together with the tables.

    by_name : club or session -> fields of `Setup` that differ for its swings ([club.NAME], [ball.NAME]). by_session :
    session -> fields of `Setup` that differ ([session.NAME]). session_errors : session -> its `Errors`. accepted :
    doubts that a person has accepted. asked : each question, also one with faults, with its valid keys, so that the
    names in it can be checked. device : outcomes of another device ([measured]). validation : section [validate]; None
    if there is none.
    """

    title: str = ""
    question: str = ""
    setup: Setup = field(default_factory=Setup)
    hunches: tuple[Hunch, ...] = ()
    comparisons: tuple[Comparison, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    screens: tuple[PostureScreen, ...] = ()
    errors: Errors = field(default_factory=Errors)
    reference_group: str | None = None
    report_units: tuple[str, ...] = ()
    neutral: dict[str, str] = field(default_factory=dict)
    static: dict[str, str] = field(default_factory=dict)
    by_name: dict[str, dict[str, Any]] = field(default_factory=dict)
    by_session: dict[str, dict[str, Any]] = field(default_factory=dict)
    session_errors: dict[str, Errors] = field(default_factory=dict)
    accepted: tuple[Accepted, ...] = ()
    device: Device | None = None
    validation: Validation | None = None
    ethics: dict[str, str] = field(default_factory=dict)
    participants: dict[str, str] = field(default_factory=dict)
    asked: tuple[Asked, ...] = ()


def _fault(where: str, what: str, do: str | None = None) -> SwinglabError:
    return SwinglabError(what, file=FILE, where=where, do=do)


def read_settings(path: Path) -> tuple[Settings, list[SwinglabError]]:
    """Read study.toml; return its settings, faulty values replaced by defaults, and a list of all faults in the file.

    Raises
    ------
    UnreadableFile
        The file is missing or is not valid TOML.
    """
    if path.exists() and not path.is_file():  # a link to a device would be read for ever
        raise UnreadableFile("this is a folder or device", file=FILE, do="replace it by a text file")
    try:
        text_of_file = path.read_text(encoding="utf-8-sig")
        if len(text_of_file) > MOST_CHARACTERS:
            raise ValueError(f"the file has more than {MOST_CHARACTERS} characters")
        if any(line.partition("=")[0].count(".") > _MOST_DOTS for line in text_of_file.splitlines()):
            raise RecursionError
        raw = tomllib.loads(text_of_file)
    except FileNotFoundError as error:
        raise UnreadableFile(
            "the file is missing, so the folder is not a study folder", file=FILE,
            do="give a folder that contains study.toml, golfers.csv and swings.csv",
        ) from error  # fmt: skip
    except (ValueError, RecursionError, OSError) as error:  # among them faults of TOML and of UTF-8
        what = "its values are nested too deeply" if isinstance(error, RecursionError) else str(error)[:300]
        raise UnreadableFile(f"this file is not valid: {what}", file=FILE, do="correct the file") from error
    return settings_of(raw)


def settings_of(raw: dict[str, Any]) -> tuple[Settings, list[SwinglabError]]:
    """Return the settings in a parsed study.toml, and a list of all its faults."""
    faults: list[SwinglabError] = []
    known = [*TOP, *SECTIONS, *QUESTIONS, *NAMED_SECTIONS, "session", "accept", "measured"]
    for name in raw:
        if name not in known:
            near = near_if_listed(faults, name, known) or "remove it"
            faults.append(_fault(name, "this key is not known", near))
    top = _checked({k: v for k, v in raw.items() if k in TOP}, TOP, "", faults)
    if "title" not in raw:
        faults.append(_fault("title", "the title is missing", 'add title = "..."'))
    by_name = _by_name(raw, faults)
    sections = {name: _section(raw, name, faults) for name in SECTIONS}
    for key, like, way in (("up", "+Z", "up"), ("target", "+X", "to the target")):
        if key not in raw.get("lab", {}):
            faults.append(
                _fault(
                    f"[lab] {key}",
                    f"the axis of the captures that points {way} is missing",
                    f'add {key} = "{like}", or the name of this axis in your captures',
                )
            )
    faults += _parallel_axes(sections["lab"], "[lab]")
    by_session, session_errors = _sessions(raw, sections, faults)
    asked = [one for kind in QUESTIONS for one in _asked(raw, kind, faults)]
    return (
        Settings(
            title=top.get("title", ""),
            question=top.get("question", ""),
            setup=Setup(
                landmarks=_landmarks(raw, "[landmarks]", faults),
                events=_events(raw, faults),
                **setup_fields(sections),
            ),
            hunches=_questions(asked, "hunch"),
            comparisons=_questions(asked, "comparison"),
            lessons=_questions(asked, "lesson"),
            screens=_questions(asked, "screen"),
            errors=Errors(**sections["errors"]),
            reference_group=sections["reference"].get("group"),
            report_units=tuple(sections["report"].get("units", ())),
            neutral=_named_texts(raw, "neutral", faults),
            static=_named_texts(raw, "static", faults),
            by_name=by_name,
            by_session=by_session,
            session_errors=session_errors,
            accepted=_accepted(raw, faults),
            device=read_device(raw, faults),
            validation=_validation(sections["validate"]) if "validate" in raw else None,
            ethics=sections["ethics"],
            participants=sections["participants"],
            asked=tuple(asked),
        ),
        faults,
    )


# --- what differs by club or session ---------------------------------------------------------------------------


def _by_name(raw: dict, faults: list[SwinglabError]) -> dict[str, dict[str, Any]]:
    """Return club or session -> fields of `Setup` given in its sections [club.NAME] and [ball.NAME]."""
    fields: dict[str, dict[str, Any]] = {}
    for section in BY_NAME:
        named = {k: v for k, v in _table(raw, section, []).items() if isinstance(v, dict)}
        for name, values in named.items():
            good = _checked(values, SECTIONS[section], f"[{section}.{name}]", faults)
            fields[name] = fields.get(name, {}) | setup_fields({section: good})
    return fields


def _sessions(
    raw: dict, sections: dict[str, dict], faults: list[SwinglabError]
) -> tuple[dict[str, dict[str, Any]], dict[str, Errors]]:
    fields: dict[str, dict[str, Any]] = {}
    errors: dict[str, Errors] = {}
    for name, block in _table(raw, "session", faults).items():
        where = f"[session.{name}]"
        if not isinstance(block, dict):
            faults.append(_fault(where, f"must be a section {where}, not {block!r}"))
            continue
        for key in block:
            if key not in OF_SESSION:
                near = near_names(key, OF_SESSION) or f"a session may have {', '.join(OF_SESSION)}"
                faults.append(_fault(f"{where} {key}", "this key is not known", near))
        good = {
            key: _checked(_table(block, key, faults), SECTIONS[key], f"[session.{name}.{key}]", faults)
            for key in OF_SESSION
            if key in block and key in SECTIONS
        }
        lab = sections["lab"] | good.get("lab", {})
        if {"up", "target"} & set(good.get("lab", {})):
            faults += _parallel_axes(lab, f"[session.{name}.lab]")
        fields[name] = setup_fields({key: values for key, values in good.items() if key != "errors"})
        if "landmarks" in block:
            fields[name]["landmarks"] = _landmarks(block, f"[session.{name}.landmarks]", faults)
        if "errors" in good:
            errors[name] = Errors(**(sections["errors"] | good["errors"]))
    return fields, errors


def _validation(section: dict) -> Validation:
    """Return the section [validate], with labels replaced by names."""
    given = dict(section)
    if "event" in given:
        given["event"] = event_name(given["event"])
    if "angles" in given:
        given["angles"] = tuple(column_name(name) for name in given["angles"])
    if "sessions" in given:
        given["sessions"] = tuple(given["sessions"])
    return Validation(**given)


def _accepted(raw: dict, faults: list[SwinglabError]) -> tuple[Accepted, ...]:
    """Return the valid [[accept]] entries; each needs a check, a reason, and a swing or a golfer."""
    entries = raw.get("accept", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        faults.append(_fault("accept", "must be written as [[accept]]"))
        return ()
    accepted = []
    for place, entry in enumerate(entries, start=1):
        where = f"[[accept]] {place}"
        good = _checked(entry, ACCEPT, where, faults)
        lacking = [key for key in ("check", "reason") if key not in entry]
        if not {"swing", "golfer"} & set(entry):
            lacking.append("swing or golfer")
        if lacking:
            faults.append(_fault(where, f"this entry has no {' and no '.join(lacking)}", "complete it"))
        elif {"check", "reason"} <= set(good):
            accepted.append(Accepted(**good))
    return tuple(accepted)


# --- sections ---------------------------------------------------------------------------------------------------


def _checked(raw: dict, checks: dict[str, Check], where: str, faults: list[SwinglabError]) -> dict:
    """Return the valid values of a section; faults are appended to the list."""
    good = {}
    for key, value in raw.items():
        place = f"{where} {key}".strip()
        if key not in checks:
            near = near_if_listed(faults, key, checks) or "remove it"
            faults.append(_fault(place, "this key is not known", near))
            continue
        wrong = checks[key](value)
        if wrong:
            faults.append(_fault(place, wrong))
        else:
            good[key] = value
    return good


def _table(raw: dict, name: str, faults: list[SwinglabError]) -> dict:
    section = raw.get(name, {})
    if not isinstance(section, dict):
        faults.append(_fault(name, f"must be a section [{name}], not {section!r}"))
        return {}
    return section


def _section(raw: dict, name: str, faults: list[SwinglabError]) -> dict:
    own = _table(raw, name, faults)
    if name in BY_NAME:
        own = {key: value for key, value in own.items() if not isinstance(value, dict)}
    return _checked(own, SECTIONS[name], f"[{name}]", faults)


def _parallel_axes(lab: dict, where: str) -> list[SwinglabError]:
    axes = [lab.get(key) for key in ("up", "target")]
    if None in axes:
        return []
    up, target = (conventions.axis_vector(a) if isinstance(a, str) else np.asarray(a, float) for a in axes)
    across = np.linalg.norm(np.cross(up, target)) / (np.linalg.norm(up) * np.linalg.norm(target))
    if across > np.sin(np.deg2rad(10)):
        return []
    return [
        _fault(
            f"{where} target",
            "is parallel to up, so it cannot be the target's direction",
            "give another axis",
        )
    ]


def _named_texts(raw: dict, name: str, faults: list[SwinglabError]) -> dict[str, str]:
    section = _table(raw, name, faults)
    return _checked(section, dict.fromkeys(section, text), f"[{name}]", faults)


def _landmarks(raw: dict, where: str, faults: list[SwinglabError]) -> dict[str, tuple[str, ...]]:
    section = _table(raw, "landmarks", faults)
    good = _checked(section, dict.fromkeys(section, labels), where, faults)
    for name in section:
        if not conventions.is_landmark(name):
            near = near_if_listed(faults, name, conventions.LANDMARKS)
            faults.append(_fault(f"{where} {name}", "there is no landmark of this name", near or None))
            good.pop(name, None)
    return {name: (value,) if isinstance(value, str) else tuple(value) for name, value in good.items()}


def _events(raw: dict, faults: list[SwinglabError]) -> dict[str, str]:
    good = _named_texts(raw, "events", faults)
    for label, word in list(good.items()):
        good[label] = event_name(word)
        if good[label] not in conventions.EVENTS:
            faults.append(_fault(f"[events] {label}", f"there is no event {word}", near_events(word) or None))
            del good[label]
    return good


def _asked(raw: dict, kind: str, faults: list[SwinglabError]) -> list[Asked]:
    """Return the valid keys of each question of a kind, with labels replaced by names."""
    entries = raw.get(kind, [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        faults.append(_fault(kind, f"must be written as [[{kind}]]"))
        return []
    asked = []
    for place, entry in enumerate(entries, start=1):
        where = f"[[{kind}]] {place}"
        good = _checked(entry, QUESTIONS[kind], where, faults)
        lacking = [key for key in NEEDED[kind] if key not in entry]
        if lacking:
            faults.append(_fault(where, f"this entry has no {' and no '.join(lacking)}", "complete it"))
        for key in good.keys() & {"outcome", "posture", "of"}:
            good[key] = column_name(good[key])
        if "event" in good:
            good["event"] = event_name(good["event"])
        if "adjust" in good:
            good["adjust"] = tuple(column_name(name) for name in good["adjust"])
        if "target" in good:
            good["target"] = tuple(good["target"])
        if "where" in good and kind != "screen":
            good["where"] = {name: tuple(values) for name, values in good["where"].items()}
        if kind == "hunch" and good.get("level") == "golfer" and "golfer" not in entry:
            faults.append(_fault(where, "level is golfer, but golfer is missing", 'add golfer = "..."'))
        if "events" in good:
            good["events"] = tuple(event_name(name) for name in good["events"])
        if "parts" in good:
            good["parts"] = tuple(good["parts"])
        if "found_in" in good:
            # The file's keys are in the singular, like the columns; those of the record are in the plural.
            good["found_in"] = FoundIn(**{f"{key}s": tuple(names) for key, names in good["found_in"].items()})
        asked.append(Asked(kind, where, good))
    return asked


def _questions(asked: list[Asked], kind: str) -> tuple:
    """Return the questions of a kind that have every required key."""
    return tuple(
        _RECORDS[kind](**({"event": None} | one.keys if kind == "comparison" else one.keys))
        for one in asked
        if one.kind == kind and all(key in one.keys for key in NEEDED[kind])
    )


def setup_fields(sections: dict[str, dict]) -> dict[str, Any]:
    """Return field of `Setup` -> value, for the fields that are set by these sections of study.toml."""
    lab, ball, club = (sections.get(name, {}) for name in ("lab", "ball", "club"))
    fields = {
        **{key: tuple(v) if isinstance(v, list) else v for key, v in lab.items()},
        **{key: v for key, v in club.items() if key != "face"},
        **sections.get("processing", {}),
    }
    if "face" in club:
        fields["face_landmarks"] = tuple(club["face"])
    if "position" in ball:
        fields["ball_position"] = tuple(ball["position"])
    if "marker" in ball:
        fields["ball_marker"] = ball["marker"]
    if "teed" in ball:
        fields["teed"] = ball["teed"]
    if "radius_mm" in sections.get("markers", {}):
        fields["marker_radius_mm"] = sections["markers"]["radius_mm"]
    for key in ("fat_behind", "thin_above"):
        if key in sections.get("contact", {}):
            fields[f"{key}_cm"] = sections["contact"][key]
    return fields
