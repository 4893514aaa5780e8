"""The swing player: a stick figure that moves, in a notebook and in the report's page, from the same script."""

from swinglab.figures.player.marks import mark_on_body
from swinglab.figures.player.page import player_element, player_head
from swinglab.figures.player.payload import SwingFrames, pack_swings, swing_frames
from swinglab.figures.player.skeleton import bones, drawn_points

__all__ = [
    "SwingFrames", "bones", "drawn_points", "mark_on_body", "pack_swings", "player_element", "player_head",
    "swing_frames",
]  # fmt: skip
