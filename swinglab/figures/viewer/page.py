"""HTML of the swing viewer for a page that needs no network and no notebook."""

from __future__ import annotations

import base64
import json
from collections.abc import Sequence
from functools import cache
from importlib.resources import files

from swinglab.figures.viewer.payload import SwingFrames, pack_swings

#: The parts of the viewer's script; each needs only those before it.
SCRIPTS = ("scene.js", "pens.js", "body.js", "saving.js", "viewer.js", "mounting.js")


@cache
def viewer_script() -> str:
    """Return the JavaScript of the viewer (an ES module); its default export draws the viewer in a notebook."""
    room = files("swinglab.figures.viewer")
    return "\n".join(room.joinpath(name).read_text(encoding="utf-8") for name in SCRIPTS)


@cache
def picker_script() -> str:
    """Return the JavaScript of the marker picker (an ES module): a stick figure on which markers can be selected."""
    room = files("swinglab.figures.viewer")
    parts = {name: room.joinpath(name).read_text(encoding="utf-8") for name in (*SCRIPTS, "picking.js")}
    shared = [text for name, text in parts.items() if name != "mounting.js"]
    return "\n".join(shared)


@cache
def viewer_style() -> str:
    """Return the CSS style sheet of the viewer."""
    return files("swinglab.figures.viewer").joinpath("viewer.css").read_text(encoding="utf-8")


def viewer_head() -> str:
    """Return the style sheet and script of the viewer as HTML; a page needs them once, for all its viewers.

    They contain no data, so they are the same for every study.
    """
    start = "for (const root of document.querySelectorAll('.swinglab-viewer-here')) mountFromPage(root);"
    return f'<style>{viewer_style()}</style>\n<script type="module">{viewer_script()}\n{start}\n</script>'


def viewer_element(swings: Sequence[SwingFrames], *, align: str = "impact", start: str = "") -> str:
    """Return one viewer as HTML, with the data of its swings.

    The page must also contain the result of `viewer_head`, once, after its viewers.

    Parameters
    ----------
    swings : sequence of SwingFrames
        One swing, or two to compare.
    align : str
        Event at time 0.
    start : str
        Event that is shown first; if it is empty or missing, address.

    Returns
    -------
    str
        HTML in which names of swings and golfers are escaped.
    """
    layout, numbers = pack_swings(swings, align=align, start=start)
    # In a script element only "<" could end it early; the others guard against old parsers.
    described = json.dumps(layout, allow_nan=False)
    for sign, code in (("<", "\\u003c"), (">", "\\u003e"), ("&", "\\u0026")):
        described = described.replace(sign, code)
    frames = base64.b64encode(numbers).decode("ascii")
    return (
        '<div class="swinglab-viewer-here">'
        f'<script type="application/json" class="layout">{described}</script>'
        f'<script type="text/plain" class="frames">{frames}</script>'
        "<noscript>The swing viewer needs JavaScript; nothing else on this page does.</noscript></div>"
    )
