"""Draft of a study's landmarks, axes and hands, which a person edits in notebook 01 and then saves."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from swinglab.begin import anatomy
from swinglab.begin.axes import find_hand
from swinglab.begin.landmarks import find_landmarks
from swinglab.begin.people import Whose
from swinglab.begin.rows import GOLFERS, existing, existing_swings
from swinglab.begin.study_file import change_study_file, read_document
from swinglab.begin.survey import Looked, look_at
from swinglab.conventions import AXIS_NAMES, axis_vector, is_landmark
from swinglab.errors import BadRequest, MissingInput
from swinglab.load import read_capture
from swinglab.records import Capture
from swinglab.study.folder_tables import find_capture
from swinglab.whole_file import replace_text

_ARROW_M = 0.6
#: Landmarks between which a line shows the body, markers or joint centres.
JOINED = tuple(
    (f"{one}_{side}", f"{other}_{side}")
    for side in ("left", "right")
    for one, other in (
        ("acromion", "elbow_lateral"), ("elbow_lateral", "wrist_radial"), ("acromion", "asis"),
        ("asis", "knee_lateral"),
        ("knee_lateral", "ankle_lateral"), ("heel", "toe"), ("shoulder", "elbow"), ("elbow", "wrist"),
        ("shoulder", "hip"), ("hip", "knee"), ("knee", "ankle"), ("head_front", "head_back"),
    )
) + tuple((f"{stem}_left", f"{stem}_right") for stem in ("acromion", "asis", "shoulder", "hip", "head_front")) + (
    ("club_butt", "clubhead"),
)  # fmt: skip


@dataclass(slots=True)
class Draft:
    """Decisions about a study's landmarks, axes and hands that are not saved yet.

    up, target : lab axes, "" if not decided. landmarks : landmark -> label. hands : golfer -> "right", "left" or "".
    changes : path of a key of study.toml -> new value, None to remove it. new_hands : hands that `save` will write.
    """

    folder: Path
    up: str = ""
    target: str = ""
    landmarks: dict[str, str] = field(default_factory=dict)
    hands: dict[str, str] = field(default_factory=dict)
    changes: dict[tuple[str, ...], object] = field(default_factory=dict)
    new_hands: dict[str, str] = field(default_factory=dict)

    def give(self, label: str, landmark: str) -> None:
        """Assign a marker label to a landmark; another landmark that had this label is then without one."""
        if not is_landmark(landmark):
            raise BadRequest(f"there is no landmark {landmark}", do="choose a landmark from the list")
        for other in [name for name, own in self.landmarks.items() if own == label and name != landmark]:
            self.take(other)
        self.landmarks[landmark] = label
        self.changes[("landmarks", landmark)] = label

    def take(self, landmark: str) -> None:
        """Remove the marker label that is assigned to a landmark."""
        self.landmarks.pop(landmark, None)
        self.changes[("landmarks", landmark)] = None

    def turn(self, key: str, axis: str) -> None:
        """Set the lab axis that points up, or to the target; `key` is "up" or "target".

        A target set here counts as assumed, not as measured with an aim line.
        """
        if key not in ("up", "target") or axis not in AXIS_NAMES:
            raise BadRequest(f"the axis {key} cannot be {axis}", do=f"use one of {', '.join(AXIS_NAMES)}")
        setattr(self, key, axis)
        self.changes[("lab", key)] = axis
        if key == "target":
            self.changes[("lab", "target_assumed")] = True

    def play(self, golfer: str, hand: str) -> None:
        """Set a golfer's hand, "right" or "left"."""
        if hand not in ("right", "left") or golfer not in self.hands:
            raise BadRequest(f"the hand of golfer {golfer} cannot be {hand!r}", do="use right or left")
        self.hands[golfer] = self.new_hands[golfer] = hand

    def save(self) -> tuple[str, ...]:
        """Write the decisions to study.toml and golfers.csv; return the names of the files that changed.

        All other contents of these files are kept.
        """
        written = []
        if self.changes:
            change_study_file(self.folder, self.changes)
            written.append("study.toml")
        if self.new_hands:
            _write_hands(self.folder / GOLFERS, self.new_hands)
            written.append(GOLFERS)
        self.changes.clear()
        self.new_hands.clear()
        return tuple(written)


def read_draft(folder: Path) -> Draft:
    """Return the draft with the landmarks, axes and hands in a study's files."""
    document = read_document(folder).unwrap()
    lab, marks = document.get("lab", {}), document.get("landmarks", {})
    single = {name: label for name, label in marks.items() if isinstance(label, str)}
    axes = {key: lab[key] for key in ("up", "target") if lab.get(key) in AXIS_NAMES}
    hands = {
        row["golfer"]: row.get("hand", "") for row in existing(folder, GOLFERS) if not row.get("session")
    }
    return Draft(folder, axes.get("up", ""), axes.get("target", ""), single, hands)


