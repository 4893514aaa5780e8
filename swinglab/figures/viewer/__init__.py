"""The swing player: a stick figure that moves, in a notebook and in the report's page, from the same script."""

from swinglab.figures.viewer.marks import mark_on_body
from swinglab.figures.viewer.page import player_element, player_head
from swinglab.figures.viewer.payload import SwingFrames, pack_swings, swing_frames
from swinglab.figures.viewer.skeleton import bones, drawn_points

__all__ = [
    "SwingFrames", "bones", "drawn_points", "mark_on_body", "pack_swings", "player_element", "player_head",
    "swing_frames",
]  # fmt: skip
