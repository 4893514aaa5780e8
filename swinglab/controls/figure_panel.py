"""Base class of panels with figures in which each mark is a swing; a click on a mark shows the swing."""

from __future__ import annotations

import ipywidgets as widgets
import traitlets
from matplotlib.axes import Axes

from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.controls.picked_swing import PickedSwing
from swinglab.controls.point_picture import PointPicture


class FigurePanel(Panel):
    """Base class of a notebook panel with figures in which each mark is a swing.

    Attributes
    ----------
    pictures : dict of str to PointPicture
        The figures by name.
    picked : PickedSwing
        Widget that shows the swing whose mark was clicked last.
    quantity, event_asked : str
        Names of the posture quantity and of the event in the figures. The clicked swing is shown at this event, with
        this quantity drawn on the body.
    """

    quantity = traitlets.Unicode()
    event_asked = traitlets.Unicode()

    def __init__(self, chosen: ChosenStudy, choosers: list[widgets.Widget]) -> None:
        self.pictures: dict[str, PointPicture] = {}
        self.picked = PickedSwing(chosen)
        super().__init__(chosen, choosers)

    def picture(self, name: str, axes: Axes, alt: str) -> PointPicture:
        """Return a figure as a widget.

        Parameters
        ----------
        name : str
            Name of the figure; a second call with this name updates the widget of the first.
        axes : matplotlib.axes.Axes
        alt : str
            Description of the figure for screen readers.
        """
        if name not in self.pictures:
            self.pictures[name] = PointPicture()
            self.pictures[name].observe(self._show_picked, "picked")
        self.pictures[name].show(axes, alt, name)
        return self.pictures[name]

    def _show_picked(self, change: dict) -> None:
        if change["new"]:
            self.picked.show(change["new"], quantity=self.quantity, event=self.event_asked or "impact")
