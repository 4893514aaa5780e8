"""Detection of words that look like a person's name, in a study that should contain codes only."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import PurePath

from swinglab.load import person_texts
from swinglab.study.opening import Study

_WORD = re.compile(r"[^\W\d_]+")
#: Words that are common in names of captures, labels and sessions, and are not names of people.
_PLAIN_WORDS = """
    after april august baseline before body capture captures club clubs control day december drill
    driver fairway february file final finish first full golf golfer group half hybrid iron january july
    june learner learners left lesson long march marker markers may measurement mocap model motion
    neutral november october participant patient person player post practice pre putter range retention
    right sand second september session short shot skeleton skilled static study subject subjects swing
    swings take test trial trials visit warmup wedge week wood
    """
_PLAIN = frozenset(_PLAIN_WORDS.split())


def name_like(text: str, *, any_case: bool = False) -> bool:
    """Return whether a text contains a word that may be a person's name.

    Such a word has a capital followed by two or more small letters. With `any_case`, words all in small letters or all
    in capitals count too; use this for fields in which a name is likely, such as golfer or subject.

    Examples
    --------
    >>> name_like("Miller_7iron_03"), name_like("G07_03"), name_like("Driver_Trial_2"), name_like("LASI")
    (True, False, False, False)
    >>> name_like("miller", any_case=True), name_like("SUBJECT 2", any_case=True)
    (True, False)
    """
    return any(
        len(word) >= 3
        and (any_case or (word[0].isupper() and word[1:].islower()))
        and word.lower() not in _PLAIN
        for word in _WORD.findall(text)
    )


def names_in_study(study: Study, labels: Iterable[str] = ()) -> list[str]:
    """Return texts in a study that look like people's names.

    Names of golfers and swings, paths of captures, C3D parameters and prefixes of marker labels are examined.

    Parameters
    ----------
    study : Study
    labels : iterable of str
        Marker labels of the captures, if known; the part before a colon is a subject's name.

    Returns
    -------
    list of str
        One line for each text, with the place where it was found.
    """
    golfers = (str(name) for name in study.golfers["golfer"])
    found = [f"golfer {name} (golfers.csv)" for name in golfers if name_like(name, any_case=True)]
    found += [f"swing {name} (swings.csv)" for name in study.swings["swing"] if name_like(str(name))]
    inside: dict[str, str] = {}
    for path in dict.fromkeys(study.captures.values()):
        shown = PurePath(study.shown(path))
        parts = shown.parts if study.folder in path.parents else (shown.name,)
        if any(name_like(PurePath(part).stem) for part in parts if part != "captures"):
            found.append(f"capture {shown.as_posix()}")
        if path.suffix.lower() == ".c3d":
            inside |= {text: shown.as_posix() for text in person_texts(path) if text not in inside}
    found += [f"subject {text} in {file}" for text, file in inside.items() if name_like(text, any_case=True)]
    prefixes = dict.fromkeys(label.rpartition(":")[0] for label in labels if ":" in label)
    found += [f"labels that begin with {prefix}:" for prefix in prefixes if name_like(prefix, any_case=True)]
    return found
