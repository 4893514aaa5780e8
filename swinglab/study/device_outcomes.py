"""Outcomes measured by another device: [measured] in study.toml, the device's table, and the swing of each row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.errors import SwinglabError, near_names, shortened
from swinglab.study.csv_tables import read_numbers, read_sheet
from swinglab.study.setting_keys import Check, one_of, text, yes_no

FILE = "study.toml"
#: Table (swing, row) that assigns rows of the device's table to swings, where no column names the swing.
MATCH_FILE = "measured_rows.csv"

#: Factors from other units to the unit that swinglab uses, by kind of quantity.
_LENGTHS_M = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048, "yd": 0.9144}
_SPEEDS_MPS = {"mps": 1.0, "m/s": 1.0, "kmh": 1 / 3.6, "km/h": 1 / 3.6, "mph": 0.44704, "ft/s": 0.3048}
_ANGLES_DEG = {"deg": 1.0, "rad": 180 / np.pi}
_RATES_RPM = {"rpm": 1.0, "rev/s": 60.0}
_KINDS = (_LENGTHS_M, _SPEEDS_MPS, _ANGLES_DEG, _RATES_RPM)
#: Other spellings of these units in the tables of devices.
_SPELLINGS = {
    "millimetres": "mm", "millimeters": "mm", "centimetres": "cm", "centimeters": "cm", "metres": "m", "meters": "m",
    "inch": "in", "inches": "in", '"': "in", "feet": "ft", "yds": "yd", "yards": "yd", "kph": "km/h", "fps": "ft/s",
    "degrees": "deg", "degree": "deg", "\N{DEGREE SIGN}": "deg", "radians": "rad",
}  # fmt: skip
#: Positive directions that a device may use, with the sign that converts them to the kit's convention.
_SIGNS = {"up": 1.0, "down": -1.0, "in-to-out": 1.0, "out-to-in": -1.0, "toe": 1.0, "heel": -1.0, "target": 1.0,
          "away from target": -1.0}  # fmt: skip
_SIDES = ("right", "left")
#: Correlation with the kit's own value below which a warning on the sign of an outcome is given.
_OTHER_WAY = -0.5

_DEVICE = {"file": text, "swing": text, "time": text, "golfer": text}
_OUTCOME = {
    "column": text, "unit": text, "positive": one_of(*_SIGNS, *_SIDES), "modelled": yes_no,
    "at": text, "point": text,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class DeviceOutcome:
    """An outcome that another device measured, such as its attack angle.

    name : name of the outcome; its column in the swing table begins with measured_. column, unit, positive : column,
    unit and positive direction in the device's table. modelled : whether the device computes it from a model instead
    of measuring it. at, point : the instant, and the point of the club, at which it is measured, if known.
    """

    name: str
    column: str
    unit: str
    positive: str = ""
    modelled: bool = False
    at: str = ""
    point: str = ""

    def words(self) -> str:
        """Return the outcome in words: its name, column and unit in the device's table, and other known details."""
        how = "modelled by the device" if self.modelled else "measured"
        where = ", ".join(part for part in (self.at, self.point) if part)
        return f"{self.name} from {self.column!r} ({self.unit}), {how}" + (f", {where}" if where else "")


@dataclass(frozen=True, slots=True)
class Device:
    """The section [measured] of study.toml: another device's table and its outcomes.

    file : name of the table in the study folder. swing : its column with names of swings; empty if measured_rows.csv
    assigns rows to swings. time, golfer : its columns of clock times and of golfers, which help to match rows; empty
    if there are none. outcomes : the outcomes in the table.
    """

    file: str
    outcomes: tuple[DeviceOutcome, ...]
    swing: str = ""
    time: str = ""
    golfer: str = ""


