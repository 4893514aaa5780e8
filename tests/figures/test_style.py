"""Colours that every figure shares."""

import seaborn as sns

from swinglab.figures.style import COLOURS


def test_colours_are_of_the_palette_for_colour_blind_readers():
    """other: seaborn's palette "colorblind", which the kit writes out so that it need not import seaborn."""
    assert set(COLOURS) <= set(sns.color_palette("colorblind").as_hex())
