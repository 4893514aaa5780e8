"""The swing viewer: a moving stick figure in a notebook or in the page of the report."""

from swinglab.figures.viewer.marks import mark_on_body
from swinglab.figures.viewer.page import viewer_element, viewer_head
from swinglab.figures.viewer.payload import SwingFrames, pack_swings, swing_frames
from swinglab.figures.viewer.skeleton import bones, drawn_points

__all__ = [
    "SwingFrames",
    "bones",
    "drawn_points",
    "mark_on_body",
    "pack_swings",
    "swing_frames",
    "viewer_element",
    "viewer_head",
]  # fmt: skip