def read_device(raw: Mapping[str, Any], faults: list[SwinglabError]) -> Device | None:
    """Return the section [measured] of a parsed study.toml; None if there is none, or if it has no file or outcome.

    Faults are appended to the list `faults`.
    """
    section = raw.get("measured")
    if section is None:
        return None
    if not isinstance(section, dict):
        faults.append(_fault("measured", "must be written as a section [measured]"))
        return None
    good: dict[str, Any] = {}
    for key, value in section.items():
        if key == "outcomes":
            continue
        wrong = _fault_of_key(f"[measured] {key}", key, value, _DEVICE)
        if wrong:
            faults.append(wrong)
        else:
            good[key] = value
    if "file" not in section:
        faults.append(_fault("[measured]", "the key file is missing", 'add file = "device.csv"'))
    outcomes = section.get("outcomes", {})
    if not isinstance(outcomes, dict) or not outcomes:
        faults.append(
            _fault(
                "[measured.outcomes]", "the section has no outcome", "add a section [measured.outcomes.NAME]"
            )
        )
        return None
    found = [one for name, own in outcomes.items() if (one := _outcome(name, own, faults)) is not None]
    return Device(outcomes=tuple(found), **good) if "file" in good else None


def _outcome(name: str, own: Any, faults: list[SwinglabError]) -> DeviceOutcome | None:
    where = f"[measured.outcomes.{name}]"
    full = column_name(name)
    if full not in columns.MEASURED:
        known = [known.removeprefix("measured_") for known in columns.MEASURED]
        faults.append(
            _fault(where, "there is no outcome of this name", near_names(name, known) or "check the spelling")
        )
        return None
    if not isinstance(own, dict):
        faults.append(_fault(where, f"must be written as a section {where}"))
        return None
    before = len(faults)
    for key, value in own.items():
        wrong = _fault_of_key(f"{where} {key}", key, value, _OUTCOME)
        if wrong:
            faults.append(wrong)
    lacking = [key for key in ("column", "unit") if key not in own]
    if lacking:
        faults.append(
            _fault(where, f"this section has no key {' and no key '.join(lacking)}", "add what is missing")
        )
    sideways = needs_direction(full)
    if not lacking and factor(str(own["unit"]), columns.column(full).unit) is None:
        unit = columns.column(full).unit
        faults.append(
            _fault(
                f"{where} unit",
                f"the unit {own['unit']!r} cannot be converted to {unit}",
                f"use {units_for(unit)}",
            )
        )
    if sideways and "positive" not in own:
        faults.append(
            _fault(
                where, "the positive direction is missing", 'add positive = "right" (or "left", "in-to-out")'
            )
        )
    if own.get("positive") in _SIDES and not sideways:
        what = f"{own['positive']} cannot be positive, because this outcome has no left and right"
        faults.append(_fault(f"{where} positive", what))
    return DeviceOutcome(full, **own) if len(faults) == before else None


def column_name(outcome: str) -> str:
    """Return the name of the swing table's column for an outcome of another device; it begins with measured_."""
    return outcome if outcome.startswith("measured_") else f"measured_{outcome}"


def needs_direction(name: str) -> bool:
    """Return whether an outcome is a direction to the left or right, whose sign differs between devices."""
    return "in_to_out" in name or "tilt" in name


def unit_of_words(text: str) -> str:
    """Return the unit that a text means, as it is spelled in [measured]; empty if the text is not a unit.

    Examples
    --------
    >>> unit_of_words("Yds"), unit_of_words("mph"), unit_of_words("speed")
    ('yd', 'mph', '')
    """
    bare = text.strip().strip("()[]").lower()
    bare = _SPELLINGS.get(bare, bare)
    return bare if any(bare in kind for kind in _KINDS) else ""


def units_row(table: pd.DataFrame) -> dict[str, str]:
    """Return column -> unit if the first line below the table's header contains only units, otherwise an empty dict."""
    if table.empty:
        return {}
    found = {str(name): unit_of_words(cell) for name, cell in table.iloc[0].items() if cell}
    return found if found and all(found.values()) else {}


def factor(unit: str, into: str) -> float | None:
    """Return the factor that converts a value from `unit` to `into`; None if they are units of different quantities."""
    for kind in _KINDS:
        if unit in kind and into in kind:
            return kind[unit] / kind[into]
    return None


def units_for(into: str) -> str:
    """Return a list, as text, of the units that can be converted to `into`."""
    return " or ".join(next((tuple(kind) for kind in _KINDS if into in kind), (into,)))


