"""Survey of a study's captures: their landmarks, axes, golfers and swings, by session."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from swinglab.begin import anatomy
from swinglab.begin.axes import Body, find_ground, find_hand, find_scale, find_target, find_up, is_ground
from swinglab.begin.decisions import Decision, Match, Open
from swinglab.begin.landmarks import Landmarks, find_landmarks
from swinglab.begin.motion import FoundSwing, find_swings
from swinglab.begin.people import Whose
from swinglab.errors import SwinglabError
from swinglab.load import read_capture
from swinglab.load.units import METRES
from swinglab.records import Capture

#: A landmark is decided if its label is the same in at least this part of the captures that have the label.
_MOST = 0.8

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True, eq=False)
class Looked:
    """A capture with the landmarks and swings that were found in it.

    name : path relative to captures/. fault : reason why the file cannot be read, otherwise "". states_unit : whether
    the file gives its unit.
    """

    name: str
    whose: Whose
    body: Body | None = None
    landmarks: Landmarks = field(default_factory=Landmarks)
    labels: tuple[str, ...] = ()
    unit: str = "m"
    states_unit: bool = True
    fault: str = ""

    @property
    def swings(self) -> tuple[FoundSwing, ...]:
        """Swings found in the capture; empty for a static capture."""
        return self.body.swings if self.body else ()

    @property
    def has_body(self) -> bool:
        """Whether the capture has landmarks of a body, not only of a ball or a club."""
        return self.body is not None and anatomy.long_axis(self.body.points) is not None


@dataclass(frozen=True, slots=True)
class Lab:
    """Decisions on axes, unit and height of the turf, for a session or for the study.

    write_unit : whether study.toml must give the unit, because no file gives it or the files give a wrong one.
    read_in : unit with which most of the captures were read.
    """

    up: Decision
    target: Decision
    ground: Decision
    unit: Decision
    write_unit: bool
    read_in: str = "m"

    def values(self) -> tuple[object, ...]:
        """Values of up, target and unit; two sessions with equal values can still differ in the height of the turf."""
        return self.up.value, self.target.value if self.target.sure != "open" else None, self.unit.value


@dataclass(frozen=True, slots=True)
class BallAlone:
    """Position of the ball in a capture that shows only the ball; `place` (3,) is in the capture's axes and unit."""

    name: str
    place: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Still:
    """Static captures of a golfer; `more` lists the landmarks in them that the golfer's swings lack."""

    names: tuple[str, ...]
    more: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Survey:
    """Decisions from all captures of a study: landmarks, axes, hands and swings.

    landmarks : landmark -> its label, as a `Match`. session_landmarks : session -> landmark -> label, where it differs
    from that of the study. open : landmarks that are not decided. labs : session -> `Lab`, for sessions that differ
    from the study; the key "" is the study's own. hands : golfer -> hand. still : golfer -> static captures. ball :
    None if no capture shows only the ball. foreign : captures whose set of labels differs from that of most captures.
    """

    captures: tuple[Looked, ...]
    landmarks: dict[str, Match]
    session_landmarks: dict[str, dict[str, Match]]
    open: tuple[Open, ...]
    labs: dict[str, Lab]
    hands: dict[str, Decision]
    still: dict[str, Still]
    ball: BallAlone | None = None
    foreign: frozenset[str] = frozenset()

    def still_captures(self) -> dict[str, dict[str, str]]:
        """Return section of study.toml -> golfer -> name of the golfer's static capture.

        The section is [neutral], and also [static] if the capture has landmarks that the golfer's swings lack. Golfers
        with several static captures are left out, because a person must choose one of them.
        """
        one = {golfer: still for golfer, still in self.still.items() if len(still.names) == 1}
        return {
            "neutral": {golfer: still.names[0] for golfer, still in one.items()},
            "static": {golfer: still.names[0] for golfer, still in one.items() if still.more},
        }


def look(
    folder: Path, names: Sequence[str], whose: Mapping[str, Whose], progress: Progress | None = None
) -> Iterator[Looked]:
    """Read captures one by one and yield the landmarks and swings found in each, or the fault of an unreadable one.

    whose : capture -> its golfer and session. progress : see `begin_study`.
    """
    for number, name in enumerate(names, start=1):
        try:
            yield look_at(read_capture(folder / name), name, whose[name])
        except SwinglabError as fault:
            yield Looked(name, whose[name], fault=fault.what + (f" ({fault.do})" if fault.do else ""))
        if progress:
            progress(number, len(names), name)


