"""What the controls write into a page: messages, tables, findings and figures as escaped HTML."""

from __future__ import annotations

import base64
import html
import io
from collections.abc import Sequence

import pandas as pd
from matplotlib.axes import Axes

from swinglab.records import Finding
from swinglab.report import wording

_PIXELS_AN_INCH = 112

CAUTION = f'<p class="caution">{html.escape(wording.CAUTION)}</p>'


def message(text: str) -> str:
    """A message that a screen reader says at once; line breaks are kept."""
    if not text:
        return ""
    look = "border-left: 4px solid #444; padding: 4px 10px; white-space: pre-wrap; line-height: 1.4"
    return f'<div role="alert" style="{look}">{html.escape(text)}</div>'


def heading(text: str) -> str:
    """A line above a part of the page."""
    return f'<div style="font-weight: 600; line-height: 1.5">{html.escape(text)}</div>'


def lines(*texts: str) -> str:
    """Plain lines."""
    inside = "".join(f'<p style="margin: 2px 0; line-height: 1.4">{html.escape(text)}</p>' for text in texts)
    return f'<div style="max-width: 60em">{inside}</div>'


def picture(axes: Axes, alt: str) -> str:
    """A figure as an image with words for who cannot see it; letters of all figures look alike in size."""
    width = round(_PIXELS_AN_INCH * axes.figure.get_figwidth())  # type: ignore[union-attr]
    buffer = io.BytesIO()
    axes.figure.savefig(buffer, format="png", dpi=140, metadata={"Software": None})  # type: ignore[union-attr]
    data = base64.b64encode(buffer.getvalue()).decode("ascii")
    return (
        f'<img alt="{html.escape(alt, quote=True)}" src="data:image/png;base64,{data}" '
        f'style="width: {width}px; max-width: 100%">'
    )


def text(markdown: str) -> str:
    """Text with ``#`` headings, as the methods are written."""
    parts = []
    for line in markdown.splitlines():
        parts.append(heading(line.lstrip("# ")) if line.startswith("#") else lines(line) if line else "")
    return "".join(parts)


def table(frame: pd.DataFrame, *, decimals: int = 2) -> str:
    """A table; cells are escaped, missing ones left empty, whole numbers written as such."""
    shown = frame.rename(columns={name: _column_words(str(name)) for name in frame.columns})
    for name in shown.columns:
        if pd.api.types.is_float_dtype(shown[name]) and (shown[name].dropna() % 1 == 0).all():
            shown[name] = shown[name].astype("Int64")
    body = shown.to_html(
        index=False, escape=True, na_rep="", border=0, float_format=lambda v: f"{v:.{decimals}f}"
    )
    body = body.replace("&lt;NA&gt;", "").replace('<tr style="text-align: right;">', "<tr>")
    cell = 'style="text-align: left; padding: 2px 12px 2px 0; vertical-align: top"'
    body = body.replace("<td>", f"<td {cell}>").replace("<th>", f"<th {cell}>")
    return f'<div style="overflow: auto; max-height: 28em; line-height: 1.4">{body}</div>'


def _column_words(name: str) -> str:
    """Heading of a column of the tables a run leaves, its unit in brackets."""
    for unit, words in (("_s", "s"), ("_hz", "Hz"), ("_mm", "mm")):
        if name.endswith(unit):
            return f"{name.removesuffix(unit).replace('_', ' ')} ({words})"
    return name.replace("_", " ")


def finding(lines_of_answer: Sequence[Finding]) -> str:
    """The judged line of an answer in words, and the lines beside it as a table."""
    parts = []
    for line in lines_of_answer:
        if line.role == "default":
            parts.append(heading(f"{line.name}: {line.reading}" if line.reading else line.name))
            parts.append(lines(wording.sentence(line), _counts(line), *(f"Mind: {w}" for w in line.warnings)))
    beside = [line for line in lines_of_answer if line.role != "default"]
    if beside:
        parts.append(
            f"<details><summary>Other methods and the other level</summary>{_beside(beside)}</details>"
        )
    return "".join(parts)


def _counts(line: Finding) -> str:
    effect = ""
    if line.smallest_effect == line.smallest_effect:
        effect = f"; smallest effect that matters: {wording.number(line.smallest_effect)}"
    counted = f"{wording.count(line.n_swings, 'swing')} of {wording.count(line.n_golfers, 'golfer')}"
    return f"{counted}; method: {line.method}{effect}."


def _beside(beside: Sequence[Finding]) -> str:
    rows = [
        {
            "level": line.level,
            "method": line.method,
            "outcome": wording.label(line.outcome),
            "estimate": wording.number(line.estimate),
            "95 % interval": wording.interval(line),
            "p": wording.p_value(line.p),
            "golfers": line.n_golfers,
            "swings": line.n_swings,
        }
        for line in beside
    ]
    return table(pd.DataFrame(rows))
