"""What all figures share: a colour-blind-safe palette, marker shapes beside it, and figures without a window."""

from __future__ import annotations

import seaborn as sns
from matplotlib.axes import Axes
from matplotlib.figure import Figure

#: Seaborn's colour-blind-safe colours, those that stand out on white first.
_SAFE = sns.color_palette("colorblind").as_hex()
COLOURS = tuple(_SAFE[i] for i in (0, 3, 2, 4, 9, 1, 5))
MARKERS = ("o", "s", "^", "D", "v", "P", "X")
GREY = "#6b6b6b"
FAINT = "#b5b5b5"

#: Short words for events, where many stand side by side.
EVENT_SHORT = {
    "address": "address", "takeaway": "takeaway", "shaft_horizontal_back": "shaft level, back",
    "lead_arm_horizontal_back": "arm level, back", "pelvis_reversal": "pelvis turns back", "top": "top",
    "lead_arm_horizontal_down": "arm level, down", "shaft_45_down": "shaft 45 deg, down",
    "shaft_horizontal_down": "delivery", "impact": "impact", "shaft_horizontal_through": "shaft level, through",
    "trail_arm_horizontal_through": "arm level, through", "finish": "finish",
}  # fmt: skip


def new_axes(ax: Axes | None, *, width: float = 6.4, height: float = 4.2) -> Axes:
    """The axes given, or those of a new figure that no global state knows of."""
    if ax is not None:
        return ax
    return Figure(figsize=(width, height), layout="constrained").add_subplot()


def group_look(names: list[str]) -> dict[str, tuple[str, str]]:
    """Colour and marker for each group, in the order given."""
    return {name: (COLOURS[i % len(COLOURS)], MARKERS[i % len(MARKERS)]) for i, name in enumerate(names)}


def plain(ax: Axes) -> None:
    """Take away what carries no information."""
    ax.spines[["top", "right"]].set_visible(False)
    ax.tick_params(labelsize=9)
