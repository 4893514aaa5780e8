"""The keys of study.toml, each with a function that checks its value.

A check returns what is wrong with a value, as the end of a sentence such as "must be a number"; None if it is valid.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from swinglab import conventions

#: Columns of swings.csv by which a question may select its swings.
WHERE_COLUMNS = ("club", "shot", "session")
Check = Callable[[Any], str | None]  # returns what is wrong with a value; None if it is valid


def is_number(value: Any) -> bool:
    """Return whether a value is a finite number; true and false are not numbers."""
    try:
        return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    except OverflowError:  # an integer of hundreds of digits
        return False


#: Embeddings, overrides and isolates of the Unicode bidirectional algorithm (UAX 9).
_TURNING = frozenset(map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A))))


def number(low: float = -math.inf, *, above: bool = False, up_to: float = math.inf) -> Check:
    """Return a function that checks whether a value is a number from `low` to `up_to`.

    With `above`, `low` itself is not allowed. The function returns what is wrong with a value, or None if it is valid.
    """
    words = "a number" if low == -math.inf else f"a number {'above' if above else 'of at least'} {low:g}"
    words = words if up_to == math.inf else f"a number from {low:g} to {up_to:g}"

    def check(value: Any) -> str | None:
        good = is_number(value) and (value > low if above else value >= low) and value <= up_to
        return None if good else f"must be {words}, not {value!r}"

    return check


def text(value: Any) -> str | None:
    """Return what is wrong with a value that must be text and not empty; None if it is valid."""
    # NUL is not allowed in file names; marks that change the direction of writing would disguise a name.
    if not (isinstance(value, str) and bool(value.strip()) and "\0" not in value):
        return f"must be text, not {value!r}"
    return (
        "must not contain characters that reverse the direction of writing" if _TURNING & set(value) else None
    )


def line(value: Any) -> str | None:
    """Return what is wrong with a value that must be one line of text; None if it is valid."""
    wrong = text(value)
    return wrong or (None if len(value.splitlines()) == 1 else f"must be one line of text, not {value!r}")


def band(value: Any) -> str | None:
    """Return what is wrong with a value that must be a range [low, high]; None if it is valid."""
    good = isinstance(value, list) and len(value) == 2 and all(map(is_number, value)) and value[0] < value[1]
    return None if good else f"must be two numbers [low, high], the lower one first, not {value!r}"


def whole(value: Any) -> str | None:
    """Return what is wrong with a value that must be a whole number above 0; None if it is valid."""
    good = isinstance(value, int) and not isinstance(value, bool) and value > 0
    return None if good else f"must be a whole number above 0, not {value!r}"


def where(value: Any) -> str | None:
    """Return what is wrong with the key `where` of a hunch, comparison or lesson; None if it is valid.

    The key selects swings by lists of clubs, shots or sessions.
    """
    good = isinstance(value, dict) and bool(value) and all(
        key in WHERE_COLUMNS and isinstance(entry, list) and bool(entry) and texts(entry) is None
        for key, entry in value.items()
    )  # fmt: skip
    known = ", ".join(f'{name} = ["..."]' for name in WHERE_COLUMNS)
    return None if good else f"must select swings by one or more of {{ {known} }}, not {value!r}"


def units(value: Any) -> str | None:
    """Return what is wrong with a list of further units for the report; None if it is valid."""
    known = ", ".join(f'"{unit}"' for unit in conventions.OTHER_UNITS)
    good = (
        isinstance(value, list)
        and bool(value)
        and all(isinstance(entry, str) and entry in conventions.OTHER_UNITS for entry in value)
    )
    return None if good else f"must be a list of units out of {known}, not {value!r}"


def yes_no(value: Any) -> str | None:
    """Return what is wrong with a value that must be true or false; None if it is valid."""
    return None if isinstance(value, bool) else f"must be true or false, not {value!r}"


def one_of(*choices: str) -> Check:
    """Return a function that checks whether a value is one of the given words.

    The function returns what is wrong with a value, or None if it is valid.
    """

    def check(value: Any) -> str | None:
        return None if value in choices else f"must be one of {', '.join(choices)}, not {value!r}"

    return check


def triple(value: Any) -> str | None:
    """Return what is wrong with a value that must be three numbers [x, y, z]; None if it is valid."""
    good = isinstance(value, list) and len(value) == 3 and all(is_number(v) for v in value)
    return None if good else f"must be three numbers [x, y, z], not {value!r}"


def direction(value: Any) -> str | None:
    """Return what is wrong with a direction, which is the name of an axis or [x, y, z]; None if it is valid."""
    if isinstance(value, str):
        return one_of(*conventions.AXIS_NAMES)(value)
    wrong = triple(value)
    return wrong or (None if any(value) else "must not be [0, 0, 0]")


def cutoff(value: Any) -> str | None:
    """Return what is wrong with the cut-off of a filter ("residual", or a frequency in Hz); None if it is valid."""
    if value == "residual" or (is_number(value) and value > 0):
        return None
    return f'must be "residual" or a frequency above 0 (Hz), not {value!r}'


def texts(value: Any) -> str | None:
    """Return what is wrong with a value that must be a list of names; None if it is valid."""
    good = isinstance(value, list) and all(isinstance(v, str) and v for v in value)
    return None if good else f"must be a list of names, not {value!r}"


def face(value: Any) -> str | None:
    """Return what is wrong with the three landmarks that define the face of the club; None if it is valid."""
    good = texts(value) is None and len(set(value)) == 3 and all(conventions.is_landmark(v) for v in value)
    return None if good else f"must be three landmarks of the face such as clubhead_1, not {value!r}"


def labels(value: Any) -> str | None:
    """Return what is wrong with one or more marker labels of a landmark; None if it is valid."""
    good = (isinstance(value, str) and value) or (isinstance(value, list) and value and not texts(value))
    return None if good else f"must be a label or a list of labels, not {value!r}"


def selection(value: Any) -> str | None:
    """Return what is wrong with the key `where` of a screen; None if it is valid.

    The key selects swings by any column. It is a TOML table with entries ``column = [values]`` or, for a numeric
    column, ``column = { from = ..., to = ... }``.
    """
    if not isinstance(value, dict) or not value:
        return f'must be like {{ club = ["7 iron"] }}, not {value!r}'
    for name, kept in value.items():
        ends = isinstance(kept, dict) and kept and set(kept) <= {"from", "to"}
        if ends and all(is_number(v) for v in kept.values()):
            continue
        if not (isinstance(kept, list) and kept and all(isinstance(v, str) or is_number(v) for v in kept)):
            return f"{name} must be a list of values or {{ from = ..., to = ... }}, not {kept!r}"
    return None


def found_in(value: Any) -> str | None:
    """Return what is wrong with a value of `found_in`; None if it is valid.

    It is a table of the golfers, sessions and swings that were searched when the question was found.
    """
    keys = ("golfer", "session", "swing")
    good = isinstance(value, dict) and value and set(value) <= set(keys)
    if not good or any(texts(names) or not names for names in value.values()):
        return f'must be like {{ golfer = ["G01", "G02"] }} (keys: {", ".join(keys)}), not {value!r}'
    return None


#: Every key of the file, by section; described for users in references/study_folder.md.
TOP: dict[str, Check] = {"title": line, "question": text}
SECTIONS: dict[str, dict[str, Check]] = {
    "lab": {"up": direction, "target": direction, "ground": number(), "unit": one_of("mm", "cm", "m", "none"),
            "rate_hz": number(0, above=True), "source": one_of(*conventions.CAPTURE_SOURCES), "target_assumed": yes_no},
    "ball": {"position": triple, "marker": one_of("centre", "top"), "teed": yes_no},
    "club": {"soled_at_address": yes_no, "sole_height_se_mm": number(0), "face": face,
             # A larger value (for example in millimetres by mistake) would make every swing count as a strike.
             "reference_behind_face_cm": number(-30, up_to=30), "reference_beside_face_cm": number(0, up_to=30)},
    "processing": {"body_cutoff_hz": cutoff, "longest_gap_s": number(0), "confidence_below": number(0),
                   "use_points_marked_invalid": yes_no},
    "markers": {"radius_mm": number(0, up_to=50)},
    "errors": {"placement_deg": number(0), "soft_tissue_deg": number(0)},
    "validate": {"sessions": texts, "event": text, "angles": texts},
    "contact": {"fat_behind": number(0), "thin_above": number(0)},
    "reference": {"group": text},
    "report": {"units": units},
    "ethics": dict.fromkeys(("approval", "consent", "guardian"), text),
    "participants": dict.fromkeys(
        ("recruitment", "injuries", "warm_up", "ball", "surface", "clubs", "exclusions"), text),
}  # fmt: skip
_EXPECT = one_of("positive", "negative", "either")
#: Keys of every question: the swings that it uses, and the family of questions over which its p value is adjusted.
_ANY: dict[str, Check] = {"where": where, "family": text}
QUESTIONS: dict[str, dict[str, Check]] = {
    "hunch": {"name": line, "outcome": text, "posture": text, "event": text,
              "level": one_of("within", "between", "golfer"), "expect": _EXPECT, "golfer": text,
              "adjust": texts, "smallest_effect": number(0, above=True), "found_in": found_in, **_ANY},
    "comparison": {"name": line, "of": text, "event": text, "between": text, "adjust": texts,
                   "smallest_effect": number(0, above=True), "found_in": found_in, **_ANY},
    "lesson": {"name": line, "golfer": text, "phase": text, "of": text, "event": text,
               "target_value": number(), "outcome": text, "smallest_effect": number(0, above=True),
               "expect": _EXPECT, "target": band, "target_width": number(0, above=True),
               "planned_swings": whole, "cue": text, **_ANY},
    "screen": {"name": line, "outcome": text, "level": one_of("within", "between", "golfer"), "golfer": text,
               "parts": texts, "events": texts, "adjust": texts, "smallest_effect": number(0, above=True),
               "where": selection, "family": text},
}  # fmt: skip
#: Keys that a question must have, by kind of question.
NEEDED = {
    "hunch": ("name", "outcome", "posture", "event"),
    "comparison": ("name", "of", "between"),
    "lesson": ("name", "golfer", "phase", "of", "event", "outcome"),
    "screen": ("name", "outcome"),
}
#: Sections of pairs of name and text: golfer = capture, label = event.
NAMED_SECTIONS = ("landmarks", "events", "neutral", "static")
#: [club.NAME] and [ball.NAME] override [club] and [ball] for a club or a session.
#: [session.NAME] overrides the sections OF_SESSION.
BY_NAME = ("club", "ball")
OF_SESSION = ("lab", "landmarks", "ball", "club", "errors")
ACCEPT: dict[str, Check] = {"swing": text, "golfer": text, "check": text, "reason": text}
