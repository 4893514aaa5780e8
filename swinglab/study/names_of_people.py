"""Words that look like a person's name, where a study should hold codes alone."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import PurePath

from swinglab.study.opening import Study

_WORD = re.compile(r"[^\W\d_]+")
#: Capitalised words that captures, labels and sessions are called by; no names.
_PLAIN = frozenset((
    "after", "baseline", "before", "capture", "captures", "club", "clubs", "day", "drill", "driver", "fairway",
    "file", "final", "finish", "first", "full", "golf", "golfer", "group", "half", "hybrid", "iron", "left",
    "lesson", "long", "markers", "measurement", "mocap", "motion", "neutral", "player", "post", "pre",
    "practice", "putter", "range", "retention", "right", "sand", "second", "session", "short", "shot", "static",
    "study", "subject", "subjects", "swing", "swings", "take", "test", "trial", "trials", "visit", "warmup",
    "wedge", "week", "wood", "skilled", "learners", "learner", "control", "january", "february", "march",
    "april", "may", "june", "july", "august", "september", "october", "november", "december",
))  # fmt: skip


def name_like(text: str) -> bool:
    """Whether a text has a word that is written as a name is: three letters or more, a capital, then small ones.

    Examples
    --------
    >>> name_like("Miller_7iron_03"), name_like("G07_03"), name_like("Driver_Trial_2"), name_like("LASI")
    (True, False, False, False)
    """
    return any(
        len(word) >= 3 and word[0].isupper() and word[1:].islower() and word.lower() not in _PLAIN
        for word in _WORD.findall(text)
    )


def names_in_study(study: Study, labels: Iterable[str] = ()) -> list[str]:
    """Golfers, paths of captures and prefixes of labels that look like a person's name, each with its place.

    Parameters
    ----------
    study : Study
    labels : iterable of str
        Labels of the captures, where they are known; what stands before a colon is the subject's name.
    """
    found = [f"golfer {name} (golfers.csv)" for name in study.golfers["golfer"] if name_like(str(name))]
    found += [f"swing {name} (swings.csv)" for name in study.swings["swing"] if name_like(str(name))]
    for path in dict.fromkeys(study.captures.values()):
        shown = PurePath(study.shown(path))
        inside = shown.parts if study.folder in path.parents else (shown.name,)
        if any(name_like(PurePath(part).stem) for part in inside if part != "captures"):
            found.append(f"capture {shown.as_posix()}")
    prefixes = dict.fromkeys(label.rpartition(":")[0] for label in labels if ":" in label)
    found += [f"labels that begin with {prefix}:" for prefix in prefixes if name_like(prefix)]
    return found