def look_at(capture: Capture, name: str, whose: Whose) -> Looked:
    """Return the landmarks and swings found in a capture.

    name : path relative to captures/. whose : its golfer and session.
    """
    found = find_landmarks(capture)
    places = {label: k for k, label in enumerate(capture.labels)}
    points = {mark: capture.points_m[:, places[match.label]] for mark, match in found.found.items()}
    swings = find_swings(points, capture.rate_hz)
    stated = capture.kind == "c3d" and not capture.unit_judged
    return Looked(
        name, whose, Body(points, capture.rate_hz, swings), found, capture.labels, capture.unit, stated
    )


def survey(captures: Sequence[Looked]) -> Survey:
    """Return decisions on landmarks, axes, hands and swings, for the study and for each session that differs."""
    readable = [one for one in captures if one.body is not None]
    # Captures of a ball or a club alone do not count for the label set.
    marks, opened, others = _label_sets([one for one in readable if one.swings or one.has_body] or readable)
    foreign = {one.name for one in others if not one.whose.session or set(marks) - set(one.landmarks.found)}
    good = [one for one in readable if one.name not in foreign]
    by_session = defaultdict(list)
    for one in good:
        by_session[one.whose.session].append(one)
    study = _lab(good)
    sessions = {session: _lab(some) for session, some in by_session.items() if session}
    own_marks = {}
    for session, some in by_session.items():
        if session:
            mine, _ = _merged(some)
            differing = {
                k: m for k, m in mine.items() if k not in marks or _bare(marks[k].label) != _bare(m.label)
            }
            if any(k in marks for k in differing):
                own_marks[session] = differing
    # The set-up that most sessions share is the study's.
    common = Counter(lab.values() for lab in sessions.values()).most_common(1)
    if common and common[0][1] > 0:
        study = next(lab for lab in sessions.values() if lab.values() == common[0][0])
    labs = {"": study, **{s: lab for s, lab in sessions.items() if _jumps(lab, study, by_session[s])}}
    hands = {}
    for golfer in sorted({one.whose.golfer for one in captures if one.swings}):
        bodies = [
            (one.body, *axes_of(labs.get(one.whose.session, study)))
            for one in good
            if one.whose.golfer == golfer and one.body
        ]
        hands[golfer] = find_hand(bodies, golfer)
    return Survey(
        tuple(captures),
        marks,
        own_marks,
        opened,
        labs,
        hands,
        _still(good),
        _ball_alone(good),
        frozenset(foreign),
    )


def _jumps(lab: Lab, study: Lab, captures: Sequence[Looked]) -> bool:
    """Whether the set-up of a session, with these captures, differs from the study's.

    The height of the turf differs only if ball and feet do not fit the study's turf: a ball may be on a tee.
    """
    if any(a is not None and a != b for a, b in zip(lab.values(), study.values(), strict=True)):
        return True
    up, height = study.up.value, study.ground.value
    bodies = [one.body for one in captures if one.body is not None]
    return isinstance(height, float) and not is_ground(bodies, str(up), height)


def axes_of(lab: Lab) -> tuple[str | None, str | None]:
    """Return the lab axes of a session that point up and to the target; None for an axis that is not decided."""
    up, target = lab.up, lab.target
    return (
        str(up.value) if up.value and up.sure != "open" else None,
        str(target.value) if target.value and target.sure != "open" else None,
    )


def _lab(some: Sequence[Looked]) -> Lab:
    bodies = [one.body for one in some if one.body is not None]
    up = find_up(bodies)
    axis = str(up.value) if up.value else None
    units = Counter(one.unit for one in some)
    written = units.most_common(1)[0][0] if units else None
    stated = all(one.states_unit for one in some)
    unit = find_scale(bodies, written, stated)
    # A unit in study.toml applies to every file, so it is written only where no file gives one, or it is wrong.
    write = unit.value != written or (
        bool(some) and not any(one.states_unit for one in some) and len(units) == 1
    )
    return Lab(up, find_target(bodies, axis), find_ground(bodies, axis), unit, write, written or "m")


def _bare(label: str) -> str:
    return label.rpartition(":")[2]