def _fault(where: str, what: str, do: str | None = None) -> SwinglabError:
    return SwinglabError(what, file=FILE, where=where, do=do)


def _fault_of_key(where: str, key: str, value: object, checks: Mapping[str, Check]) -> SwinglabError | None:
    """Return the fault of a key of study.toml or of its value; None if there is none.

    checks : known key -> function from a value to a text that says what is wrong with it, or None.
    """
    if key not in checks:
        return _fault(where, "this key is not known", near_names(key, checks) or "remove it")
    wrong = checks[key](value)
    return _fault(where, wrong) if wrong else None


def join_device(
    folder: Path, device: Device | None, swings: pd.DataFrame, golfers: pd.DataFrame, faults: list[SwinglabError],
    notes: list[str],
) -> pd.DataFrame:  # fmt: skip
    """Return the table of swings.csv with another device's outcomes as further columns.

    They have swinglab's units and positive directions. The value is NaN for a swing without a row in the device's
    table. Rows without a swing and swings without a row are listed in a note; they are never matched by guessing.

    Parameters
    ----------
    folder : Path
        The study folder.
    device : Device or None
        The section [measured]; with None the table is returned unchanged.
    swings, golfers : pandas.DataFrame
        The tables swings.csv and golfers.csv.
    faults, notes : list
        Faults, and notes for the user, are appended to these lists.
    """
    if device is None:
        return swings
    try:
        table = device_table(folder, device, faults)
        place = matched_rows(folder, device, table, swings)
    except SwinglabError as fault:
        faults.append(fault)
        return swings
    clash = [one.name for one in device.outcomes if one.name in swings.columns]
    for name in clash:
        faults.append(
            SwinglabError(
                f"the column {name} is given twice: in swings.csv and under [measured]",
                file="swings.csv",
                do="remove one of them",
            )
        )
    hands = golfers.drop_duplicates("golfer").set_index("golfer")["hand"]
    hand = swings["hand"] if "hand" in swings.columns else swings["golfer"].map(hands)
    rows = swings["swing"].map(place)
    made = swings.copy()
    for outcome in device.outcomes:
        if outcome.name in clash or outcome.column not in table.columns:
            continue
        numbers = read_numbers(table[outcome.column]).numbers
        if numbers is None:
            faults.append(
                SwinglabError(
                    "the cells of this column cannot be read as numbers",
                    file=device.file,
                    where=outcome.column,
                    do="write numbers with a decimal point, and leave the cells without a value empty",
                )
            )
            continue
        scale = factor(outcome.unit, columns.column(outcome.name).unit) or np.nan
        value = rows.map(numbers) * scale * _SIGNS.get(outcome.positive, 1.0)
        if outcome.positive in _SIDES:  # to the right of the target line is away from a right-hander
            value *= np.where((hand == "left") == (outcome.positive == "right"), -1.0, 1.0)
        made[outcome.name] = value.astype(float)
    notes.append(f"{device.file}: {match_words(list(swings['swing']), table, place)}")
    return made


def match_words(swings: Sequence[str], table: pd.DataFrame, place: Mapping[str, int]) -> str:
    """Return a text that says how swings and rows of another device's table were matched.

    It says how many swings have a row, which have none, and which rows with data belong to no swing. swings : names of
    the swings. table : the device's table. place : swing -> its row in `table`, from 0.
    """
    without = [name for name in swings if name not in place]
    taken = {place[name] for name in swings if name in place}
    filled = np.flatnonzero((table != "").any(axis=1))
    left = [str(row + 2) for row in filled if row not in taken]
    words = f"{len(swings) - len(without)} of {len(swings)} swings have a row"
    words += f"; swings without a row: {shortened(without)}" if without else ""
    return words + (f"; rows that belong to no swing: {shortened(left)}" if left else "")


