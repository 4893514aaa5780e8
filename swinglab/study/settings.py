"""study.toml: what may stand in it, and every fault in it said at once."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from swinglab import conventions
from swinglab.errors import SwinglabError, UnreadableFile, near_names
from swinglab.records import Comparison, Errors, Hunch, Lesson, Setup

FILE = "study.toml"
Check = Callable[[Any], str | None]  # what is wrong with a value, or None


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _number(low: float = -math.inf, *, above: bool = False, up_to: float = math.inf) -> Check:
    words = "a number" if low == -math.inf else f"a number {'above' if above else 'of at least'} {low:g}"
    words = words if up_to == math.inf else f"a number from {low:g} to {up_to:g}"

    def check(value: Any) -> str | None:
        good = _is_number(value) and (value > low if above else value >= low) and value <= up_to
        return None if good else f"must be {words}, not {value!r}"

    return check


def _text(value: Any) -> str | None:
    return None if isinstance(value, str) and value.strip() else f"must be text, not {value!r}"


def _yes_no(value: Any) -> str | None:
    return None if isinstance(value, bool) else f"must be true or false, not {value!r}"


def _one_of(*choices: str) -> Check:
    def check(value: Any) -> str | None:
        return None if value in choices else f"must be one of {', '.join(choices)}, not {value!r}"

    return check


def _triple(value: Any) -> str | None:
    good = isinstance(value, list) and len(value) == 3 and all(_is_number(v) for v in value)
    return None if good else f"must be three numbers [x, y, z], not {value!r}"


def _direction(value: Any) -> str | None:
    if isinstance(value, str):
        return _one_of(*conventions.AXIS_NAMES)(value)
    wrong = _triple(value)
    return wrong or (None if any(value) else "must not be [0, 0, 0]")


def _cutoff(value: Any) -> str | None:
    if value == "residual" or (_is_number(value) and value > 0):
        return None
    return f'must be "residual" or a frequency above 0, not {value!r}'


def _texts(value: Any) -> str | None:
    good = isinstance(value, list) and all(isinstance(v, str) and v for v in value)
    return None if good else f"must be a list of names, not {value!r}"


def _face(value: Any) -> str | None:
    good = _texts(value) is None and len(set(value)) == 3 and all(conventions.is_landmark(v) for v in value)
    return None if good else f"must be three landmarks of the face such as clubhead_1, not {value!r}"


def _labels(value: Any) -> str | None:
    good = (isinstance(value, str) and value) or (isinstance(value, list) and value and not _texts(value))
    return None if good else f"must be a label or a list of labels, not {value!r}"


#: Every key that may stand in the file, by section; told to users in references/study_folder.md.
TOP: dict[str, Check] = {"title": _text, "question": _text}
SECTIONS: dict[str, dict[str, Check]] = {
    "lab": {"up": _direction, "target": _direction, "ground": _number(), "unit": _one_of("mm", "cm", "m"),
            "rate_hz": _number(0, above=True)},
    "ball": {"position": _triple, "marker": _one_of("centre", "top"), "teed": _yes_no},
    "club": {"soled_at_address": _yes_no, "sole_height_se_mm": _number(0), "face": _face,
             # So far up the shaft, or in millimetres by mistake, every swing would count as a strike.
             "reference_behind_face_cm": _number(-30, up_to=30), "reference_beside_face_cm": _number(0, up_to=30)},
    "processing": {"body_cutoff_hz": _cutoff, "longest_gap_s": _number(0), "confidence_below": _number(0)},
    "errors": {"placement_deg": _number(0), "soft_tissue_deg": _number(0)},
    "contact": {"fat_behind": _number(0), "thin_above": _number(0)},
    "reference": {"group": _text},
}  # fmt: skip
QUESTIONS: dict[str, dict[str, Check]] = {
    "hunch": {"name": _text, "outcome": _text, "posture": _text, "event": _text,
              "level": _one_of("within", "between"), "expect": _one_of("positive", "negative", "either"),
              "adjust": _texts, "smallest_effect": _number(0, above=True)},
    "comparison": {"name": _text, "of": _text, "event": _text, "between": _text, "adjust": _texts,
                   "smallest_effect": _number(0, above=True)},
    "lesson": {"name": _text, "golfer": _text, "phase": _text, "of": _text, "event": _text,
               "target_value": _number(), "outcome": _text, "smallest_effect": _number(0, above=True)},
}  # fmt: skip
NEEDED = {
    "hunch": ("name", "outcome", "posture", "event"),
    "comparison": ("name", "of", "between"),
    "lesson": ("name", "golfer", "phase", "of", "event", "outcome"),
}
_RECORDS = {"hunch": Hunch, "comparison": Comparison, "lesson": Lesson}


@dataclass(frozen=True, slots=True)
class Settings:
    """study.toml, read and checked by itself (names of golfers and columns are checked with the tables)."""

    title: str = ""
    question: str = ""
    setup: Setup = field(default_factory=Setup)
    hunches: tuple[Hunch, ...] = ()
    comparisons: tuple[Comparison, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    errors: Errors = field(default_factory=Errors)
    reference_group: str | None = None
    neutral: dict[str, str] = field(default_factory=dict)


def _fault(where: str, what: str, do: str | None = None) -> SwinglabError:
    return SwinglabError(what, file=FILE, where=where, do=do)


def read_settings(path: Path) -> tuple[Settings, list[SwinglabError]]:
    """Settings of a study, with everything wrong in the file itself; what is faulty is left at its default.

    Raises
    ------
    UnreadableFile
        The file is missing or is not TOML.
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError as error:
        raise UnreadableFile(
            "the file is missing, so this is no study folder", file=FILE,
            do="name a folder that holds study.toml, golfers.csv and swings.csv",
        ) from error  # fmt: skip
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise UnreadableFile(f"this is not TOML: {error}", file=FILE, do="mend that line") from error
    faults: list[SwinglabError] = []
    known = [*TOP, *SECTIONS, *QUESTIONS, "landmarks", "events", "neutral"]
    for name in raw:
        if name not in known:
            faults.append(_fault(name, "this key is not known", near_names(name, known) or "remove it"))
    top = _checked({k: v for k, v in raw.items() if k in TOP}, TOP, "", faults)
    if "title" not in raw:
        faults.append(_fault("title", "a study needs a title", 'add title = "..."'))
    sections = {name: _section(raw, name, faults) for name in SECTIONS}
    for key in ("up", "target"):
        if key not in raw.get("lab", {}):
            faults.append(
                _fault(f"[lab] {key}", "a study must say which capture axis this is", f'add {key} = "+Z"')
            )
    faults += _parallel_axes(sections["lab"])
    questions = {kind: _questions(raw, kind, faults) for kind in QUESTIONS}
    return (
        Settings(
            title=top.get("title", ""),
            question=top.get("question", ""),
            setup=_setup(sections, _landmarks(raw, faults), _events(raw, faults)),
            hunches=questions["hunch"],
            comparisons=questions["comparison"],
            lessons=questions["lesson"],
            errors=Errors(**sections["errors"]),
            reference_group=sections["reference"].get("group"),
            neutral=_named_texts(raw, "neutral", faults),
        ),
        faults,
    )


