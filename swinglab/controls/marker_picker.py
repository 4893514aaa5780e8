"""Widget that draws the markers of one frame; a marker is picked by click or key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import anywidget
import numpy as np
import traitlets

from swinglab.figures.viewer.page import picker_script, viewer_style


class MarkerPicker(anywidget.AnyWidget):
    """Widget with the markers of one frame of a capture; it is rotated and zoomed like the swing viewer.

    Attributes
    ----------
    picked : str
        The label of the picked marker; empty if none is picked. Set it to pick a marker.
    body : dict
        The data that are drawn; set by `show`.
    """

    _esm = picker_script()
    _css = viewer_style()
    body: traitlets.Dict = traitlets.Dict({"markers": [], "arrows": [], "lines": []}).tag(sync=True)
    picked = traitlets.Unicode("").tag(sync=True)

    def show(
        self,
        labels: Sequence[str],
        places_m: np.ndarray,
        landmarks: Mapping[str, str],
        arrows: Sequence[dict[str, Any]],
        joined: Sequence[tuple[str, str]] = (),
    ) -> None:
        """Draw the markers of one frame.

        Parameters
        ----------
        labels : sequence of str
            Labels of the k markers.
        places_m : numpy.ndarray, (k, 3)
            Positions (m): toward the target, up, to the right of the target; NaN if a marker is not seen.
        landmarks : mapping
            Label -> landmark that it is assigned to.
        arrows : sequence of dict
            Arrows to draw, each a dict: words (its label), from and to (positions in m), dash (whether it is
            dashed).
        joined : sequence of (str, str)
            Pairs of landmarks that are connected by a line.
        """
        seen = np.isfinite(places_m).all(axis=1)
        markers = [
            {"label": label, "place": [float(v) for v in place], "landmark": landmarks.get(label, "")}
            for label, place, is_seen in zip(labels, places_m, seen, strict=True)
            if is_seen
        ]
        places = {marker["landmark"]: marker["place"] for marker in markers}
        lines = [[places[one], places[other]] for one, other in joined if one in places and other in places]
        self.body = {"markers": markers, "arrows": list(arrows), "lines": lines}
