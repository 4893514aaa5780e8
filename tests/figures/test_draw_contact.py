"""Contact in words as a picture: steps in their order, uncertain ones left out, a missing column said."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from swinglab.errors import BadTable
from swinglab.figures import draw_contact, draw_lesson

TILT = "thorax_lateral_flexion_at_impact_deg"


def contacts() -> pd.DataFrame:
    """Two golfers of two groups: tilts 10, 20, 30 for fat, clean, thin, and one uncertain swing each."""
    return pd.DataFrame(
        {
            "golfer": np.repeat(["a", "b"], 4),
            "group": np.repeat(["p", "q"], 4),
            "phase": np.tile(["before", "before", "after", "after"], 2),
            TILT: [10.0, 20.0, 30.0, 99.0, 11.0, 21.0, 31.0, 99.0],
            "contact": ["fat", "clean", "thin", "uncertain"] * 2,
        }
    )


def test_each_golfers_means_stand_at_their_step() -> None:
    """Truth: made. Ticks fat, clean, thin from below; a golfer's joined means; uncertain swings are not drawn."""
    ax = draw_contact(contacts(), posture=TILT, outcome="contact", group="group")
    assert [tick.get_text() for tick in ax.get_yticklabels()] == ["fat", "clean", "thin"]
    joined = [line for line in ax.get_lines() if line.get_linestyle() == "-" and len(line.get_xdata()) == 3]
    assert [list(line.get_xdata()) for line in joined] == [[10.0, 20.0, 30.0], [11.0, 21.0, 31.0]]
    assert all(list(line.get_ydata()) == [0.0, 1.0, 2.0] for line in joined)
    assert joined[0].get_marker() != joined[1].get_marker()
    assert not any(99.0 in np.asarray(line.get_xdata(), float) for line in ax.get_lines())


def test_a_lesson_read_by_contact_has_steps_and_no_means() -> None:
    """Truth: made. One golfer's swings at 0, 1, 2; no line of a mean of words."""
    own = contacts()[:4]
    ax = draw_lesson(own, value="contact", phase="phase")
    assert [tick.get_text() for tick in ax.get_yticklabels()] == ["fat", "clean", "thin"]
    heights = np.concatenate([np.asarray(c.lines[0].get_ydata(), float) for c in ax.containers])
    assert heights[:3].tolist() == [0.0, 1.0, 2.0] and np.isnan(heights[3])
    assert not any(line.get_linestyle() == "-" for line in ax.get_lines() if line not in
                   [part for c in ax.containers for part in c.get_children()])  # fmt: skip


@pytest.mark.parametrize(
    ("change", "words"),
    [({"contact": "uncertain"}, "no swing has both"), ({"contact": 1.0}, "no swing has both")],
)
def test_nothing_to_draw_is_said(change: dict, words: str) -> None:
    """Truth: made."""
    with pytest.raises(BadTable, match=words):
        draw_contact(contacts().assign(**change), posture=TILT, outcome="contact")
    with pytest.raises(BadTable, match="no column tilt"):
        draw_contact(contacts(), posture="tilt", outcome="contact")
    with pytest.raises(BadTable, match="nothing to draw"):
        draw_lesson(contacts().assign(contact="uncertain"), value="contact", phase="phase")
