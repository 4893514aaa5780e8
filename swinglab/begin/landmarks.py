"""Landmarks of a capture from its marker labels: proposed from words in the labels, then checked by geometry."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from swinglab.begin import anatomy
from swinglab.begin.club import check_club, order_shaft
from swinglab.begin.decisions import Match, Open
from swinglab.begin.words import Proposal, Reading, candidates, propose, read_labels
from swinglab.records import Capture

#: About the number of frames checked by geometry, spread over the capture.
_MOST_FRAMES = 240


@dataclass(frozen=True, slots=True)
class Landmarks:
    """Landmarks found in a capture by `find_landmarks`.

    found : landmark -> its label, as a `Match`. open : landmarks that are not decided, with candidate labels. unread :
    labels that name no single landmark, with the landmarks that they may mean.
    """

    found: dict[str, Match] = field(default_factory=dict)
    open: tuple[Open, ...] = ()
    unread: tuple[Open, ...] = ()


def find_landmarks(capture: Capture) -> Landmarks:
    """Return the landmarks of a capture, found from words in its marker labels and from geometry.

    Words in labels give proposals. Capitals, separators, a prefix `Subject:` and the place of the side in the label
    do not matter. Geometry confirms or rejects the proposals: left and right, order of heights, front and back, medial
    and lateral, club points on a line and moving fast, ball at rest. A landmark whose position contradicts its name is
    not decided, and is never given another label.

    Parameters
    ----------
    capture : Capture
        In any axes and any unit (distances are judged relative to stature).

    Returns
    -------
    Landmarks

    Examples
    --------
    >>> import numpy as np
    >>> capture = Capture("a.c3d", ("LHEE", "L.Knee", "stick"), np.ones((9, 3, 3)) * [[[0], [1], [2]]], 100.0)
    >>> {name: match.label for name, match in find_landmarks(capture).found.items()}
    {'heel_left': 'LHEE', 'knee_lateral_left': 'L.Knee'}
    """
    readings = read_labels(capture.labels)
    paths = _paths(capture)
    seen = {label for label, path in paths.items() if np.isfinite(path).all(axis=1).any()}
    opened = [
        Open(p.landmark, (p.label,), "the marker is never visible in this capture")
        for p in propose(readings)
        if p.label not in seen
    ]
    proposals = [p for p in propose(readings) if p.label in seen]
    chosen, tied = _one_label_each(proposals, set(capture.labels), paths)
    opened += tied
    chosen, shaft_open = order_shaft(chosen, proposals, paths)
    opened += shaft_open
    chosen, refused, checked = _confirmed(chosen, paths, capture)
    opened += refused
    taken = {p.label for p in chosen.values()} | {label for item in opened for label in item.candidates}
    return Landmarks(
        found={name: Match(p.label, *_sure(p, name in checked)) for name, p in sorted(chosen.items())},
        open=tuple(opened),
        unread=tuple(_unread(reading) for reading in readings if reading.label not in taken),
    )


def _paths(capture: Capture) -> dict[str, np.ndarray]:
    """Return label -> (n, 3) positions in a sample of frames."""
    step = max(1, len(capture.points_m) // _MOST_FRAMES)
    return {label: capture.points_m[::step, k] for k, label in enumerate(capture.labels)}


def _unread(reading: Reading) -> Open:
    return Open(reading.label, candidates(reading), "the words of this label name no landmark")


def _one_label_each(
    proposals: list[Proposal], labels: set[str], paths: dict[str, np.ndarray]
) -> tuple[dict[str, Proposal], list[Open]]:
    """Return the best label of each landmark; landmarks with two equally good labels are not decided."""
    by_landmark: dict[str, list[Proposal]] = defaultdict(list)
    for proposal in proposals:
        by_landmark[proposal.landmark].append(proposal)
    chosen, opened = {}, []
    for landmark, some in by_landmark.items():
        if landmark == "club_shaft":
            continue
        best = sorted(some, key=lambda p: (p.label.rpartition(":")[2] != landmark, p.rank))
        exact = best[0].label.rpartition(":")[2] == landmark
        ties = [p for p in best if p.rank == best[0].rank]
        if len(ties) > 1 and not exact:
            opened.append(Open(landmark, tuple(p.label for p in ties), "several labels name this landmark"))
            continue
        twin = f"{best[0].label}_2"
        if twin in labels and np.isfinite(paths[twin]).all(axis=1).any() and not _outer(best[0], paths):
            opened.append(Open(landmark, (best[0].label, twin), "its label is used for several markers"))
            continue
        chosen[landmark] = best[0]
    return chosen, opened


def _outer(proposal: Proposal, paths: dict[str, np.ndarray]) -> bool:
    """Return whether, of two markers with the same label on each side, the first is the lateral one.

    It is lateral if the first markers of both sides are farther apart than the second ones (label with "_2").
    """
    if "_lateral_" not in proposal.landmark:
        return False
    left, right = proposal.label, _other_side(proposal.label)
    if right is None or any(name not in paths for name in (right, f"{left}_2", f"{right}_2")):
        return False
    outer = np.linalg.norm(paths[left] - paths[right], axis=1)
    inner = np.linalg.norm(paths[f"{left}_2"] - paths[f"{right}_2"], axis=1)
    return anatomy.typical(outer - inner) > 0


def _other_side(label: str) -> str | None:
    bare = label.rpartition(":")[2]
    other = {"L": "R", "R": "L", "l": "r", "r": "l"}.get(bare[:1])
    return None if other is None else label.removesuffix(bare) + other + bare[1:]


def _confirmed(
    chosen: dict[str, Proposal], paths: dict[str, np.ndarray], capture: Capture
) -> tuple[dict[str, Proposal], list[Open], set[str]]:
    """Return proposals without contradiction, rejected ones as open, and the landmarks that geometry could check."""
    left, refused = dict(chosen), []
    moving = bool(np.any(np.fmax.reduce(capture.points_m) > np.fmin.reduce(capture.points_m)))
    for _ in range(len(chosen) + 1):
        points = {name: paths[p.label] for name, p in left.items()}
        size = anatomy.stature(points)
        up = _up(points)
        found = anatomy.contradictions(points, up, size, moving=moving)
        found += check_club(points, up)
        if not found:
            break
        for bad in found[:1]:
            names = [name for name in bad.landmarks if name in left]
            refused += [Open(name, (left.pop(name).label,), bad.why) for name in names]
    checked = set(left) if len(left) >= 4 and moving else set()
    return left, refused, checked


def _up(points: dict[str, np.ndarray]) -> np.ndarray | None:
    """Return the capture axis nearest to the body's long axis; None where that is not known."""
    along = anatomy.long_axis(points)
    if along is None:
        return None
    axis = int(np.argmax(np.abs(along)))
    return np.sign(along[axis]) * np.eye(3)[axis]


def _sure(proposal: Proposal, checked: bool) -> tuple[str, str]:
    if proposal.assumed:
        return "likely", proposal.assumed
    return ("certain", "") if checked else ("likely", "too few landmarks, or no motion, to check this label")
