"""The swing viewer as a notebook widget: frames go to the browser once, the moment shown comes back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import anywidget
import traitlets

from swinglab.figures.viewer import SwingFrames, pack_swings
from swinglab.figures.viewer.page import viewer_script, viewer_style


class SwingViewer(anywidget.AnyWidget):
    """A stick figure that moves, with the clubhead's path, the events and a quantity drawn on the body.

    Parameters
    ----------
    swings : sequence of SwingFrames
        One swing, or two to compare; made by ``swinglab.figures.viewer.swing_frames``.
    align : str
        The event at time 0, at which two swings meet.
    start : str
        The event that the viewer opens at; address where empty.

    Attributes
    ----------
    time_s : float
        The moment shown, in seconds from the first swing's first frame; follows the viewer.
    event : str
        The event at that moment; empty between events.
    asked_s : float
        Set it to send the viewer to a moment.
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
        """Show other swings; view and arrangement stay as they are."""
        described, numbers = pack_swings(swings, align=align, start=start)
        with self.hold_sync():
            self.layout_of_frames = described
            self.frames = numbers
