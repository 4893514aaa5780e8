"""Colours that every figure shares."""

import pandas as pd
import seaborn as sns

from swinglab.figures.style import COLOURS, mark_reference, new_axes


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
    assert ax.lines[0].get_label() == "golfers of skilled (reference, 7 iron)"
