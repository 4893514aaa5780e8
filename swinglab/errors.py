"""The error classes of swinglab. Each error states which file, what is wrong, and what to do."""

from __future__ import annotations

from collections.abc import Iterable, Sized
from difflib import get_close_matches


class SwinglabError(Exception):
    """Base class of the errors of swinglab: a fault that a user can correct.

    Parameters
    ----------
    what : str
        What is wrong, as a sentence without its full stop.
    file : str or path, optional
        The file that holds the fault, as the user would name it.
    where : str, optional
        The place in the file: a key, a row, a column.
    do : str, optional
        What to do about it.

    Examples
    --------
    >>> print(SwinglabError("the rate is 0", file="a.c3d", where="POINT:RATE", do="give rate_hz in study.toml"))
    a.c3d, POINT:RATE: the rate is 0. Do: give rate_hz in study.toml.
    """

    def __init__(
        self, what: str, *, file: object = None, where: str | None = None, do: str | None = None
    ) -> None:
        self.what = what.rstrip(".")
        self.file = None if file is None else str(file)
        self.where = where
        self.do = None if do is None else do.rstrip(".")
        super().__init__(what)

    def __str__(self) -> str:
        place = ", ".join(part for part in (self.file, self.where) if part)
        text = f"{place}: {self.what}." if place else f"{self.what}."
        return f"{text} Do: {self.do}." if self.do else text

    def __reduce__(self) -> tuple:
        # Errors cross process borders when swings are measured in parallel.
        return (_rebuild, (type(self), self.__dict__.copy()))


def _rebuild(kind: type[SwinglabError], state: dict) -> SwinglabError:
    error = kind.__new__(kind)
    error.__dict__.update(state)
    error.args = (state["what"],)
    return error


class UnreadableFile(SwinglabError):
    """Error for a capture, pose table or other file that cannot be read, because its content is damaged or invalid."""


class MissingInput(SwinglabError):
    """Error for missing landmarks, events, columns or files that a measurement needs."""


class BadRequest(SwinglabError):
    """Error for an argument or setting with an unknown name or an impossible value."""


class BadTable(SwinglabError):
    """Error for a table whose columns or values do not allow the requested analysis."""


class StudyFaults(SwinglabError):
    """Error that collects all faults found in a study.

    `faults` is a tuple with each fault as a `SwinglabError`; the message lists them, one on each line.
    """

    def __init__(self, faults: Iterable[SwinglabError], *, file: object = None) -> None:
        self.faults = tuple(faults)
        number = len(self.faults)
        super().__init__(f"{number} fault{'s' if number != 1 else ''} in this study", file=file)

    def __str__(self) -> str:
        head = f"{self.file}: {self.what}:" if self.file else f"{self.what}:"
        lines = [f"  - {_cut(str(fault))}" for fault in self.faults[:MOST_FAULTS]]
        more = len(self.faults) - MOST_FAULTS
        return "\n".join([head, *lines, *([f"  - and {more} more"] if more > 0 else [])])


#: Largest number of faults listed in one message, and largest number of characters of each.
MOST_FAULTS, MOST_CHARACTERS = 30, 1000


def _cut(text: str) -> str:
    return text if len(text) <= MOST_CHARACTERS else f"{text[:MOST_CHARACTERS]} ..."


def shortened(names: Iterable[str], *, most: int = 8) -> str:
    """Return names joined by commas; of more than `most` names, the first ones and the number of the others.

    Examples
    --------
    >>> shortened(["a", "b", "c", "d"], most=2)
    'a, b and 2 more'
    """
    names = list(names)
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


#: Largest number of candidates that are all compared; with more, only those with the same first letter and a similar
#: length are compared.
_MANY = 1000


def near_names(name: str, candidates: Iterable[str]) -> str:
    """Return what to do about an unknown name: check it against similar candidates; empty if none is similar.

    Examples
    --------
    >>> near_names("thorax_flexon_deg", ["thorax_flexion_deg", "attack_angle_deg"])
    'check the spelling; similar names: thorax_flexion_deg'
    """
    similar = similar_names(name, candidates)
    return f"check the spelling; {similar}" if similar else ""


def similar_names(name: str, candidates: Iterable[str], *, most: int = 3) -> str:
    """Return a text with those of the candidates that are most similar to a name; empty if none is similar.

    `most` : largest number of names in the text.

    Examples
    --------
    >>> similar_names("thorax_flexon_deg", ["thorax_flexion_deg", "attack_angle_deg"])
    'similar names: thorax_flexion_deg'
    """
    by_lower = {candidate.lower(): candidate for candidate in candidates}
    known = list(by_lower)
    if len(known) > _MANY:
        known = [one for one in known if one[:1] == name[:1].lower() and abs(len(one) - len(name)) <= 2]
    found = get_close_matches(name.lower(), known[:_MANY], n=most, cutoff=0.6)
    return "similar names: " + ", ".join(by_lower[match] for match in found) if found else ""


def near_if_listed(faults: Sized, name: str, candidates: Iterable[str]) -> str:
    """Return the text of `near_names`, or "" if the error message is already full and would not show it.

    A message lists only the first faults (`MOST_FAULTS`). For the others no time is spent on similar names.

    Parameters
    ----------
    faults : sized
        The faults collected so far.
    name, candidates
        As for `near_names`.
    """
    return near_names(name, candidates) if len(faults) < MOST_FAULTS else ""
