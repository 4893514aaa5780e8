"""Assignment of the labels of a capture to the landmarks of swinglab."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from swinglab.conventions import HEAD_POINT_STEM, LANDMARKS, SHAFT_POINT_STEM, is_landmark
from swinglab.errors import BadRequest, MissingInput, similar_names
from swinglab.records import Capture, Setup

_NAMES = (*LANDMARKS, f"{SHAFT_POINT_STEM}1", f"{SHAFT_POINT_STEM}2", f"{HEAD_POINT_STEM}1")


@dataclass(frozen=True, slots=True)
class Matched:
    """Landmarks found in a capture, and labels and landmarks that could not be assigned.

    columns : landmark -> indices of its points in the capture. missing : landmark -> labels that the study names but
    the file does not have. unknown : names under [landmarks] in study.toml that are not landmarks. unused : labels of
    the file that no landmark uses.
    """

    columns: dict[str, tuple[int, ...]]
    missing: dict[str, tuple[str, ...]]
    unknown: tuple[str, ...]
    unused: tuple[str, ...]


def match_landmarks(capture: Capture, setup: Setup) -> Matched:
    """Assign the points of a capture to landmarks; missing labels raise no error.

    A landmark uses the labels given in the study or, if none are given, the label equal to its own name. The prefix of
    a label (``Subject:``) can be omitted in the study if the label is unique without it.
    """
    find = _Finder(capture.labels)
    columns: dict[str, tuple[int, ...]] = {}
    missing: dict[str, tuple[str, ...]] = {}
    unknown = tuple(name for name in setup.landmarks if not is_landmark(name))
    for name, wanted in setup.landmarks.items():
        labels = (wanted,) if isinstance(wanted, str) else tuple(wanted)
        places = [find(label) for label in labels]
        lost = tuple(label for label, place in zip(labels, places, strict=True) if place is None)
        if lost or not labels:
            missing[name] = lost
        elif name not in unknown:
            columns[name] = tuple(place for place in places if place is not None)
    for label in capture.labels:
        name = label.rpartition(":")[2]
        if is_landmark(name) and name not in setup.landmarks and name not in columns:
            place = find(name)
            if place is not None:
                columns[name] = (place,)
    used = {place for places in columns.values() for place in places}
    unused = tuple(label for k, label in enumerate(capture.labels) if k not in used)
    return Matched(columns, missing, unknown, unused)


class _Finder:
    """Finds the index of a label, as written or without its prefix if that is unambiguous; else None."""

    def __init__(self, labels: tuple[str, ...]) -> None:
        self._exact = {label: place for place, label in reversed(list(enumerate(labels)))}
        self._bare: dict[str, list[int]] = {}
        for place, label in enumerate(labels):
            self._bare.setdefault(label.rpartition(":")[2], []).append(place)

    def __call__(self, label: str) -> int | None:
        if label in self._exact:
            return self._exact[label]
        places = self._bare.get(label, [])
        return places[0] if len(places) == 1 else None


def landmark_points(
    capture: Capture, setup: Setup, optional: Collection[str] = ()
) -> tuple[tuple[str, ...], np.ndarray]:
    """Return the names of landmarks and their positions (n_frames, n_landmarks, 3) in metres, in the capture's axes.

    A landmark with several labels is the mean of their points; it is missing in a frame in which one of these points is
    missing. A sample is also missing if its confidence is below `setup.confidence_below`. `optional` : landmarks that
    the file may lack.

    Raises
    ------
    MissingInput
        The file lacks labels of landmarks that are not optional (the message lists all of them, with similar names), or
        no label of the file belongs to a landmark.
    BadRequest
        A name under [landmarks] in study.toml is not a landmark.
    """
    matched = match_landmarks(capture, setup)
    if optional:
        needed = {name: lost for name, lost in matched.missing.items() if name not in optional}
        matched = replace(matched, missing=needed)
    if matched.unknown:
        near = [f"{name} ({similar_names(name, _NAMES) or 'no similar name'})" for name in matched.unknown]
        raise BadRequest(
            f"these are not landmarks of swinglab: {', '.join(near)}",
            file=capture.file, where="[landmarks] in study.toml",
            do="use the names listed in references/conventions.md",
        )  # fmt: skip
    if matched.missing:
        raise MissingInput(_missing_text(capture, setup, matched), file=capture.file,
                           do="correct them under [landmarks] in study.toml")  # fmt: skip
    if not matched.columns:
        shown = ", ".join(capture.labels[:12])
        raise MissingInput(
            f"no label in the file is the name of a landmark; the labels are {shown}"
            f"{', ...' if len(capture.labels) > 12 else ''}",
            file=capture.file, do="assign a label to each landmark under [landmarks] in study.toml",
        )  # fmt: skip
    return matched_points(capture, setup, matched)


def matched_points(capture: Capture, setup: Setup, matched: Matched) -> tuple[tuple[str, ...], np.ndarray]:
    """Return the names of the landmarks found and their positions (n_frames, n_landmarks, 3), in metres.

    `matched` : result of `match_landmarks`. Landmarks that were not found are left out and raise no error. See
    `landmark_points` for landmarks with several labels.
    """
    source = capture.points_m
    if capture.confidence is not None:
        source = np.where((capture.confidence < setup.confidence_below)[..., None], np.nan, source)
    names = tuple(matched.columns)
    points = np.empty((len(source), len(names), 3))
    single = [k for k, name in enumerate(names) if len(matched.columns[name]) == 1]
    points[:, single] = source[:, [matched.columns[names[k]][0] for k in single]]
    for k, name in enumerate(names):
        if len(matched.columns[name]) > 1:
            points[:, k] = source[:, list(matched.columns[name])].mean(axis=1)
    return names, points


def _missing_text(capture: Capture, setup: Setup, matched: Matched) -> str:
    bare = {label.rpartition(":")[2] for label in capture.labels} | set(capture.labels)
    words = []
    for name, labels in matched.missing.items():
        for label in labels or ("(no label given)",):
            near = similar_names(label, bare)
            words.append(f"{label} (for {name}{'; ' + near if near else ''})")
    return f"{len(matched.missing)} of {len(setup.landmarks)} landmarks are missing: {', '.join(words)}"
