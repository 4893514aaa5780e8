"""Checks for exchanged labels (left and right, front and back), and the exchange that would correct them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

import numpy as np

from swinglab.conventions import mirrored_name
from swinglab.study.gate.body import (
    FRONT_BACK,
    PAIRS,
    Frames,
    body_left,
    body_up,
    front_of,
    left_of,
    low_middle_high,
    unit_rows,
)
from swinglab.study.gate.doubts import DOUBTFUL, IMPOSSIBLE, Doubt
from swinglab.study.gate.sizes import out_of_proportion, segment_lengths

#: A direction is wrong where it is opposite to the expected one in this share of the frames.
_MOST = 0.8
#: Cosine below which two directions disagree, and below which a line of the trunk or the head does not point left.
_AGAINST, _NOT_LEFT = -0.2, 0.3
#: Largest distance between a joint's two markers, as a share of the distance to the next joint.
_WIDE = 0.6
#: For four markers: least cosine between the two left-right pairs, largest cosine of front-back to left-right.
_ALIKE, _ACROSS = 0.6, 0.6
#: Chains of limbs: an exchange of one pair changes the lengths of the segments that end there.
_CHAINS = (
    ("shoulder", "elbow", "wrist"), ("acromion", "elbow_lateral", "wrist_radial"), ("elbow_lateral", "wrist_radial"),
    ("elbow_lateral", "wrist_ulnar"), ("wrist_radial", "hand"), ("wrist", "hand"), ("hip", "knee", "ankle"),
    ("knee_lateral", "ankle_lateral", "heel"), ("ankle_lateral", "toe"),
)  # fmt: skip
#: Robust relative spread of a segment's length: at least the first with exchanged labels, at most the second without.
_VARIES, _STEADY = 0.2, 0.1

Fault = tuple[str, str]  # name of the check; region of the body, or landmark name without its side


def check_labels(body: Frames, hand: str) -> list[Doubt]:
    """Return a doubt if labels seem to be exchanged, such as left and right or front and back.

    The verdict is impossible if it is clear which labels to exchange to correct every fault, otherwise doubtful.
    """
    faults = label_faults(body)
    if not faults:
        return []
    fits = [swap for swap in _exchanges(body) if not label_faults(body.swapped(*swap))]
    # Exchanging all pairs is tried only where no single exchange is enough.
    single = _best_proportioned(body, [swap for swap in fits if len(swap) == 1] or fits)
    check = "sides" if any(check == "sides" for check, _ in faults) else faults[0][0]
    if len(single) == 1:
        return [_exchange_doubt(check, single[0], hand)]
    named = _names(name for swap in single for pair in swap for name in pair) if single else ()
    named = named or _names(name for _, where in faults for name in _landmarks_of(where, body))
    shown = ", ".join(_as_given(named, hand))
    what = f"landmarks disagree on {_words(faults)}" if faults else ""
    return [Doubt(check, DOUBTFUL, f"[landmarks] {shown}", what, do=f"check the labels of {shown}")]


def _best_proportioned(
    body: Frames, swaps: list[tuple[tuple[str, str], ...]]
) -> list[tuple[tuple[str, str], ...]]:
    """Return those exchanges of labels after which the fewest segments have an unusual length."""
    if len(swaps) < 2:
        return swaps
    odd = [len(out_of_proportion(segment_lengths(body.swapped(*swap)))) for swap in swaps]
    return [swap for swap, number in zip(swaps, odd, strict=True) if number == min(odd)]


def label_faults(body: Frames) -> list[Fault]:
    """Return the faults of landmarks that are not where their names say: left or right, front or back, upper or lower.

    Exchanged ends of the club are a fault too.
    """
    faults: list[Fault] = []
    up, _ = body_up(body)
    left = body_left(body)
    if left is not None:
        for region, stems in PAIRS.items():
            least = _AGAINST if region == "legs" else _NOT_LEFT
            for stem in stems:
                own = left_of(body, stem)
                if own is not None and _mostly(np.sum(own * left, axis=1) < least, of=own):
                    faults.append(("sides", stem))
        faults += _inner_faults(body, left)
    faults += [("sides", stem) for stem in (*_crossed_limbs(body), *_wide_joints(body))]
    if up is not None and left is not None:
        faults += _front_faults(body, up, left)
    if up is not None:
        faults += _vertical_faults(body, up)
    faults += _square_faults(body)
    if body.has("club_butt", "clubhead"):
        hands = body.mean(
            f"{stem}_{side}" for stem in ("hand", "wrist_radial", "wrist") for side in ("left", "right")
        )
        if hands is not None:
            far = [np.linalg.norm(body.points[name] - hands, axis=1) for name in ("clubhead", "club_butt")]
            if _mostly(far[0] < far[1], of=far[0]):
                faults.append(("club_ends", "club"))
    return faults


def _mostly(wrong: np.ndarray, *, of: np.ndarray) -> bool:
    """Return whether `wrong` is true in at least 80 % of the frames in which `of` is known (at least three)."""
    seen = np.isfinite(of) if of.ndim == 1 else np.isfinite(of).all(axis=1)
    return int(seen.sum()) >= 3 and float(np.mean(wrong[seen])) >= _MOST


def _front_faults(body: Frames, up: np.ndarray, left: np.ndarray) -> list[Fault]:
    """Return faults of regions whose front landmarks are behind; left x up points to the front (right-handed axes)."""
    ahead = unit_rows(np.cross(left, up))
    faults: list[Fault] = []
    for region in FRONT_BACK:
        front = front_of(body, region)
        if front is not None and _mostly(np.sum(front * ahead, axis=1) < 0, of=front):
            faults.append(("front_back", region))
    return faults


def _square_faults(body: Frames) -> list[Fault]:
    """Return faults of pelvis or head whose four markers do not form a plausible quadrangle.

    The left-right lines must be nearly parallel, and nearly at right angles to the front-back line. In the pelvis, the
    line between the PSIS must also be shorter than the line between the ASIS.
    """
    faults: list[Fault] = []
    for region, fore, aft in (("pelvis", "asis", "psis"), ("head", "head_front", "head_back")):
        names = [f"{stem}_{side}" for stem in (fore, aft) for side in ("left", "right")]
        if not body.has(*names):
            continue
        fl, fr, bl, br = (body.points[name] for name in names)
        front, back = fl - fr, bl - br
        alike = np.sum(unit_rows(front) * unit_rows(back), axis=1)
        across = np.abs(np.sum(unit_rows((fl + fr) - (bl + br)) * unit_rows(front + back), axis=1))
        if _mostly((np.abs(alike) < _ALIKE) | (across > _ACROSS), of=alike):
            faults.append(("front_back", region))
        elif region == "pelvis":
            widths = [np.linalg.norm(line, axis=1) for line in (front, back)]
            if _mostly(widths[0] < widths[1], of=widths[0]):
                faults.append(("front_back", region))
    return faults


def _inner_faults(body: Frames, left: np.ndarray) -> list[Fault]:
    """Return faults of knees and ankles whose lateral marker is on the medial side."""
    faults: list[Fault] = []
    for joint in ("knee", "ankle"):
        for side, outward in (("left", 1.0), ("right", -1.0)):
            outer, inner = f"{joint}_lateral_{side}", f"{joint}_medial_{side}"
            if body.has(outer, inner):
                along = outward * np.sum(unit_rows(body.points[outer] - body.points[inner]) * left, axis=1)
                if _mostly(along < _AGAINST, of=along):
                    faults.append(("sides", f"{joint} {side}"))
    return faults


def _vertical_faults(body: Frames, up: np.ndarray) -> list[Fault]:
    """Return faults of the thorax, front or back, whose upper landmark is below the lower one."""
    faults: list[Fault] = []
    for upper, lower, region in (("jugular_notch", "xiphoid", "thorax, front"), ("c7", "t8", "thorax, back")):
        if body.has(upper, lower):
            along = np.sum(unit_rows(body.points[upper] - body.points[lower]) * up, axis=1)
            if _mostly(along < _AGAINST, of=along):
                faults.append(("front_back", region))
    return faults


def _spread(lengths: np.ndarray) -> float:
    """Return the robust relative spread: half the range from the 10th to the 90th percentile, divided by the median."""
    found = low_middle_high(lengths)
    if found is None:
        return 0.0
    low, middle, high = found
    return (high - low) / 2 / middle if middle > 0 else np.inf


def _crossed_limbs(body: Frames) -> list[str]:
    """Return landmarks of the limbs (names without side) whose left and right labels are probably exchanged.

    The lengths of their segments vary as labelled, and are constant with left and right exchanged.
    """
    found = []
    for chain in _CHAINS:
        for upper, lower in pairwise(chain):
            names = [f"{stem}_{side}" for stem in (upper, lower) for side in ("left", "right")]
            if not body.has(*names):
                continue
            a, b, c, d = (body.points[name] for name in names)
            given = [_spread(np.linalg.norm(p - q, axis=1)) for p, q in ((a, c), (b, d))]
            if min(given) < _VARIES:
                continue
            crossed = [_spread(np.linalg.norm(p - q, axis=1)) for p, q in ((a, d), (b, c))]
            if max(crossed) < _STEADY:
                found.append(lower)
    return list(dict.fromkeys(found))


def _wide_joints(body: Frames) -> list[str]:
    """Return joints whose two markers are too far apart, compared with the distance to the next joint."""
    found = []
    for one, other, next_joint in (
        ("elbow_lateral", "elbow_medial", "wrist_radial"), ("wrist_radial", "wrist_ulnar", "elbow_lateral"),
        ("knee_lateral", "knee_medial", "ankle_lateral"), ("ankle_lateral", "ankle_medial", "knee_lateral"),
    ):  # fmt: skip
        for side in ("left", "right"):
            names = [f"{stem}_{side}" for stem in (one, other, next_joint)]
            if body.has(*names):
                a, b, c = (body.points[name] for name in names)
                across = np.linalg.norm(a - b, axis=1)
                along = np.minimum(np.linalg.norm(a - c, axis=1), np.linalg.norm(b - c, axis=1))
                if _mostly(across > _WIDE * along, of=across):
                    found.append(one)
    return list(dict.fromkeys(found))


# --- the exchange that would correct the labels -------------------------------------------------------------------


def _exchanges(body: Frames) -> Iterator[tuple[tuple[str, str], ...]]:
    """Yield exchanges of labels that could explain the faults, each as a tuple of pairs of landmarks.

    They are: left and right, lateral and medial, front and back, or upper and lower of one pair; the ends of the club;
    left and right of all pairs; front and back of both sides.
    """
    names = list(body.points)
    for name in names:
        other = mirrored_name(name)
        if name < other and other in names:
            yield ((name, other),)
        inner = name.replace("_lateral_", "_medial_")
        if inner != name and inner in names:
            yield ((name, inner),)
    for fronts, backs in FRONT_BACK.values():
        for one in fronts:
            for other in backs:
                if body.has(one, other) and mirrored_name(one) != other:
                    yield ((one, other),)
    for one, other in (("jugular_notch", "xiphoid"), ("c7", "t8"), ("club_butt", "clubhead")):
        if body.has(one, other):
            yield ((one, other),)
    sides = tuple((name, mirrored_name(name)) for name in names if name < mirrored_name(name) in names)
    if len(sides) > 1:
        yield sides
    for fore, aft in (("asis", "psis"), ("head_front", "head_back")):
        both = tuple((f"{fore}_{side}", f"{aft}_{side}") for side in ("left", "right"))
        if body.has(*(name for pair in both for name in pair)):
            yield both


def _exchange_doubt(check: str, swap: tuple[tuple[str, str], ...], hand: str) -> Doubt:
    if len(swap) > 2:
        what = (
            "left and right are exchanged in every pair of landmarks, or the capture's axes are left-handed"
        )
        do = "exchange left and right under [landmarks], or export the capture with right-handed axes"
        return Doubt("sides", IMPOSSIBLE, "[landmarks] left and right", what, do=do)
    pairs = [" and ".join(sorted(_as_given(pair, hand))) for pair in swap]
    shown = ", ".join(sorted(_as_given([name for pair in swap for name in pair], hand)))
    what = f"the labels of {', and of '.join(pairs)} are exchanged"
    return Doubt(check, IMPOSSIBLE, f"[landmarks] {shown}", what, do="exchange them under [landmarks]")


def _landmarks_of(where: str, body: Frames) -> list[str]:
    if where in FRONT_BACK:
        return [name for names in FRONT_BACK[where] for name in names if body.has(name)]
    if where.startswith("thorax"):
        return ["jugular_notch", "xiphoid", "c7", "t8"]
    if where == "club":
        return ["club_butt", "clubhead"]
    joint, _, side = where.partition(" ")
    if side:
        return [f"{joint}_lateral_{side}", f"{joint}_medial_{side}"]
    return [f"{where}_left", f"{where}_right"]


def _words(faults: list[Fault]) -> str:
    checks = {
        "sides": "which side is left", "front_back": "where the front is", "club_ends": "where the clubhead is"
    }  # fmt: skip
    return " and ".join(dict.fromkeys(checks[check] for check, _ in faults))


def _names(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))


def _as_given(names: Iterable[str], hand: str) -> list[str]:
    """Return names as the study gives them; in the trial of a left-handed golfer left and right are exchanged."""
    return [mirrored_name(name) if hand == "left" else name for name in names]
