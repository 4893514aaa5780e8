"""HTML of notebook panels: messages, tables, findings and figures, with all text escaped."""

from __future__ import annotations

import base64
import html
import io
from collections.abc import Sequence

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from swinglab import columns
from swinglab.finding_words import OF_THE_FIT
from swinglab.records import Finding
from swinglab.report import wording

_PIXELS_AN_INCH = 112
#: On a narrow page a figure shrinks to this share and then scrolls: its text stays at 11 pixels.
NARROWEST = 0.72
#: Style of an element that scrolls: it is no wider than the page, even if its content is.
_NO_WIDER = "width: 0; min-width: 100%"

CAUTION = f'<p class="caution" style="line-height: 1.4; max-width: 60em">{html.escape(wording.CAUTION)}</p>'


def message(text: str) -> str:
    """Return an error message as HTML that a screen reader reads at once; line breaks are kept."""
    if not text:
        return ""
    look = "border-left: 4px solid #444; padding: 4px 10px; white-space: pre-wrap; line-height: 1.4"
    return f'<div role="alert" style="{look}">{html.escape(text)}</div>'


def typed(text: object, fault: Exception) -> str:
    """Return as text what a user typed and, on the next line, the message of the error that it caused."""
    return f"{text}\n{fault}" if str(text).strip() else str(fault)


def heading(text: str) -> str:
    """Return a heading as HTML."""
    return f'<div style="font-weight: 600; line-height: 1.5">{html.escape(text)}</div>'


def lines(*texts: str) -> str:
    """Return texts as HTML paragraphs, one for each text."""
    inside = "".join(f'<p style="margin: 2px 0; line-height: 1.4">{html.escape(text)}</p>' for text in texts)
    return f'<div style="max-width: 60em">{inside}</div>'


def folded(title: str, inside: str) -> str:
    """Return a section that the reader can unfold, as HTML; `inside` is its content, as HTML."""
    return f"<details><summary>{html.escape(title)}</summary>{inside}</details>"


def column_name(name: str) -> str:
    """Return HTML with the name of a column in tables and study.toml; one click selects the name for copying."""
    return (
        '<p style="margin: 2px 0">In tables and in study.toml: '
        f'<code style="user-select: all">{html.escape(name)}</code></p>'
    )


def picture(axes: Axes, alt: str) -> str:
    """Return a figure as an HTML image; `alt` describes it for screen readers. All figures have the same text size."""
    width = round(_PIXELS_AN_INCH * axes.figure.get_figwidth())  # type: ignore[union-attr]
    buffer = io.BytesIO()
    axes.figure.savefig(buffer, format="png", dpi=140, metadata={"Software": None})  # type: ignore[union-attr]
    data = base64.b64encode(buffer.getvalue()).decode("ascii")
    look = f"width: {width}px; max-width: 100%; min-width: {NARROWEST * width:.0f}px"
    return (
        f'<div style="overflow-x: auto; {_NO_WIDER}" tabindex="0" role="group" aria-label="Figure">'
        f'<img alt="{html.escape(alt, quote=True)}" src="data:image/png;base64,{data}" style="{look}"></div>'
    )


def text(markdown: str) -> str:
    """Return a Markdown text with ``#`` headings and ``|`` tables, such as the methods text, as HTML."""
    parts, rows = [], []
    for line in [*markdown.splitlines(), ""]:
        if line.startswith("|"):
            rows.append([cell.strip() for cell in line.strip("|").split("|")])
            continue
        if rows:
            parts.append(table(pd.DataFrame(rows[2:], columns=rows[0])))
            rows = []
        parts.append(heading(line.lstrip("# ")) if line.startswith("#") else lines(line) if line else "")
    return "".join(parts)


_CELL = "text-align: left; padding: 2px 12px 2px 0; vertical-align: top; white-space: normal"
#: The heading of a column stays in sight while its table scrolls.
_STAYS = "position: sticky; top: 0; background: #fff"
#: A column with a cell of more characters than this is wide enough for a sentence; words are never broken.
_LONG = 40


