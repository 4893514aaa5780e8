"""Detection of a table with another device's outcomes in a study folder, and of its columns by their headers."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.begin.study_file import quoted as q
from swinglab.begin.words import vocabulary
from swinglab.errors import SwinglabError
from swinglab.study.csv_tables import read_numbers, read_sheet
from swinglab.study.device_outcomes import (
    MATCH_FILE,
    Device,
    DeviceOutcome,
    column_name,
    factor,
    needs_direction,
    unit_of_words,
    units_row,
)

#: The kit's own tables in a study folder.
_OWN = {"golfers", "swings", "events_by_hand", "excluded_by_hand", Path(MATCH_FILE).stem}
#: A column of speeds without a unit gets the unit in which its median is nearest to that of the captures, if the ratio
#: of the two medians is below this limit.
_SPEED_RATIO = 1.3
#: A column is taken as that of the swings' names if it has names of at least this part of the swings, or of its rows.
_NAMES = 0.5
#: Outcomes that a device may compute from a model instead of measuring them.
_FLIGHT = ("measured_carry_m", "measured_side_in_to_out_m")
NO_DIRECTION = "the positive direction is not given"

_DIRECTIONS = (
    (r"\bright\b|\br ?\+|\+ ?r\b", "right"), (r"\bleft\b|\bl ?\+|\+ ?l\b", "left"),
    (r"\bin.?to.?out\b", "in-to-out"), (r"\bout.?to.?in\b", "out-to-in"),
    (r"\btoe\b", "toe"), (r"\bheel\b", "heel"), (r"\bdown\b", "down"), (r"\bup\b", "up"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class DeviceTable:
    """A table of swings from another measuring device, and the proposed section [measured] of study.toml.

    device : the section with the outcomes that were decided. table : the cells as text. whys : outcome -> how its unit
    and sign were found. open : outcomes that a person has to decide, each with the reason. names_captures : the column
    with names of capture files, if no column has names of swings; otherwise "".
    """

    device: Device
    table: pd.DataFrame
    whys: Mapping[str, str]
    open: tuple[tuple[DeviceOutcome, str], ...]
    names_captures: str = ""


def find_device_table(
    folder: Path, swings: Sequence[str], captures: Sequence[str], golfers: Sequence[str], speed_mps: float
) -> tuple[DeviceTable | None, list[str]]:
    """Find the table of another measuring device in a study folder; return it, and problems in words.

    It is recognised by columns whose headers are outcomes of a swing. None if no table, or more than one, has any.

    Parameters
    ----------
    folder : Path
        The study folder; tables in it that are not the kit's own are examined.
    swings, captures, golfers : sequence of str
        Names of the study's swings, names of their capture files, and codes and names of the golfers.
    speed_mps : float
        Median over swings of the clubhead's greatest speed in the captures, m/s; NaN where unknown.
    """
    found, words = [], []
    for path in sorted(folder.iterdir()):
        if (
            path.suffix.lower() not in (".csv", ".xlsx")
            or path.stem in _OWN
            or path.name.startswith((".", "~"))
        ):
            continue
        try:
            table = read_sheet(path, shown=path.name)
        except SwinglabError as fault:
            words.append(f"{path.name} cannot be read: {fault.what}")
            continue
        own = _read(path.name, table, swings, captures, golfers, speed_mps)
        if own is not None:
            found.append(own)
    if len(found) > 1:
        names = " and ".join(own.device.file for own in found)
        return None, [
            *words,
            f"several tables contain outcomes of another device: {names}; put all rows into one table",
        ]
    return (found[0] if found else None), words


def _read(
    file: str, table: pd.DataFrame, swings: Sequence[str], captures: Sequence[str], golfers: Sequence[str],
    speed_mps: float,
) -> DeviceTable | None:  # fmt: skip
    """Return a table's outcomes; None where no column is an outcome."""
    units = units_row(table)
    cells = table.iloc[1:] if units else table
    if units:  # the line of units stays as an empty row, so that row numbers are those of a spreadsheet
        table = table.copy()
        table.iloc[0] = ""
    proposals: dict[str, list[tuple[DeviceOutcome, str]]] = {}
    for name in table.columns:
        read = _outcome(str(name), units.get(str(name), ""))
        if read is not None:
            proposals.setdefault(read[0].name, []).append(read)
    if not proposals:
        return None
    sure: list[DeviceOutcome] = []
    opened: list[tuple[DeviceOutcome, str]] = []
    whys: dict[str, str] = {}
    for some in proposals.values():
        outcome, why = some[0]
        if len(some) > 1:
            opened += [(one, "more than one column has this outcome") for one, _ in some]
            continue
        numbers = read_numbers(cells[outcome.column]).numbers
        if numbers is None:
            opened.append((outcome, "the column contains cells that are not numbers"))
            continue
        if not outcome.unit:
            outcome, why = _with_unit(outcome, numbers, speed_mps, sure)
        if not outcome.unit:
            opened.append((outcome, "the unit is not given"))
        elif not outcome.positive and needs_direction(outcome.name):
            opened.append((outcome, NO_DIRECTION))
        else:
            sure.append(outcome)
            whys[outcome.name] = why
    swing, stems = _naming(cells, swings, captures)
    device = Device(file, tuple(sure), swing if not stems else "", _timed(cells), _of_golfers(cells, golfers))
    return DeviceTable(device, table, whys, tuple(opened), swing if stems else "")


