"""A panel whose figures lead to the swings in them: a mark names its swing, a click shows that swing."""

from __future__ import annotations

import ipywidgets as widgets
import traitlets
from matplotlib.axes import Axes

from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.controls.picked_swing import PickedSwing
from swinglab.controls.point_picture import PointPicture


class FigurePanel(Panel):
    """A panel with figures; `picked` is the swing behind the mark that was clicked last.

    `quantity` and `event_asked` name the posture quantity and the event that the figures are about; the swing
    is shown at that event with that quantity drawn on the body.
    """

    quantity = traitlets.Unicode()
    event_asked = traitlets.Unicode()

    def __init__(self, chosen: ChosenStudy, choosers: list[widgets.Widget]) -> None:
        self.pictures: dict[str, PointPicture] = {}
        self.picked = PickedSwing(chosen)
        super().__init__(chosen, choosers)

    def picture(self, name: str, axes: Axes, alt: str) -> PointPicture:
        """The figure as a widget, the same one each time for the same name."""
        if name not in self.pictures:
            self.pictures[name] = PointPicture()
            self.pictures[name].observe(self._show_picked, "picked")
        self.pictures[name].show(axes, alt, name)
        return self.pictures[name]

    def _show_picked(self, change: dict) -> None:
        if change["new"]:
            self.picked.show(change["new"], quantity=self.quantity, event=self.event_asked or "impact")
