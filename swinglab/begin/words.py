"""Reading of marker labels as words for side and anatomical place, with the vocabulary in vocabulary.toml."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import NamedTuple

from swinglab.conventions import LANDMARKS

#: Pattern of the pieces of a label: words in camel case, words in capitals, numbers.
_PIECES = re.compile(r"[A-Z]+(?=[A-Z][a-z])|[A-Z]?[a-z]+|[A-Z]+|\d+")
#: First or last words shared by at least this part of a file's labels name the person or the marker set.
_SHARED = 0.8
_SHORTEST_IN_A_COMPOUND = 3
SIDED = frozenset(name.removesuffix("_left") for name in LANDMARKS if name.endswith("_left"))
_JOINTS = frozenset({"elbow", "knee", "ankle", "elb", "kne", "ank"})


class Vocabulary(NamedTuple):
    """The words of marker labels and of column headers, from vocabulary.toml, arranged for look-up.

    sides : spelling -> side. words : spelling -> word. codes : words that occur only in sets of skin markers.
    filler : words to ignore. formulas : kind of capture ("markers", "keypoints", or "anywhere" for both) -> words of a
    label -> (landmark without side, rank of these words among those for the landmark; 0 is preferred).
    candidates : word -> landmarks that it may mean. outcomes : words of a header -> outcome of another device.
    """

    sides: dict[str, str]
    words: dict[str, str]
    codes: frozenset[str]
    filler: frozenset[str]
    formulas: dict[str, dict[frozenset[str], tuple[str, int]]]
    candidates: dict[str, tuple[str, ...]]
    outcomes: dict[frozenset[str], str]


@dataclass(frozen=True, slots=True)
class Reading:
    """A marker label, read as words.

    side : "left", "right" or None. words : the words of the label without side, filler words and number; None if part
    of the label is not a known word. number : the number at the end of the label, if any.
    """

    label: str
    side: str | None
    words: frozenset[str] | None
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Proposal:
    """A landmark that a marker label may name, by its words.

    rank : place of these words in the vocabulary's list for the landmark; 0 is preferred. assumed : what was assumed
    about the marker, in words; "" if nothing.
    """

    landmark: str
    label: str
    rank: int
    assumed: str = ""


@cache
def vocabulary() -> Vocabulary:
    """Return the words of marker labels and column headers, read from vocabulary.toml."""
    raw = tomllib.loads(files("swinglab.begin").joinpath("vocabulary.toml").read_text(encoding="utf-8"))
    words = {
        s: word for part in ("words", "codes") for word, spellings in raw[part].items() for s in spellings
    }
    formulas = {
        kind: {
            frozenset(text.split()): (landmark, rank)
            for landmark, texts in raw[kind].items()
            for rank, text in enumerate(texts)
        }
        for kind in ("anywhere", "markers", "keypoints")
    }
    return Vocabulary(
        sides={spelling: side for side, spellings in raw["sides"].items() for spelling in spellings},
        words=words,
        codes=frozenset(raw["codes"]),
        filler=frozenset(raw["filler"]["words"]),
        formulas=formulas,
        candidates={word: tuple(names) for word, names in raw["candidates"].items()},
        outcomes={
            frozenset(text.split()): f"measured_{name}"
            for name, texts in raw["outcomes"].items()
            for text in texts
        },
    )


def read_labels(labels: Sequence[str]) -> tuple[Reading, ...]:
    """Return every marker label of a file, read as side and words; a word that nearly all labels share is ignored."""
    bare = [label.rpartition(":")[2].strip() for label in labels]
    pieces = [[piece.lower() for piece in _PIECES.findall(text)] for text in bare]
    pieces = _without_shared(pieces)
    return tuple(_read(label, _joined(own)) for label, own in zip(labels, pieces, strict=True))


def _without_shared(pieces: list[list[str]]) -> list[list[str]]:
    """Remove a first or last piece that nearly all labels share."""
    for place in (0, -1):
        counts = Counter(own[place] for own in pieces if len(own) > 1)
        shared, number = counts.most_common(1)[0] if counts else ("", 0)
        if number >= _SHARED * len(pieces) and len(pieces) > 3 and not _is_known(shared):
            pieces = [
                own[1:] if place == 0 and own[:1] == [shared] else own[:-1] if place and own[-1:] == [shared] else own
                for own in pieces
            ]  # fmt: skip
    return pieces


def _is_known(piece: str) -> bool:
    known = vocabulary()
    return piece in known.words or piece in known.sides


def _joined(pieces: list[str]) -> list[str]:
    """Join a letter and its number where together they are a word: c, 7 -> c7."""
    known = vocabulary().words
    made: list[str] = []
    for piece in pieces:
        numbered = made[-1] + piece if made and piece.isdigit() else ""
        if numbered in known or (numbered[:1] in ("l", "r") and numbered[1:] in known):
            made[-1] += piece
        else:
            made.append(piece)
    return made


def _read(label: str, pieces: list[str]) -> Reading:
    known = vocabulary()
    number = int(pieces.pop()) if len(pieces) > 1 and pieces[-1].isdigit() else None
    sides = [known.sides[piece] for piece in pieces if piece in known.sides]
    rest = [piece for piece in pieces if piece not in known.sides and piece not in known.filler]
    if len(sides) > 1 or not rest:
        return Reading(label, None, None, number)
    side = sides[0] if sides else None
    words: set[str] = set()
    joined = "".join(rest)
    if joined in known.words:
        return Reading(label, side, frozenset({known.words[joined]}), number)
    for piece in rest:
        found = _split(piece, side)
        if found is None:
            return Reading(label, side, None, number)
        new_side, own = found
        side = side or new_side
        words |= own
    return Reading(label, side, frozenset(words), number)


def _split(piece: str, side: str | None) -> tuple[str | None, set[str]] | None:
    """Split a piece written as one word: lkneelat -> left, knee, lateral; None where it is not made of known words."""
    known = vocabulary()
    if piece in known.words:
        return None, {known.words[piece]}
    if side is None:
        for letters, rest in ((piece[0], piece[1:]), (piece[-1], piece[:-1])):
            inner = _compound(rest) if letters in ("l", "r") else None
            if inner:
                return known.sides[letters], inner
        for word, name in known.sides.items():
            if len(word) > 2 and (piece.startswith(word) or piece.endswith(word)):
                inner = _compound(
                    piece.removeprefix(word) if piece.startswith(word) else piece.removesuffix(word)
                )
                if inner:
                    return name, inner
    inner = _compound(piece)
    return (None, inner) if inner else None


def _compound(text: str) -> set[str] | None:
    """Return the words that a text is composed of; None where there are unknown parts.

    It may be one word of any length, several words of at least three letters, or m or l (medial, lateral) before or
    after a joint.
    """
    known = vocabulary().words
    if text in known:
        return {known[text]}
    for letter, word in (("m", "medial"), ("l", "lateral")):
        for rest in (text.removeprefix(letter), text.removesuffix(letter)):
            if rest != text and known.get(rest) in _JOINTS:
                return {word, known[rest]}
    if text in vocabulary().filler:
        return set()
    for cut in range(_SHORTEST_IN_A_COMPOUND, len(text) - _SHORTEST_IN_A_COMPOUND + 1):
        if text[:cut] in known:
            rest_words = _compound(text[cut:])
            if rest_words is not None:
                return {known[text[:cut]], *rest_words}
    return None


def are_skin_markers(readings: Iterable[Reading]) -> bool:
    """Return whether any label names a place on the skin (iliac spine, vertebra, malleolus, ...), not a joint."""
    known = vocabulary()
    skin = known.codes - {"gh", "ejc", "wjc", "hjc", "kjc", "ajc"}
    skin |= {"iliac", "acromion", "epicondyle", "malleolus", "styloid", "sacrum", "xiphoid", "jugular", "calcaneus",
             "metatarsal2", "metacarpal3", "lateral", "medial"}  # fmt: skip
    return any(reading.words and reading.words & skin for reading in readings)


def propose(readings: Sequence[Reading]) -> list[Proposal]:
    """Return the landmarks that marker labels name by their words, at most one for each label."""
    known = vocabulary()
    kind = "markers" if are_skin_markers(readings) else "keypoints"
    families = Counter((r.side, r.words) for r in readings if r.words and r.number is not None)
    labels = {reading.label for reading in readings}
    made = []
    for reading in readings:
        # Where the ends of a segment's axes are labels too, its origin is a computed point, not a marker.
        if not reading.words or {f"{reading.label}Y", f"{reading.label}Z"} <= labels:
            continue
        found = known.formulas["anywhere"].get(reading.words) or known.formulas[kind].get(reading.words)
        if found is None:
            continue
        stem, rank = found
        if stem == "club_shaft":
            made.append(Proposal(stem, reading.label, rank))
            continue
        # A number counts the markers of a cluster if other labels differ only by number; otherwise it is ignored.
        if reading.number is not None and (
            families[(reading.side, reading.words)] > 1
            or any(r.words == reading.words and r.side == reading.side and r.number is None for r in readings)
        ):
            continue
        if (stem in SIDED) != (reading.side is not None):
            continue
        name = f"{stem}_{reading.side}" if stem in SIDED else stem
        made.append(Proposal(name, reading.label, rank, _assumed(stem, reading, kind)))
    return made


def _assumed(stem: str, reading: Reading, kind: str) -> str:
    """Return what is assumed about a marker, in words: that it is on one place of a joint, or on T8; "" if nothing."""
    words = reading.words or frozenset()
    if words == {"t10"}:
        return "the vertebra T10 is used in place of T8; the method of the thorax frame states this"
    if kind == "markers" and words <= {
        "elb",
        "wri",
        "kne",
        "ank",
        "shoulder",
        "elbow",
        "wrist",
        "knee",
        "ankle",
    }:
        place = "middle of the wrist" if stem == "wrist" else f"landmark {stem}"
        return f"the only marker of this joint, assumed to be on the {place}"
    return ""


def candidates(reading: Reading) -> tuple[str, ...]:
    """Return the landmarks that a label may mean, if its words are ambiguous; a person chooses one of them."""
    if not reading.words or "club" in reading.words:
        return ()
    known = vocabulary().candidates
    stems = dict.fromkeys(stem for word in sorted(reading.words) for stem in known.get(word, ()))
    return tuple(
        f"{stem}_{reading.side}" if stem in SIDED else stem
        for stem in stems
        if (stem in SIDED) == (reading.side is not None)
    )
