"""Colours that every figure shares."""

import pandas as pd
import seaborn as sns
from matplotlib.colors import to_hex
from matplotlib.lines import Line2D

from swinglab.figures import draw_lesson
from swinglab.figures.style import COLOURS, GREY, look_of, mark_reference, new_axes


def test_colours_are_of_the_palette_for_colour_blind_readers():
    """other: seaborn's palette "colorblind", which the kit writes out so that it need not import seaborn."""
    assert set(COLOURS) <= set(sns.color_palette("colorblind").as_hex())


def test_reference_lines_are_means_of_one_named_club() -> None:
    """Truth: made. Two golfers with three irons at 10 and 14 deg and one driver each far away: lines at 10 and 14."""
    rows = pd.DataFrame({"golfer": [*"AAAABBBB"], "group": "skilled", "club": [*["7 iron"] * 3, "driver"] * 2,
                         "tilt": [10.0, 10, 10, 40, 14, 14, 14, 44]})  # fmt: skip
    ax = new_axes(None)
    mark_reference(ax, rows, "tilt", "skilled")
    assert [line.get_ydata()[0] for line in ax.lines] == [10.0, 14.0]
    assert ax.lines[0].get_label() == "each golfer of skilled (reference, 7 iron)"


def test_phases_have_the_colours_of_the_order_of_play_and_unphased_swings_are_seen() -> None:
    """Truth: made. "before" comes first, whatever sorts first; swings of no phase are grey, drawn, in the legend."""
    rows = pd.DataFrame({"golfer": "G01", "swing": [f"s{k}" for k in range(6)],
                         "phase": ["before"] * 2 + [""] * 2 + ["after"] * 2,
                         "attack_angle_deg": [-4.0, -4.2, -3.9, -3.8, -3.0, -2.9]})  # fmt: skip
    assert [look_of("phase", rows["phase"])[name][0] for name in ("before", "", "after")] == [
        COLOURS[0],
        GREY,
        COLOURS[1],
    ]
    ax = draw_lesson(rows, value="attack_angle_deg", phase="phase")
    assert [text.get_text() for text in ax.get_legend().get_texts()] == [
        "before (2 swings)", "no phase (2 swings)", "after (2 swings)"
    ]  # fmt: skip
    marks = next(
        line
        for line in ax.lines
        if list(line.get_ydata()) == [-3.9, -3.8] and line.get_marker() not in ("", "None")
    )
    assert to_hex(marks.get_color()) == to_hex(GREY)
    assert marks.get_marker() in Line2D.filled_markers or to_hex(marks.get_markeredgecolor()) != "#ffffff"