def _checked(raw: dict, checks: dict[str, Check], where: str, faults: list[SwinglabError]) -> dict:
    """The good values of a section; each fault is added to the list."""
    good = {}
    for key, value in raw.items():
        place = f"{where} {key}".strip()
        if key not in checks:
            faults.append(_fault(place, "this key is not known", near_names(key, checks) or "remove it"))
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
    return _checked(_table(raw, name, faults), SECTIONS[name], f"[{name}]", faults)


def _parallel_axes(lab: dict) -> list[SwinglabError]:
    axes = [lab.get(key) for key in ("up", "target")]
    if None in axes:
        return []
    up, target = (conventions.axis_vector(a) if isinstance(a, str) else np.asarray(a, float) for a in axes)
    across = np.linalg.norm(np.cross(up, target)) / (np.linalg.norm(up) * np.linalg.norm(target))
    if across > np.sin(np.deg2rad(10)):
        return []
    return [
        _fault("[lab] target", "lies along up, so it cannot point down the target line", "give another axis")
    ]


def _named_texts(raw: dict, name: str, faults: list[SwinglabError]) -> dict[str, str]:
    section = _table(raw, name, faults)
    return _checked(section, dict.fromkeys(section, _text), f"[{name}]", faults)


def _landmarks(raw: dict, faults: list[SwinglabError]) -> dict[str, tuple[str, ...]]:
    section = _table(raw, "landmarks", faults)
    good = _checked(section, dict.fromkeys(section, _labels), "[landmarks]", faults)
    for name in section:
        if not conventions.is_landmark(name):
            near = near_names(name, conventions.LANDMARKS)
            faults.append(_fault(f"[landmarks] {name}", "there is no landmark of this name", near or None))
            good.pop(name, None)
    return {name: (value,) if isinstance(value, str) else tuple(value) for name, value in good.items()}


def _events(raw: dict, faults: list[SwinglabError]) -> dict[str, str]:
    good = _named_texts(raw, "events", faults)
    for label, event in list(good.items()):
        if event not in conventions.EVENTS:
            near = near_names(event, conventions.EVENTS)
            faults.append(_fault(f"[events] {label}", f"there is no event {event}", near or None))
            del good[label]
    return good


def _questions(raw: dict, kind: str, faults: list[SwinglabError]) -> tuple:
    entries = raw.get(kind, [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        faults.append(_fault(kind, f"must be written as [[{kind}]]"))
        return ()
    made = []
    for number, entry in enumerate(entries, start=1):
        where = f"[[{kind}]] {number}"
        good = _checked(entry, QUESTIONS[kind], where, faults)
        lacking = [key for key in NEEDED[kind] if key not in entry]
        if lacking:
            faults.append(_fault(where, f"lacks {', '.join(lacking)}", "add it"))
        if all(key in good for key in NEEDED[kind]):
            if "adjust" in good:
                good["adjust"] = tuple(good["adjust"])
            made.append(_RECORDS[kind](**({"event": None} | good if kind == "comparison" else good)))
    return tuple(made)


def _setup(sections: dict[str, dict], landmarks: dict, events: dict) -> Setup:
    lab, ball, club = sections["lab"], sections["ball"], sections["club"]
    plain = {
        **{key: tuple(v) if isinstance(v, list) else v for key, v in lab.items()},
        **{key: v for key, v in club.items() if key != "face"},
        **sections["processing"],
    }
    if "face" in club:
        plain["face_landmarks"] = tuple(club["face"])
    if "position" in ball:
        plain["ball_position"] = tuple(ball["position"])
    if "marker" in ball:
        plain["ball_marker"] = ball["marker"]
    if "teed" in ball:
        plain["teed"] = ball["teed"]
    for key in ("fat_behind", "thin_above"):
        if key in sections["contact"]:
            plain[f"{key}_cm"] = sections["contact"][key]
    return Setup(landmarks=landmarks, events=events, **plain)