def _outcome(name: str, unit: str) -> tuple[DeviceOutcome, str] | None:
    """Return the outcome that the words of a column's header name, and how its unit was found; None if they name none.

    Unit and positive direction are "" where the header does not give them. unit : the column's cell in a row of units.
    """
    known = vocabulary().outcomes
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name).lower().replace("_", " ")
    inside = " ".join(re.findall(r"[(\[]([^)\]]*)[)\]]", text))
    words = re.sub(r"[(\[][^)\]]*[)\]]", " ", text).split()
    if not inside and len(words) > 1 and unit_of_words(words[-1]):
        inside, words = words[-1], words[:-1]
    stem = known.get(frozenset(words))
    if stem is None:
        return None
    wanted = columns.MEASURED[stem].unit
    given = [u for part in (unit, inside, *re.split(r"[\s,;]+", inside)) if (u := unit_of_words(part))]
    way = next((way for pattern, way in _DIRECTIONS if re.search(pattern, text)), "")
    fits = next((u for u in given if factor(u, wanted) is not None), "")
    why = "unit from the header" if fits else ""
    if not fits and wanted in ("deg", "rpm"):
        fits, why = wanted, f"{wanted}, the usual unit of this outcome"
    way = way if needs_direction(stem) or way in ("up", "down", "toe", "heel") else ""
    return DeviceOutcome(stem, name, fits, way), why


def _with_unit(
    outcome: DeviceOutcome, numbers: pd.Series, speed_mps: float, sure: Sequence[DeviceOutcome]
) -> tuple[DeviceOutcome, str]:
    """Return a speed with the unit of the table's other speeds, or the one that fits the captures, and the reason.

    Other outcomes, and speeds for which no unit fits, are returned unchanged.
    """
    if columns.MEASURED[outcome.name].unit != "mps":
        return outcome, ""
    others = [one.unit for one in sure if columns.MEASURED[one.name].unit == "mps"]
    if others:
        return replace(outcome, unit=others[0]), "likely: the same unit as the table's other speeds"
    if outcome.name != column_name("clubhead_speed_mps") or not np.isfinite(speed_mps):
        return outcome, ""
    ratios = {unit: abs(np.log(numbers.median() * (factor(unit, "mps") or np.nan) / speed_mps))
              for unit in ("mph", "mps", "km/h")}  # fmt: skip
    unit = min(ratios, key=lambda one: ratios[one])
    if not ratios[unit] <= np.log(_SPEED_RATIO):
        return outcome, ""
    return replace(outcome, unit=unit), "likely: in this unit the speeds are near those of the captures"


def _naming(cells: pd.DataFrame, swings: Sequence[str], captures: Sequence[str]) -> tuple[str, bool]:
    """Return the column that names swings or captures' files, and whether it names files."""
    files = {part for name in captures for part in (name, Path(name).name, Path(name).stem)}
    for known, is_file in ((set(swings), False), (files, True)):
        for name in cells.columns:
            hits = int(cells[name].isin(known).sum())
            if hits >= max(1, _NAMES * min(len(cells), len(swings))):
                return str(name), is_file
    return "", False


def _timed(cells: pd.DataFrame) -> str:
    """Return the column of clock times; "" where there is none."""
    for name in cells.columns:
        if re.search(r"\b(time|clock|timestamp|recorded)\b|^date.?time", str(name).lower().replace("_", " ")):
            moments = pd.to_datetime(cells[name], errors="coerce", format="mixed")
            if moments.notna().mean() > 0.8 or read_numbers(cells[name]).numbers is not None:
                return str(name)
    return ""


def _of_golfers(cells: pd.DataFrame, golfers: Sequence[str]) -> str:
    """Return the column in which most cells are golfers' codes or names; "" where there is none."""
    shares = {str(name): float(cells[name].isin(set(golfers)).mean()) for name in cells.columns}
    best = max(shares, key=lambda name: shares[name], default="")
    return best if best and shares[best] > 0.8 else ""


def measured_text(proposal: DeviceTable) -> str:
    """Return a proposed section [measured] as lines of study.toml; undecided outcomes are commented out."""
    device = proposal.device
    lines = ["", "[measured]   # outcomes of another device, proposed by begin", f"file = {q(device.file)}"]
    for key, value in (("swing", device.swing), ("time", device.time), ("golfer", device.golfer)):
        lines += [f"{key} = {q(value)}"] if value else []
    for outcome in device.outcomes:
        lines += ["", *_outcome_lines(outcome, proposal.whys.get(outcome.name, ""))]
        if outcome.name in _FLIGHT:
            lines.append("# modelled = true   # remove the first # if the device models the flight")
    for outcome, why in proposal.open:
        asked = replace(outcome, unit=outcome.unit or "?")
        lines += ["", *(f"# {line}" for line in _outcome_lines(asked, f"open: {why}"))]
        if needs_direction(outcome.name) and not outcome.positive:
            lines.append('# positive = "right or left"')
    return "\n".join(lines) + "\n"


def _outcome_lines(outcome: DeviceOutcome, why: str) -> list[str]:
    lines = [
        f"[measured.outcomes.{outcome.name.removeprefix('measured_')}]" + (f"   # {why}" if why else ""),
        f"column = {q(outcome.column)}",
        f"unit = {q(outcome.unit)}",
    ]
    return lines + ([f"positive = {q(outcome.positive)}"] if outcome.positive else [])
