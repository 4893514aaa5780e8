"""Quantities that can be measured from a set of landmarks, found with a simulated swing."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from functools import lru_cache

import numpy as np

from swinglab.conventions import LANDMARKS, MARKER_LANDMARKS, SHAFT_POINT_STEM
from swinglab.errors import SwinglabError
from swinglab.events import find_events
from swinglab.load import load_trial
from swinglab.records import Capture, Setup
from swinglab.segments import measure_posture
from swinglab.simulate import make_golfer, make_swing
from swinglab.strike import measure_strike

#: Frame rate of the simulated swing: low, to be fast; it does not affect which quantities are measurable.
_RATE_HZ = 120.0


@lru_cache(maxsize=1)
def _whole_capture() -> Capture:
    """Return a simulated swing with every landmark: markers, joint centres, club and ball."""
    swing = make_swing(make_golfer(name="G01"), seed=1, rate_hz=_RATE_HZ, before_s=1.6, after_s=0.6)
    points = np.stack(list(swing.points.values()), axis=1)
    return Capture("simulated", tuple(swing.points), points, _RATE_HZ)


def known_landmarks() -> tuple[str, ...]:
    """Return the names of all landmarks to which a marker label can be assigned, including two points on the shaft."""
    return (*LANDMARKS, f"{SHAFT_POINT_STEM}1", f"{SHAFT_POINT_STEM}2")


def measurable(landmarks: Iterable[str]) -> frozenset[str]:
    """Return the posture and strike quantities that can be measured from these landmarks.

    Examples
    --------
    >>> "pelvis_flexion_deg" in measurable(["asis_left", "asis_right", "psis_left", "psis_right"])
    True
    >>> "thorax_flexion_deg" in measurable(["c7", "t8"])
    False
    """
    return _measured(frozenset(landmarks))


@lru_cache(maxsize=256)
def _measured(landmarks: frozenset[str]) -> frozenset[str]:
    whole = _whole_capture()
    places = [k for k, label in enumerate(whole.labels) if label in landmarks]
    if not places:
        return frozenset()
    labels = tuple(whole.labels[k] for k in places)
    part = Capture("simulated", labels, whole.points_m[:, places], whole.rate_hz)
    try:
        trial = load_trial(part, Setup(up="+Y", target="+X"), swing="1", golfer="G01")
        posture = measure_posture(trial)
        found = {name for name in posture.quantities if np.isfinite(posture.curve(name)).any()}
        events = find_events(trial, posture)
        values = measure_strike(trial, events).values
        found |= {name for name, value in values.items() if np.isfinite(value)}
    except SwinglabError:
        return frozenset()
    return frozenset(found)


def by_what_they_unlock(opened: Collection[str], found: Collection[str]) -> list[tuple[str, int]]:
    """Return undecided landmarks, each with the number of quantities that need it, the largest number first.

    The left and the right landmark of a pair count together.

    Parameters
    ----------
    opened : collection of str
        Landmarks whose labels are not decided.
    found : collection of str
        Landmarks whose labels are decided.
    """
    every = {*opened, *found}
    if any(name in MARKER_LANDMARKS and not name.startswith(("heel", "toe")) for name in every):
        every |= {*MARKER_LANDMARKS, "clubhead", "ball"}
    all_of_them = measurable(every)
    lost = {}
    for name in opened:
        stem = name.removesuffix("_left").removesuffix("_right")
        pair = {one for one in opened if one.removesuffix("_left").removesuffix("_right") == stem}
        lost[name] = len(all_of_them - measurable(every - pair))
    return sorted(lost.items(), key=lambda item: -item[1])
