"""All events of a swing: set by hand, from the file, or detected, with a check of their order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from swinglab.conventions import ENFORCED_ORDER, EVENTS
from swinglab.errors import BadRequest, near_names
from swinglab.events.crossings import find_crossing
from swinglab.events.impact import find_impact
from swinglab.events.lines import arm_line, shaft_lines
from swinglab.events.search_window import Window, missing
from swinglab.events.stillness import (
    FINISHED_MPS,
    STILL_MPS,
    find_address,
    find_finish,
    find_takeaway,
    measure_slow_speed,
)
from swinglab.events.turns import find_pelvis_reversal, find_top
from swinglab.records import Event, Events, Posture, Trial

BY_HAND, FROM_FILE = "by_hand", "from_file"
#: A movement is another swing if it reaches this share of the fastest one after a pause of at least this length.
AS_FAST, PAUSE_S = 0.8, 0.5


def find_events(
    trial: Trial, posture: Posture | None, *, by_hand: Mapping[str, float] | None = None
) -> Events:
    """Return all events of a swing, each with time, method and standard error, or the reason why it is missing.

    Parameters
    ----------
    trial : Trial
        One swing.
    posture : Posture or None
        Posture of the same swing, for the rotation of the pelvis; without it the event `pelvis_reversal` is missing.
    by_hand : mapping of str to float, optional
        Event -> time in s from the file's first frame. Events set by hand replace those in the file, which replace
        detected ones. An event set by hand or in the file has a standard error of half a frame.

    Returns
    -------
    Events
        Times in s from the file's first frame. Standard errors, in s, include noise, the error of the position of the
        ball, and the error of the polynomial models, but not the uncertainty about how an event should be defined.

    Raises
    ------
    BadRequest
        A name that is not an event, a time outside the capture, or times set by hand that contradict the order
        address < takeaway < top < impact < finish.

    Notes
    -----
    Missing: if impact is not found, the other events are searched around the approximate time of contact or, if this is
    unknown, around the fastest motion of the clubhead (without a clubhead, of the hands); their notes name the
    substitute.
    Order: if two events are in the wrong order, one of them is removed, with a warning: a detected event rather than
    one in the file, and that rather than one set by hand; of two detected events, the one that should come later.
    Smoothing: times are from unsmoothed samples, so that the low-pass filter does not shift them; only the reversal of
    the pelvis is from its smoothed curve.

    Examples
    --------
    >>> events = find_events(trial, posture, by_hand={"top": 1.083})  # doctest: +SKIP
    >>> events.time_s("impact"), events["impact"].standard_error_s    # doctest: +SKIP
    (1.3247, 0.0001)
    """
    found, warnings = _given(trial, by_hand or {})
    if "impact" not in found:
        found["impact"] = find_impact(trial)
    contact = _contact(trial, found["impact"])
    if contact is None:
        reason = (
            "this event is searched around impact or a fast motion of club or hands, but neither was found"
        )
        found |= {name: missing(name, reason) for name in EVENTS if name not in found}
    else:
        _search(trial, posture, contact, found)
    warnings += _enforce_order(found)
    events = tuple(_with_source(found[name], trial.setup.source) for name in EVENTS)
    return Events(trial.swing, trial.golfer, trial.rate_hz, events, tuple(warnings))


def _with_source(event: Event, source: str | None) -> Event:
    """The event, with the source of the coordinates in its method if the study states it."""
    if not source or not np.isfinite(event.time_s):
        return event
    return replace(event, method=f"{event.method}; {source}")


# --- given times ------------------------------------------------------------------------------------------


def _given(trial: Trial, by_hand: Mapping[str, float]) -> tuple[dict[str, Event], list[str]]:
    """Events set by hand or in the file, by name, and warnings about those that are not used.

    Raises BadRequest for an event set by hand that is unknown, outside the capture, or in the wrong order.
    """
    end = float(trial.time_s[-1])
    half_frame = 0.5 / trial.rate_hz
    given: dict[str, Event] = {}
    warnings = []
    for name, time in trial.file_events.items():
        if name in EVENTS and 0 <= time <= end + half_frame:
            given[name] = Event(name, float(time), half_frame, "file", source=FROM_FILE)
        else:
            warnings.append(
                f"the event {name} at {time:g} s in the file is not used: it is not an event of swinglab, or its time "
                "is outside the capture"
            )
    for name, time in by_hand.items():
        if np.isnan(time):  # an empty cell of a table
            continue
        if name not in EVENTS:
            raise BadRequest(
                f"there is no event {name}, which was set by hand",
                file=trial.file,
                do=near_names(name, EVENTS) or f"use one of {', '.join(EVENTS)}",
            )
        if not 0 <= time <= end + half_frame:
            raise BadRequest(
                f"{name} was set by hand at {time:g} s, which is outside the capture (0 to {end:.3f} s)",
                file=trial.file,
                where=f"swing {trial.swing}",
                do="give the time in s from the file's first frame",
            )
        given[name] = Event(name, float(time), half_frame, "by hand", source=BY_HAND)
    hand = [given[name] for name in ENFORCED_ORDER if name in given and given[name].source == BY_HAND]
    for earlier, later in pairwise(hand):
        if earlier.time_s >= later.time_s:
            raise BadRequest(
                f"{earlier.name} was set by hand at {earlier.time_s:g} s, which is not before {later.name} "
                f"({later.time_s:g} s, also set by hand)",
                file=trial.file,
                where=f"swing {trial.swing}",
                do=f"correct or remove the time of {earlier.name} or of {later.name}",
            )
    warnings += _enforce_order(given)
    return {name: event for name, event in given.items() if np.isfinite(event.time_s)}, warnings


def _enforce_order(found: dict[str, Event]) -> list[str]:
    """Make events that contradict the order in `ENFORCED_ORDER` missing; return a warning for each.

    Of two contradicting events, a detected one is removed before one in the file, and that before one set by hand.
    """
    rank = {BY_HAND: 0, FROM_FILE: 1}
    standing = [found[name] for name in ENFORCED_ORDER if name in found and np.isfinite(found[name].time_s)]
    kept: list[Event] = []
    warnings = []
    for event in sorted(standing, key=lambda e: rank.get(e.source, 2)):
        place = ENFORCED_ORDER.index(event.name)
        broken = next(
            (k for k in kept if (ENFORCED_ORDER.index(k.name) < place) != (k.time_s < event.time_s)), None
        )
        if broken is None:
            kept.append(event)
            continue
        side = "after" if ENFORCED_ORDER.index(broken.name) < place else "before"
        reason = (
            f"its time, {event.time_s:.3f} s ({event.method}), was not used, because it is not {side} {broken.name} "
            f"({broken.time_s:.3f} s, {broken.method})"
        )
        found[event.name] = missing(event.name, reason)
        warnings.append(f"{event.name}: {reason}")
    return warnings


# --- where to look ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Contact:
    """Time around which the other events are searched: impact, or a substitute if impact was not found.

    words : name of this time in messages. blind_s : samples within this period (s) before and after `time_s` are not
    used, because contact may have disturbed them. note : added to the notes of the other events.
    """

    time_s: float
    words: str
    blind_s: float
    note: str = ""


def _contact(trial: Trial, impact: Event) -> Contact | None:
    if np.isfinite(impact.time_s):
        blind = 0.0 if impact.source not in (BY_HAND, FROM_FILE) else 0.5 / trial.rate_hz
        return Contact(impact.time_s, "impact", blind)
    if len(trial.time_s) < 2:
        return None
    if trial.contact_time_s is not None:
        return _stand_in(trial, trial.contact_time_s, "the approximate time of contact")
    if trial.has("clubhead"):
        return _stand_in(trial, _fastest(trial, "clubhead"), "the fastest motion of the clubhead")
    hand = next((n for n in ("wrist_radial_left", "wrist_left", "hand_left") if trial.has(n)), None)
    return _stand_in(trial, _fastest(trial, hand), "the fastest motion of the lead hand") if hand else None


def _stand_in(trial: Trial, time_s: float, words: str) -> Contact:
    return Contact(
        time_s, words, 1.0 / trial.rate_hz, f"impact is missing; this event was searched around {words}"
    )


def _fastest(trial: Trial, landmark: str) -> float:
    """Time (s) of a landmark's fastest motion; of several similarly fast movements (practice swings), the last."""
    speed = np.linalg.norm(np.gradient(trial.point(landmark), trial.time_s, axis=0), axis=1)
    speed = np.nan_to_num(speed)
    fast = np.flatnonzero(speed >= AS_FAST * speed.max())
    after_pause = fast[np.flatnonzero(np.diff(trial.time_s[fast], prepend=-np.inf) > PAUSE_S)[-1] :]
    last = after_pause[0] + np.argmax(speed[after_pause[0] : fast[-1] + 1])
    return float(trial.time_s[last])


