"""Widget with a figure in which each mark is a swing; the swing under the pointer is named, and a click picks it."""

from __future__ import annotations

import io
from typing import Any

import anywidget
import traitlets
from matplotlib.axes import Axes

from swinglab.controls.html import NARROWEST
from swinglab.figures.points import points_in_picture, points_script, points_style

_PIXELS_AN_INCH = 112

_MOUNT = """
function handOver(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

function render({ model, el }) {
  const image = document.createElement("img");
  const row = document.createElement("div");
  const save = (words, how) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "swinglab-save";
    button.textContent = words;
    button.addEventListener("click", how);
    row.append(button);
  };
  const png = () => new Blob([model.get("png")], { type: "image/png" });
  save("Picture (PNG)", () => handOver(png(), `${model.get("name")}.png`));
  save("Picture (SVG)", () => model.send({ wanted: "svg" }));
  model.on("msg:custom", (message) => {
    if (message.svg) handOver(new Blob([message.svg], { type: "image/svg+xml" }), `${model.get("name")}.svg`);
  });
  let address = "";
  const draw = () => {
    URL.revokeObjectURL(address);
    address = URL.createObjectURL(png());
    const root = document.createElement("div");
    const frame = document.createElement("div");
    frame.style.overflowX = "auto";
    frame.append(root);
    root.style.maxWidth = "none";
    root.style.width = `max(${NARROWEST * model.get("width")}px, min(100%, ${model.get("width")}px))`;
    image.src = address;
    image.alt = model.get("alt");
    image.style.width = `${model.get("width")}px`;
    root.append(image);
    new PointPicture(root, model.get("points"), (swing) => {
      model.set("picked", "");
      model.set("picked", swing);
      model.save_changes();
    });
    el.replaceChildren(frame, row);
  };
  draw();
  model.on("change:png", draw);
}

export default { render };
"""


class PointPicture(anywidget.AnyWidget):
    """Widget with a figure in which each mark is a swing.

    Attributes
    ----------
    picked : str
        Name of the swing that was picked last by a click or by Enter; empty before the first.
    """

    _esm = points_script() + f"const NARROWEST = {NARROWEST};\n" + _MOUNT
    _css = points_style() + ".swinglab-save { margin: 4px 8px 4px 0; font: 13px system-ui, sans-serif; }"
    png = traitlets.Bytes().tag(sync=True)
    points: traitlets.List = traitlets.List().tag(sync=True)
    alt = traitlets.Unicode().tag(sync=True)
    name = traitlets.Unicode("figure").tag(sync=True)
    width = traitlets.Int().tag(sync=True)
    picked = traitlets.Unicode().tag(sync=True)

    def __init__(self) -> None:
        self._axes: Axes | None = None
        super().__init__()
        self.on_msg(self._asked)

    def show(self, axes: Axes, alt: str, name: str = "figure") -> None:
        """Show a figure and set `picked` to empty.

        Parameters
        ----------
        axes : matplotlib.axes.Axes
        alt : str
            Description of the figure for screen readers.
        name : str
            File name, without extension, for saving the figure from the page.
        """
        self._axes = axes
        png = self.picture("png")
        points = [list(point) for point in points_in_picture(axes)]
        with self.hold_sync():
            self.alt, self.name, self.points, self.picked = alt, name, points, ""
            self.width = round(_PIXELS_AN_INCH * axes.figure.get_figwidth())  # type: ignore[union-attr]
            self.png = png

    def picture(self, kind: str) -> bytes:
        """Return the figure as the bytes of a file; `kind` is "png" or "svg"."""
        assert self._axes is not None
        buffer = io.BytesIO()
        metadata = {"Software": None} if kind == "png" else {"Date": None}
        self._axes.figure.savefig(buffer, format=kind, dpi=140, metadata=metadata)  # type: ignore[union-attr]
        return buffer.getvalue()

    def _asked(self, widget: Any, content: dict, buffers: Any) -> None:
        if content.get("wanted") == "svg":
            self.send({"svg": self.picture("svg").decode("utf-8")})
