"""Landmarks found in captures labelled by other laboratories, against truth written before the matcher."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from swinglab.begin.landmarks import find_landmarks
from swinglab.errors import UnreadableFile
from swinglab.load import read_capture
from swinglab.records import Capture
from tests.captures import capture_path

HERE = Path(__file__).parent
FILES = tomllib.loads((HERE / "truth_captures.toml").read_text(encoding="utf-8"))
SETS = tomllib.loads((HERE / "truth_label_sets.toml").read_text(encoding="utf-8"))


def label_set(name: str) -> Capture:
    """A published capture's labels with each point's median place, as a capture of one frame."""
    own = json.loads(capture_path("label_sets.json").read_text(encoding="utf-8"))[name]
    places = np.array([[np.nan if x is None else x for x in place] for place in own["median_mm"]], float)
    return Capture(name, tuple(own["labels"]), places[None] / 1000, own["rate_hz"])


def judged(capture: Capture, truth: dict) -> tuple[list[str], list[str], list[str]]:
    """Landmarks right, open and wrong; only labels that name an anatomical place count as right or open."""
    named, also = truth.get("named", {}), truth.get("also", {})
    found = {name: match.label.rpartition(":")[2] for name, match in find_landmarks(capture).found.items()}

    def accepted(name: str) -> list[str]:
        both = (named.get(name, []), also.get(name, []))
        return [label for labels in both for label in ([labels] if isinstance(labels, str) else labels)]

    right = [name for name in named if found.get(name) in accepted(name)]
    wrong = [f"{name} = {label}" for name, label in found.items() if label not in accepted(name)]
    return right, [name for name in named if name not in found], wrong


@pytest.mark.parametrize("name", FILES)
def test_no_landmark_of_a_published_capture_is_wrong(name: str) -> None:
    """Truth: other. Captures of other laboratories, each label judged by anatomy before the matcher was written."""
    right, opened, wrong = judged(read_capture(capture_path(name)), FILES[name])
    assert not wrong
    assert not opened, f"{len(right)} right, open: {opened}"


@pytest.mark.parametrize("name", SETS)
def test_no_landmark_of_a_label_set_is_wrong(name: str) -> None:
    """Truth: other. As above, for 39 published label sets with median places."""
    assert not judged(label_set(name), SETS[name])[2]


def all_captures() -> Iterator[tuple[Capture, dict]]:
    """Every published capture and label set with its truth."""
    for name, truth in FILES.items():
        try:
            yield read_capture(capture_path(name)), truth
        except UnreadableFile:
            continue
    for name, truth in SETS.items():
        yield label_set(name), truth


def test_nine_in_ten_of_the_labels_that_name_a_place_are_found() -> None:
    """Truth: other. Counted over all: 545 right, 11 open (medians of points seen at different times), 0 wrong."""
    counts = np.sum([[len(part) for part in judged(*one)] for one in all_captures()], axis=0)
    right, opened, wrong = counts.tolist()
    assert right + opened == sum(len(t.get("named", {})) for t in (*FILES.values(), *SETS.values()))
    assert wrong == 0
    assert right >= 0.9 * (right + opened), f"{right} right, {opened} open, {wrong} wrong"
    assert right >= 545  # what was reached is kept