def table(frame: pd.DataFrame) -> str:
    """Return a DataFrame as an HTML table that scrolls; numbers are rounded to the precision of their unit."""
    looks = [
        _CELL + ("; min-width: min(13em, 45vw)" if _is_long(frame.iloc[:, k]) else "")
        for k in range(frame.shape[1])
    ]
    head = "".join(
        f'<th scope="col" style="{look}; {_STAYS}">{html.escape(_column_words(str(n)))}</th>'
        for n, look in zip(frame.columns, looks, strict=True)
    )
    units = [_unit_of(str(name)) for name in frame.columns]
    rows = (
        "".join(
            f'<td style="{_CELL}">{html.escape(_cell(v, u))}</td>' for v, u in zip(row, units, strict=True)
        )
        for row in frame.itertuples(index=False)
    )
    body = "".join(f"<tr>{row}</tr>" for row in rows)
    look = f"overflow: auto; max-height: 42em; line-height: 1.4; border-bottom: 1px solid #bbb; {_NO_WIDER}"
    opening = f'<div tabindex="0" role="group" aria-label="Table" style="{look}">'
    return f"{opening}<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"


def _is_long(cells: pd.Series) -> bool:
    return any(isinstance(cell, str) and len(cell) > _LONG for cell in cells)


def _cell(value: object, unit: str) -> str:
    """Return the text of a cell: "" for a missing value; whole numbers without a unit have no decimals."""
    if value is None or value is pd.NA or value != value:
        return ""
    is_number = isinstance(value, int | float | np.number) and not isinstance(value, bool)
    if is_number and not unit and float(value).is_integer():  # type: ignore[arg-type]
        return f"{value:.0f}"
    return wording.value_text(value, unit)


def _unit_of(name: str) -> str:
    """Return the unit at the end of a column's name; "" if there is none."""
    ending = name.rsplit("_", 1)[-1]
    return ending if ending in columns.UNIT_DECIMALS else ""


def _column_words(name: str) -> str:
    """Return the heading of a table's column: its name with spaces, and the unit in brackets."""
    for unit, words in (("_s", "s"), ("_ms", "ms"), ("_hz", "Hz"), ("_mm", "mm")):
        if name.endswith(unit):
            return f"{name.removesuffix(unit).replace('_', ' ')} ({words})"
    return name.replace("_", " ")


def finding(lines_of_answer: Sequence[Finding], also: Sequence[str] = ()) -> str:
    """Return an answer as HTML: the primary finding as text; method and other findings can be unfolded.

    Parameters
    ----------
    lines_of_answer : sequence of Finding
        The findings of one question.
    also : sequence of str
        Further units in which the estimate is also given.
    """
    parts = []
    for line in lines_of_answer:
        if line.role == "default":
            keyed = list(zip(line.warning_keys, line.warnings, strict=True))
            of_fit = [text for key, text in keyed if key in OF_THE_FIT]
            notes = [f"Note: {text}" for key, text in keyed if key not in OF_THE_FIT]
            parts.append(heading(f"{line.name}: {line.reading}" if line.reading else line.name))
            parts.append(lines(wording.sentence(line, also), _counts(line), *notes))
            parts.append(folded("How it was answered", lines(f"Method: {line.method}.", *of_fit)))
    beside = [line for line in lines_of_answer if line.role != "default"]
    if beside:
        parts.append(folded("Other methods and the other level", _beside(beside)))
    return "".join(parts)


def _counts(line: Finding) -> str:
    effect = ""
    if line.smallest_effect == line.smallest_effect:
        effect = f"; smallest effect that matters: {line.smallest_effect:g} {wording.unit_words(line.unit)}".rstrip()
    counted = f"{wording.count(line.n_swings, 'swing')} of {wording.count(line.n_golfers, 'golfer')}"
    return f"{counted}{effect}."


def _beside(beside: Sequence[Finding]) -> str:
    rows = [
        {
            "level": line.level,
            "method": line.method,
            "outcome": wording.label(line.outcome),
            "estimate": wording.rounded(line.estimate, line),
            "95 % interval": wording.interval(line),
            "p": wording.p_value(line.p),
            "golfers": line.n_golfers,
            "swings": line.n_swings,
        }
        for line in beside
    ]
    return table(pd.DataFrame(rows))