def _search(trial: Trial, posture: Posture | None, contact: Contact, found: dict[str, Event]) -> None:
    """Search every event that is not in `found` yet, and add it."""
    shafts, why_no_shaft = shaft_lines(trial)
    slow = measure_slow_speed(trial, STILL_MPS)
    start = found["takeaway"].time_s if "takeaway" in found else float(trial.time_s[0])

    def fill(name: str, event: Event) -> Event:
        return found.setdefault(name, event)

    top = fill("top", find_top(trial, shafts, why_no_shaft, start, contact.time_s))
    takeaway = fill("takeaway", find_takeaway(trial, slow, top, contact.time_s))
    fill("address", find_address(slow, takeaway))
    fill("finish", find_finish(measure_slow_speed(trial, FINISHED_MPS), contact.time_s))
    fill("pelvis_reversal", find_pelvis_reversal(trial, posture, _or(takeaway, start), contact.time_s))
    lines = {"shaft": (shafts, why_no_shaft)}
    for side in ("left", "right"):
        arm, why = arm_line(trial, side)
        lines[side] = ((arm,) if arm else (), why)
    for name, (which, level, rising, way) in CROSSINGS.items():
        if not lines[which][0]:
            fill(name, missing(name, lines[which][1]))
        elif name not in found:
            window = _window(trial, way, which, contact, takeaway, top)
            first = way == "through" or (way == "back" and np.isfinite(takeaway.time_s))
            pick = "first" if first else "last"
            found[name] = find_crossing(name, lines[which][0], level, rising, window, pick)