def _write_hands(path: Path, hands: Mapping[str, str]) -> None:
    """Set the cells of the column hand of golfers.csv; all other cells are unchanged."""
    text = path.read_text(encoding="utf-8-sig")
    head = text.splitlines()[0]
    separator = ";" if head.count(";") > head.count(",") else ","
    lines = [line for line in csv.reader(io.StringIO(text), delimiter=separator) if line]
    names = [name.strip() for name in lines[0]]
    golfer, hand = names.index("golfer"), names.index("hand")
    session = names.index("session") if "session" in names else None
    for line in lines[1:]:
        if session is None or not line[session].strip():
            line[hand] = hands.get(line[golfer].strip(), line[hand])
    stream = io.StringIO()
    csv.writer(stream, delimiter=separator, lineterminator="\n").writerows(lines)
    replace_text(path, stream.getvalue())


@dataclass(frozen=True, slots=True, eq=False)
class StillBody:
    """Positions of a capture's markers in one frame before the swing.

    labels : labels of the k markers. places_m : (k, 3) positions (m): toward the target, up, to the right of the
    target. landmarks : label -> its landmark, "" if it has none. arrows : the axes, and the direction that the body
    faces, as for `MarkerPicker.show`.
    """

    labels: tuple[str, ...]
    places_m: np.ndarray
    landmarks: dict[str, str]
    arrows: tuple[dict[str, Any], ...]


def captures_of(folder: Path) -> list[str]:
    """Return the names of the captures in swings.csv of a study folder, each once."""
    names = list(dict.fromkeys(row["capture"] for row in existing_swings(folder) if row.get("capture")))
    if not names:
        raise MissingInput(
            "the table lists no capture", file="swings.csv", do='press "Look at the captures" first'
        )
    return names


def still_body(draft: Draft, name: str) -> StillBody:
    """Return the positions of a capture's markers in one frame, in the axes of the draft.

    An axis that is not decided is replaced by a guess: up along the body's long axis, the target perpendicular to it.
    name : the capture.
    """
    capture = read_capture(find_capture(draft.folder, name, allow_outside=True)[0])
    landmarks = {label: mark for mark, label in draft.landmarks.items()}
    by_label = {
        label: landmarks.get(label) or landmarks.get(label.rpartition(":")[2], "") for label in capture.labels
    }
    by_label |= {
        label: bare
        for label in capture.labels
        if is_landmark(bare := label.rpartition(":")[2]) and not by_label[label]
    }
    looked = look_at(capture, name, Whose("G01"))
    places = capture.points_m[_early_frame(capture)]
    rows = _rows(draft, looked)
    turned = places @ rows.T
    turned = turned - np.nanmin(turned, axis=0) * [0, 1, 0]
    middle = np.nanmedian(turned, axis=0)
    turned[:, [0, 2]] -= middle[[0, 2]]
    return StillBody(capture.labels, turned, by_label, tuple(_arrows(draft, looked)))


def _early_frame(capture: Capture) -> int:
    """Return the number of the frame with the most visible markers in the first third of the capture."""
    seen = np.isfinite(capture.points_m[: max(1, len(capture.points_m) // 3)]).all(axis=2).sum(axis=1)
    return int(np.argmax(seen))


def _rows(draft: Draft, looked: Looked) -> np.ndarray:
    """Return the rotation matrix (3, 3) with rows target, up, right of the target, in the capture's axes."""
    along = anatomy.long_axis(looked.body.points) if looked.body else None
    up = axis_vector(draft.up) if draft.up else None
    if up is None:
        place = 2 if along is None else int(np.argmax(np.abs(along)))
        up = np.eye(3)[place] * (1.0 if along is None else np.sign(along[place]))
    target = axis_vector(draft.target) if draft.target else np.zeros(3)
    if abs(target @ up) > 0.5 or not target.any():
        target = np.eye(3)[(int(np.argmax(np.abs(up))) + 1) % 3]
    return np.stack([target, up, np.cross(target, up)])


def _arrows(draft: Draft, looked: Looked) -> list[dict[str, Any]]:
    """Return arrows for up and target (dashed where not decided) and for the direction the body faces."""
    arrows = [
        {"words": "target" if draft.target else "target?", "from": [0, 0, 0.4], "to": [_ARROW_M + 0.3, 0, 0.4],
         "dash": not draft.target},
        {"words": "up" if draft.up else "up?", "from": [-0.7, 0, 0], "to": [-0.7, _ARROW_M, 0], "dash": not draft.up},
    ]  # fmt: skip
    if looked.body and looked.swings and draft.up and draft.target:
        hand = find_hand([(looked.body, draft.up, draft.target)], "golfer")
        if hand.value:
            way = _ARROW_M if hand.value == "right" else -_ARROW_M
            arrows.append(
                {"words": f"faces ({hand.value}-handed)", "from": [0, 0, 0], "to": [0, 0, way], "dash": True}
            )
    return arrows


def open_landmarks(draft: Draft, name: str) -> dict[str, tuple[str, ...]]:
    """Return, for each landmark without a label, the labels of a capture that may belong to it."""
    found = find_landmarks(read_capture(find_capture(draft.folder, name, allow_outside=True)[0]))
    opened: dict[str, tuple[str, ...]] = {mark: (match.label,) for mark, match in found.found.items()}
    opened |= {item.name: item.candidates for item in found.open}
    for item in found.unread:
        for mark in item.candidates:
            opened[mark] = (*opened.get(mark, ()), item.name)
    given = set(draft.landmarks)
    return {mark: labels for mark, labels in opened.items() if mark not in given}
