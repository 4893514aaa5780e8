"""The swing viewer as a notebook widget; frames are sent to the browser once, and the time shown is sent back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import anywidget
import traitlets

from swinglab.figures.viewer import SwingFrames, pack_swings
from swinglab.figures.viewer.page import viewer_script, viewer_style


class SwingViewer(anywidget.AnyWidget):
    """Animated stick figure of one or two swings, with the clubhead's path, the events and a quantity on the body.

    Parameters
    ----------
    swings : sequence of SwingFrames
        One swing, or two to compare, from ``swinglab.figures.viewer.swing_frames``.
    align : str
        Name of the event that is time 0; two swings are aligned in time at this event.
    start : str
        Name of the event that is shown first; address if empty.

    Attributes
    ----------
    time_s : float
        The time shown, in seconds from the first frame of the first swing; updated by the viewer.
    event : str
        Name of the event at the time shown; empty between events.
    asked_s : float
        Set this attribute to make the viewer show another time, counted like `time_s`.
    """

    _esm = viewer_script()
    _css = viewer_style()
    layout_of_frames = traitlets.Dict().tag(sync=True)
    frames = traitlets.Bytes().tag(sync=True)
    time_s = traitlets.Float(0.0).tag(sync=True)
    event = traitlets.Unicode("").tag(sync=True)
    asked_s = traitlets.Float(0.0).tag(sync=True)

    def __init__(
        self, swings: Sequence[SwingFrames], *, align: str = "impact", start: str = "", **kwargs: Any
    ) -> None:
        described, numbers = pack_swings(swings, align=align, start=start)
        super().__init__(layout_of_frames=described, frames=numbers, **kwargs)

    def show(self, swings: Sequence[SwingFrames], *, align: str = "impact", start: str = "") -> None:
        """Show other swings and keep the camera view and the arrangement of the two figures.

        Parameters as for the class.
        """
        described, numbers = pack_swings(swings, align=align, start=start)
        with self.hold_sync():
            self.layout_of_frames = described
            self.frames = numbers
