"""Checks of segment lengths: unit, proportions, constancy within a swing, and agreement over a golfer's swings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from swinglab.conventions import mirrored_name
from swinglab.records import Trial
from swinglab.study.gate.body import Frames, low_middle_high
from swinglab.study.gate.doubts import DOUBTFUL, IMPOSSIBLE, Doubt

#: Length of a segment as a share of stature, between the landmarks of the first list and those of the second: limbs by
#: Drillis and Contini (1966) [drillis1966] as in Winter (2009, fig. 4.1) [winter2009]; ratios of the trunk are common
#: practice without a source. Individual deviations do not matter, because only errors by a factor of about two count.
_SHARES: dict[str, tuple[float, tuple[str, ...], tuple[str, ...]]] = {
    "upper arm": (0.18, ("acromion", "shoulder"), ("elbow_lateral", "elbow")),
    "forearm": (0.146, ("elbow_lateral", "elbow"), ("wrist_radial", "wrist_ulnar", "wrist")),
    "thigh": (0.245, ("hip",), ("knee_lateral", "knee")),
    "shank": (0.246, ("knee_lateral", "knee"), ("ankle_lateral", "ankle")),
    "foot": (0.135, ("heel",), ("toe",)),
}
_ACROSS: dict[str, tuple[float, str]] = {
    "pelvis, ASIS to ASIS": (0.14, "asis"),
    "hip to hip": (0.105, "hip"),
    "shoulder to shoulder": (0.21, "shoulder"),
    "acromion to acromion": (0.21, "acromion"),
}
_TRUNK: dict[str, tuple[float, str, str]] = {
    "jugular notch to C7": (0.075, "jugular_notch", "c7"),
    "jugular notch to xiphoid": (0.10, "jugular_notch", "xiphoid"),
}
#: Segments whose length is not changed by movement of a joint or of the scapula.
_RIGID = ("forearm", "shank", "foot", "pelvis, ASIS to ASIS", "jugular notch to C7", "shaft")
#: Limits of stature (m) estimated from segments: usual for people, and possible at all (child to giant).
_SMALLEST_M, _TALLEST_M = 0.95, 2.4
_NO_CHILD_M, _NO_GIANT_M = 0.5, 4.0
#: Factors by which a wrong unit changes all lengths.
_FACTORS = {1000.0: "m", 100.0: "cm", 10.0: "mm", 0.1: "cm", 0.01: "cm", 0.001: "mm"}
#: A segment that is this many times shorter or longer than predicted from the others has a wrong label.
_PROPORTION = (0.5, 1.9)
#: Largest relative range (10th to 90th percentile over median) of a rigid segment's length.
_STEADY = 0.25
#: Largest difference of lengths between one golfer's swings in a session: relative and in metres; the larger of the two
#: applies.
SAME, _SAME_M = 0.05, 0.008


class Lengths(dict[str, tuple[float, float, float]]):
    """Segment lengths of one swing: a dict from the name of a segment to three numbers.

    These are the median length (m), its relative range over the swing (10th to 90th percentile, divided by the median),
    and the usual ratio of length to stature (NaN for the shaft).
    """


def segment_lengths(body: Frames) -> Lengths:
    """Return the lengths of the segments whose landmarks are present, such as "lead thigh".

    In a trial the left side is the lead side, because every golfer is a right-hander there.
    """
    found = Lengths()
    for name, (share, tops, ends) in _SHARES.items():
        for side, word in (("left", "lead"), ("right", "trail")):
            top = next((body.points[f"{t}_{side}"] for t in tops if body.has(f"{t}_{side}")), None)
            _measure(found, f"{word} {name}", share, top, body.mean(_limb_end(body, ends, side)))
    for name, (share, stem) in _ACROSS.items():
        if body.has(f"{stem}_left", f"{stem}_right"):
            _measure(found, name, share, body.points[f"{stem}_left"], body.points[f"{stem}_right"])
    for name, (share, one, other) in _TRUNK.items():
        if body.has(one, other):
            _measure(found, name, share, body.points[one], body.points[other])
    if body.has("club_butt", "clubhead"):
        _measure(found, "shaft", np.nan, body.points["club_butt"], body.points["clubhead"])
    return found


def _limb_end(body: Frames, ends: tuple[str, ...], side: str) -> list[str]:
    """Return the landmarks at a segment's lower end: both wrist markers if present, otherwise the first of `ends`.

    The mean of the two wrist markers is the wrist.
    """
    there = [f"{stem}_{side}" for stem in ends if body.has(f"{stem}_{side}")]
    return there[:2] if [name for name in there[:2] if name.startswith("wrist_")] else there[:1]


def _measure(
    found: Lengths, name: str, share: float, one: np.ndarray | None, other: np.ndarray | None
) -> None:
    if one is None or other is None:
        return
    lengths = low_middle_high(np.linalg.norm(one - other, axis=1))
    if lengths and lengths[1] > 0:
        low, middle, high = lengths
        found[name] = (middle, (high - low) / middle, share)


def stature_by_segments(lengths: Lengths) -> float:
    """Estimate stature (m) from segment lengths; NaN if no segment has a usual ratio to stature.

    Each length is divided by its usual ratio to stature; the estimate is the median over segments.
    """
    found = [middle / share for middle, _, share in lengths.values() if np.isfinite(share)]
    return float(np.median(found)) if found else np.nan


def out_of_proportion(lengths: Lengths) -> list[str]:
    """Return the names of segments that are much shorter or longer than predicted from the other segments."""
    stature = stature_by_segments(lengths)
    return [
        name
        for name, (middle, _, share) in lengths.items()
        if np.isfinite(share) and not _PROPORTION[0] <= middle / (share * stature) <= _PROPORTION[1]
    ]


def check_sizes(trial: Trial, lengths: Lengths, *, labels_fit: bool = True) -> list[Doubt]:
    """Return doubts about the length unit, the size of the body, and the lengths of its segments in this swing.

    The lengths of segments should have human proportions, and those of rigid segments should be constant. Both are
    checked only if `labels_fit` is true, which means that no exchanged labels were found.
    """
    doubts = []
    stature = stature_by_segments(lengths)
    scaled = trial.setup.unit != "none"
    if scaled and np.isfinite(stature):
        doubts += _unit(stature)
    return (
        [*doubts, *_proportions(lengths, stature, trial), *_unsteady(lengths, trial)]
        if labels_fit
        else doubts
    )


def _is_rigid(name: str) -> bool:
    return name.removeprefix("lead ").removeprefix("trail ") in _RIGID


def _unsteady(lengths: Lengths, trial: Trial) -> list[Doubt]:
    doubts = []
    for name, (_, varies, _) in lengths.items():
        if _is_rigid(name) and varies > _STEADY:
            what = f"the length of the {name} changes by more than {100 * _STEADY:.0f} % during the swing"
            do = "check whether labels were exchanged during the swing, or whether a marker came off"
            key, value = f"[landmarks] {_ends_of(name, trial)}", f"{100 * varies:.0f} %"
            doubts.append(Doubt("constant", DOUBTFUL, key, what, value, do))
    return doubts


def _unit(stature: float) -> list[Doubt]:
    if _SMALLEST_M <= stature <= _TALLEST_M:
        return []
    value = f"{stature:.3g} m"
    fitting = [factor for factor in _FACTORS if _SMALLEST_M <= stature * factor <= _TALLEST_M]
    if not _NO_CHILD_M <= stature <= _NO_GIANT_M and len(fitting) == 1:
        factor = fitting[0]
        times = f"{factor:g} times as large" if factor > 1 else f"{1 / factor:g} times as small"
        what = f"the body does not have human size in the capture's unit, but would have if it were {times}"
        return [Doubt("unit", IMPOSSIBLE, "[lab] unit", what, value, "correct unit under [lab]")]
    what = f"the stature estimated from segment lengths is not between {_SMALLEST_M:g} and {_TALLEST_M:g} m"
    return [Doubt("size", DOUBTFUL, "[lab] unit", what, value, "check unit under [lab], and the labels")]


def _proportions(lengths: Lengths, stature: float, trial: Trial) -> list[Doubt]:
    doubts = []
    for name in out_of_proportion(lengths):
        middle, _, share = lengths[name]
        ratio = middle / (share * stature)
        what = f"the {name} is {'shorter' if ratio < 1 else 'longer'} than expected from the other segments"
        ends = _ends_of(name, trial)
        do = f"check the labels of {ends}"
        doubts.append(
            Doubt("proportions", DOUBTFUL, f"[landmarks] {ends}", what, f"{100 * middle:.1f} cm", do)
        )
    return doubts


def _ends_of(name: str, trial: Trial) -> str:
    """Return the landmarks at the ends of a segment, as the study names them."""
    if name == "shaft":
        return "club_butt, clubhead"
    if name in _ACROSS:
        return f"{_ACROSS[name][1]}_left, {_ACROSS[name][1]}_right"
    if name in _TRUNK:
        return ", ".join(_TRUNK[name][1:])
    word, _, segment = name.partition(" ")
    side = "left" if word == "lead" else "right"
    _, tops, ends = _SHARES[segment]
    there = [f"{stem}_{side}" for stem in (*tops, *ends) if f"{stem}_{side}" in trial.landmarks]
    return ", ".join(mirrored_name(one) if trial.hand == "left" else one for one in there)


def check_same_lengths(
    swings: Mapping[str, Lengths], places: Mapping[str, Sequence[str]]
) -> dict[str, list[Doubt]]:
    """Return doubts about swings whose rigid segments differ in length from those in the golfer's other swings.

    Only swings of the same session are compared. A length is compared with its median over the golfer's swings in the
    session. If the session has only two swings, they are compared with each other, and both get a doubt. A difference
    counts if it is above 5 % of the median and above 8 mm. The shaft is not compared.

    Parameters
    ----------
    swings : mapping
        Swing -> segment lengths (m).
    places : mapping
        Swing -> golfer and session; further entries are not used.

    Returns
    -------
    dict
        Swing -> its doubts, for the swings that differ.
    """
    doubts: dict[str, list[Doubt]] = {}
    groups: dict[tuple[str, ...], list[str]] = {}
    for swing in swings:
        groups.setdefault(tuple(places[swing][:2]), []).append(swing)
    for members in groups.values():
        names = {name for swing in members for name in swings[swing] if name != "shaft"}
        for name in sorted(names):
            if not _is_rigid(name):
                continue
            there = {swing: swings[swing][name][0] for swing in members if name in swings[swing]}
            for swing in _unlike(there):
                _add(doubts, swing, name, there)
    return doubts


def _unlike(lengths: dict[str, float]) -> list[str]:
    """Return swings whose length of a segment differs from the median of all; of only two swings, both."""
    if len(lengths) < 2:
        return []
    values = np.array(list(lengths.values()))
    middle = float(np.median(values))
    if len(values) == 2:
        off = np.full(2, abs(values[0] - values[1]) > max(SAME * middle, _SAME_M))
    else:
        off = np.abs(values - middle) > max(SAME * middle, _SAME_M)
    return [swing for swing, wrong in zip(lengths, off, strict=True) if wrong]


def _add(doubts: dict[str, list[Doubt]], swing: str, name: str, lengths: dict[str, float]) -> None:
    others = float(np.median([value for other, value in lengths.items() if other != swing]))
    value = f"{name} {100 * (lengths[swing] / others - 1):+.0f} %"
    found = doubts.setdefault(swing, [])
    if found:
        found[0] = found[0]._replace(value=f"{found[0].value}, {value}")
        return
    what = f"segment lengths differ by more than {100 * SAME:.0f} % from the golfer's other swings in this session"
    do = "check whether the capture belongs to another golfer, or whether markers were placed again (a new session)"
    found.append(Doubt("same_lengths", DOUBTFUL, "swings.csv golfer, session", what, value, do))