#: Event -> line, level of its elevation in degrees, whether it rises through the level, part of the swing.
CROSSINGS = {
    "shaft_horizontal_back": ("shaft", 0.0, True, "back"),
    "lead_arm_horizontal_back": ("left", 0.0, True, "back"),
    "lead_arm_horizontal_down": ("left", 0.0, False, "down"),
    "shaft_45_down": ("shaft", 45.0, False, "down"),
    "shaft_horizontal_down": ("shaft", 0.0, False, "down"),
    "shaft_horizontal_through": ("shaft", 0.0, True, "through"),
    "trail_arm_horizontal_through": ("right", 0.0, True, "through"),
}


def _or(event: Event, otherwise: float) -> float:
    return event.time_s if np.isfinite(event.time_s) else otherwise


def _window(trial: Trial, way: str, which: str, contact: Contact, takeaway: Event, top: Event) -> Window:
    """Search window of an event in the backswing, the downswing or the follow-through.

    The top separates backswing and downswing. The lead arm in the downswing is searched from takeaway, because the arm
    may move down before the shaft reverses.
    """
    gap = max(trial.setup.longest_gap_s, 2.1 / trial.rate_hz)
    before, after = contact.time_s - contact.blind_s, contact.time_s + contact.blind_s
    start, opening = float(trial.time_s[0]), "the start of the capture"
    if np.isfinite(takeaway.time_s):
        start, opening = takeaway.time_s, "takeaway"
    stop, closing = before, contact.words
    if way == "through":
        last = float(trial.time_s[-1])
        return Window(trial.time_s, after, last, after, np.inf, gap, f"after {contact.words}", contact.note)
    if way == "back" and np.isfinite(top.time_s):
        stop, closing = top.time_s, "the top"
    elif way == "down" and which == "shaft" and np.isfinite(top.time_s):
        start, opening = top.time_s, "the top"
    words = f"between {opening} and {closing}"
    return Window(trial.time_s, start, stop, -np.inf, before, gap, words, contact.note)
