"""The time line: what it draws, from its data and labels. Truth: made."""

from __future__ import annotations

import numpy as np
import pytest
from events.formula_swing import BODY, FormulaSwing

from swinglab.conventions import EVENT_LABELS
from swinglab.events import find_events
from swinglab.figures import draw_event_timeline


def names_above(ax) -> list[str]:
    """Texts of the annotations, line breaks taken out."""
    return [text.get_text().replace("\n", " ") for text in ax.texts]


def test_every_event_is_named_and_lies_on_its_curve() -> None:
    """Truth: made: the curve crosses 0 where the dot stands."""
    swing = FormulaSwing()
    trial = swing.trial(noise_mm=0.5)
    events = find_events(trial, None, by_hand={"top": swing.truth("top")})
    ax = draw_event_timeline(trial, events)
    assert [line.get_label() for line in ax.lines[:3]] == ["shaft", "lead arm", "trail arm"]
    there = sorted((e for e in events.events if np.isfinite(e.time_s)), key=lambda e: e.time_s)
    wanted = [EVENT_LABELS[e.name] + (" (by hand)" if e.name == "top" else "") for e in there]
    assert names_above(ax) == wanted
    dots = {round(float(line.get_xdata()[0]), 6): line for line in ax.lines if line.get_marker() == "o"}
    assert len(dots) == len(there)
    for name in ("shaft_horizontal_back", "shaft_horizontal_down", "lead_arm_horizontal_back"):
        dot = dots[round(events.time_s(name), 6)]
        assert float(np.atleast_1d(dot.get_ydata())[0]) == pytest.approx(0.0, abs=1.5)
    assert dots[round(events.time_s("top"), 6)].get_markerfacecolor() == "white"


def test_what_is_missing_is_listed_and_a_trial_without_a_club_is_drawn() -> None:
    """Truth: made."""
    swing = FormulaSwing()
    trial = swing.trial(landmarks=BODY)
    events = find_events(trial, None)
    ax = draw_event_timeline(trial, events)
    assert [line.get_label() for line in ax.lines[:2]] == ["lead arm", "trail arm"]
    listed = ax.get_xlabel().replace("\n", " ")
    for name in ("impact", "top", "address"):
        assert EVENT_LABELS[name] in listed


def test_names_keep_apart_and_in_order() -> None:
    """Truth: made: eight events within 0.3 s; no two names on one place."""
    swing = FormulaSwing(downswing_s=0.2)
    trial = swing.trial()
    ax = draw_event_timeline(trial, find_events(trial, None))
    places = [text.xyann[0] for text in ax.texts]
    assert (np.diff(places) > 0.03).all()
    assert min(places) >= 0 and max(places) <= 1