def agreement_lines(table: pd.DataFrame) -> list[str]:
    """Return the agreement of another device with swinglab in words, one line for each outcome that both measured.

    Each line gives mean and SD over swings of the difference (device minus swinglab), and the correlation. The command
    `validate` estimates limits of agreement that account for differences between golfers.
    """
    lines = []
    for name, column in {**columns.STRIKES, **columns.DELIVERIES}.items():
        measured = column_name(name)
        if name not in table or measured not in table:
            continue
        both = table[[measured, name]].astype(float).dropna()
        if both.empty:
            continue
        off = both[measured] - both[name]
        unit, decimals = columns.UNIT_WORDS.get(column.unit, column.unit), columns.UNIT_DECIMALS[column.unit]
        line = f"{column.label}, device minus kit: mean {off.mean():+.{decimals}f} {unit}"
        if len(both) > 1:
            line += f", SD {off.std(ddof=1):.{decimals}f}"
        if len(both) > 2 and (both.std() > 0).all():
            r = float(np.corrcoef(both.to_numpy().T)[0, 1])
            line += f", correlation {r:.2f}" + (
                "; check the key positive of this outcome, because the device may use the opposite sign"
                if r < _OTHER_WAY
                else ""
            )
        lines.append(f"{line} ({len(both)} swing{'' if len(both) == 1 else 's'})")
    return lines


def device_table(folder: Path, device: Device, faults: list[SwinglabError] | None = None) -> pd.DataFrame:
    """Read another device's table with all cells as text; a line of units below the header is emptied.

    For each column that [measured] names and the table lacks, a fault is appended to `faults`, if this list is given.

    Raises
    ------
    SwinglabError
        The file is outside the study folder, is missing, or cannot be read as a table.
    """
    path = (folder / device.file).resolve()
    if not path.is_relative_to(folder.resolve()):
        raise SwinglabError(
            "the device's table is outside the study folder",
            file=device.file,
            do="move this file into the study folder",
        )
    table = read_sheet(path, shown=device.file)
    if units_row(table):  # the line stays, so that rows keep the numbers a spreadsheet shows
        table.iloc[0] = ""
    named = [device.swing, device.time, device.golfer, *(one.column for one in device.outcomes)]
    if faults is not None:
        for name in [name for name in named if name and name not in table.columns]:
            do = near_names(name, table.columns) or "correct it under [measured]"
            faults.append(SwinglabError(f"the device's table has no column {name}", file=device.file, do=do))
    return table


def matched_rows(folder: Path, device: Device, table: pd.DataFrame, swings: pd.DataFrame) -> dict[str, int]:
    """Return swing -> row (from 0) of another device's table, matched by names or by measured_rows.csv.

    Swings without a row are left out.

    Raises
    ------
    SwinglabError
        A swing has more than one row, or measured_rows.csv is not valid.
    """
    if device.swing and device.swing in table.columns:
        names = table[device.swing]
        twice = sorted(set(names[names.duplicated() & (names != "")]) & set(swings["swing"]))
        if twice:
            raise SwinglabError(f"swings with more than one row: {shortened(twice, most=5)}",
                file=device.file, where=device.swing,
                                do="keep one row for each swing")  # fmt: skip
        known = set(swings["swing"])
        return {name: row for row, name in enumerate(names) if name in known}
    if not (folder / MATCH_FILE).is_file():
        return {}
    pairs = read_sheet(folder / MATCH_FILE, shown=MATCH_FILE)
    lacking = [name for name in ("swing", "row") if name not in pairs.columns]
    if lacking:
        raise SwinglabError(
            f"the column {lacking[0]} is missing",
            file=MATCH_FILE,
            do="give the file the columns swing and row",
        )
    numbers = pd.to_numeric(pairs["row"], errors="coerce")
    bad = numbers.isna() | (numbers < 2) | (numbers > len(table) + 1)
    if bad.any() or pairs["swing"].duplicated().any() or numbers.duplicated().any():
        raise SwinglabError(
            f"each row must be a row number of {device.file} (2 is the first row below its header), and each swing "
            "and each row may appear only once",
            file=MATCH_FILE,
            do="correct or remove the lines that are wrong",
        )
    return {swing: int(row) - 2 for swing, row in zip(pairs["swing"], numbers, strict=True)}