def _label_sets(
    some: Sequence[Looked],
) -> tuple[dict[str, Match], tuple[Open, ...], list[Looked]]:
    """Return `_merged` for the captures with the most common set of labels, and the captures with another set."""
    marks, opened = _merged(some)
    usual: dict[str, Counter] = defaultdict(Counter)
    for one in some:
        for mark, match in one.landmarks.found.items():
            usual[mark][_bare(match.label)] += 1
    others = []
    for one in some:
        found = one.landmarks.found
        differ = sum(usual[mark].most_common(1)[0][0] != _bare(match.label) for mark, match in found.items())
        if differ > len(found) / 2:
            others.append(one)
    if not others or len(others) == len(some):
        return marks, opened, []
    marks, opened = _merged([one for one in some if one not in others])
    return marks, opened, others


def _merged(some: Sequence[Looked]) -> tuple[dict[str, Match], tuple[Open, ...]]:
    """Return landmarks on whose label the captures agree, and landmarks on whose label they do not."""
    votes: dict[str, Counter] = defaultdict(Counter)
    matches: dict[tuple[str, str], list[Match]] = defaultdict(list)
    refused: dict[str, list[Open]] = defaultdict(list)
    for one in some:
        for mark, match in one.landmarks.found.items():
            votes[mark][_bare(match.label)] += 1
            matches[(mark, _bare(match.label))].append(match)
        for item in one.landmarks.open:
            refused[item.name].append(item)
    found, opened = {}, []
    for mark, labels in votes.items():
        label, number = labels.most_common(1)[0]
        against = len(
            [
                item
                for item in refused.pop(mark, [])
                if item.why != "the marker is never visible in this capture"
            ]
        )
        if number < _MOST * (sum(labels.values()) + against):
            why = f"captures disagree: only {number} of {sum(labels.values()) + against} have the most common label"
            opened.append(Open(mark, tuple(labels), why))
            continue
        own = matches[(mark, label)]
        sure = "certain" if all(match.sure == "certain" for match in own) and not against else "likely"
        why = next((match.why for match in own if match.why), "")
        found[mark] = Match(_shortest(label, some), sure, why if sure == "likely" else "")
    for mark, items in refused.items():
        opened.append(
            Open(
                mark, tuple(dict.fromkeys(_bare(c) for item in items for c in item.candidates)), items[0].why
            )
        )
    unread = {item.name: item for one in some for item in one.landmarks.unread if item.candidates}
    for name, item in unread.items():
        free = tuple(mark for mark in item.candidates if mark not in found)
        opened += [
            Open(mark, (_bare(name),), "the label alone does not show which landmark this is")
            for mark in free
        ]
    return found, _joined(opened)


def _joined(opened: Sequence[Open]) -> tuple[Open, ...]:
    """Return one undecided entry for each landmark, with the candidates of all its entries."""
    by_name: dict[str, Open] = {}
    for item in opened:
        old = by_name.get(item.name)
        both = tuple(dict.fromkeys((*old.candidates, *item.candidates))) if old else item.candidates
        by_name[item.name] = Open(item.name, both, old.why if old else item.why)
    return tuple(by_name.values())


def _shortest(bare: str, some: Sequence[Looked]) -> str:
    """Return the label without its prefix if that is unique in every capture, otherwise as in the first capture."""
    whole = [[label for label in one.labels if _bare(label) == bare] for one in some]
    if all(len(labels) <= 1 for labels in whole):
        return bare
    return next(labels[0] for labels in whole if labels)


def _ball_alone(good: Sequence[Looked]) -> BallAlone | None:
    """Return the ball's position where no swing shows a ball and one static capture shows a ball without a body."""
    with_ball = [one for one in good if one.body is not None and "ball" in one.body.points]
    alone = [one for one in with_ball if not one.swings and not one.has_body]
    if len(alone) != 1 or len(with_ball) > 1 or alone[0].body is None:
        return None
    place = np.nanmedian(alone[0].body.points["ball"], axis=0) / METRES[alone[0].unit]
    return BallAlone(alone[0].name, tuple(round(float(v), 4) for v in place))


def _still(good: Sequence[Looked]) -> dict[str, Still]:
    """Return golfer -> static captures, for golfers with swings, with landmarks that none of their swings has."""
    swings, still = defaultdict(list), defaultdict(list)
    for one in good:
        if one.swings:
            swings[one.whose.golfer].append(one)
        elif one.has_body:
            still[one.whose.golfer].append(one)
    found = {}
    for golfer, some in still.items():
        if golfer in swings:
            moving = {mark for one in swings[golfer] for mark in one.landmarks.found}
            more = sorted({mark for one in some for mark in one.landmarks.found} - moving)
            found[golfer] = Still(tuple(one.name for one in some), tuple(more))
    return found
