"""What every notebook of the kit loads before its first picture, loaded before a notebook asks for it."""

from __future__ import annotations

from importlib import import_module
from io import BytesIO

from matplotlib.figure import Figure


def prepare() -> None:
    """Load what is loaded only when first used: distributions, fonts and the drawing of a figure with its words."""
    import_module("scipy.stats")
    figure = Figure(figsize=(2.0, 2.0), layout="constrained")
    ax = figure.subplots()
    ax.plot([0, 1], [0, 1], "o-", label="one")
    ax.set_xlabel("angle (deg)")
    ax.legend()
    figure.savefig(BytesIO(), format="png")
