"""Outcomes of another device in the command `begin`: [measured] is proposed and rows are matched to swings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.begin.axes import way_at_ball
from swinglab.begin.device_columns import NO_DIRECTION, DeviceTable, find_device_table, measured_text
from swinglab.begin.device_matching import CORRELATION, FEWEST, Known, propose_rows
from swinglab.begin.motion import FoundSwing
from swinglab.begin.people import Key
from swinglab.begin.rows import existing_swings
from swinglab.begin.study_file import FILE as STUDY_FILE
from swinglab.begin.study_file import read_document
from swinglab.begin.survey import Looked, Survey, axes_of
from swinglab.conventions import axis_vector
from swinglab.errors import SwinglabError
from swinglab.study.csv_tables import guard, read_numbers
from swinglab.study.device_outcomes import (
    MATCH_FILE,
    Device,
    column_name,
    device_table,
    factor,
    match_words,
    matched_rows,
    needs_direction,
    read_device,
)
from swinglab.whole_file import replace_text

_SPEEDS = ("measured_clubhead_speed_mps", "measured_ball_speed_mps")


def device_lines(folder: Path, found: Survey, key: Key) -> list[str]:
    """Write a proposed section [measured] if the study folder has a table of another device, and match its rows.

    The section is added to study.toml if it has none; the matched rows are written to measured_rows.csv. Existing
    contents are not changed.

    Returns
    -------
    list of str
        Lines that say which columns were recognised, how rows were matched, and what is unmatched or undecided, or the
        fault that was found.
    """
    try:
        document = read_document(folder).unwrap()
        if "measured" not in document:
            return _propose(folder, found, key)
        device = read_device(document, [])
        if device is None:
            return []
        table = device_table(folder, device)
        swings = known_swings(existing_swings(folder), found.captures)
        place, how = _matched(folder, device, table, swings, key)
        return [_how_matched(device, table, swings, place, how)]
    except SwinglabError as fault:
        return [f"outcomes of another device: {fault}"]


def _propose(folder: Path, found: Survey, key: Key) -> list[str]:
    """Append [measured] to study.toml for the table that contains outcomes; return lines that say what was found."""
    swings = known_swings(existing_swings(folder), found.captures)
    files = [one.name for one in found.captures]
    golfers = {one.whose.golfer for one in found.captures} | {
        n for (kind, n) in key.codes if kind == "golfer" and n
    }
    proposal, lines = find_device_table(
        folder, [s.name for s in swings], files, sorted(golfers), _clubhead_speed(found)
    )
    if proposal is None:
        return lines
    place, how = _matched(folder, proposal.device, proposal.table, swings, key, proposal.names_captures)
    proposal = with_directions(proposal, place, headings(existing_swings(folder), found))
    device = proposal.device
    if device.outcomes:
        text = (folder / STUDY_FILE).read_text(encoding="utf-8-sig")
        replace_text(folder / STUDY_FILE, text.rstrip("\n") + "\n" + measured_text(proposal))
        lines.append(f"{STUDY_FILE}: added [measured], from {device.file}: check each column")
    else:
        lines.append(
            f"{device.file} may contain outcomes of another device, but none is certain: [measured] was not written"
        )
    lines += [f"  {one.words()}; {proposal.whys[one.name]}" for one in device.outcomes]
    lines += [f"  open: {one.name} from {one.column!r}; {why}" for one, why in proposal.open]
    return [*lines, _how_matched(device, proposal.table, swings, place, how)]


def _clubhead_speed(found: Survey) -> float:
    """Return the median over swings of the clubhead's greatest speed, m/s; NaN where no capture has a clubhead."""
    speeds = [
        s.speed_mps
        for one in found.captures
        if one.body and "clubhead" in one.body.points
        for s in one.swings
    ]
    return float(np.median(speeds)) if speeds else float("nan")


def _how_matched(
    device: Device, table: pd.DataFrame, swings: Sequence[Known], place: Mapping[str, int], how: str
) -> str:
    return f"outcomes of {device.file}, {how}: {match_words([s.name for s in swings], table, place)}"


def _matched(
    folder: Path,
    device: Device,
    table: pd.DataFrame,
    swings: Sequence[Known],
    key: Key,
    names_captures: str = "",
) -> tuple[dict[str, int], str]:
    """Return swing -> row and how it was matched: by names of swings or captures, otherwise by clock or order."""
    place = matched_rows(folder, device, table, pd.DataFrame({"swing": [s.name for s in swings]}))
    if device.swing:
        return place, "matched by name"
    free = [s for s in swings if s.name not in place]
    if names_captures:
        new, how = _by_capture(folder, table[names_captures], free), "matched by the captures' names"
    else:
        taken = set(place.values())
        rows = [r for r in known_rows(table, device, key) if int(r.name) not in taken]
        new, how = propose_rows(free, rows)
    if new:
        place = {**place, **new}
        lines = ["swing,row", *(f"{guard(swing)},{row + 2}" for swing, row in place.items())]
        replace_text(folder / MATCH_FILE, "\n".join(lines) + "\n")
    return place, how if new or not place else f"matched by {MATCH_FILE}"


def _by_capture(folder: Path, cells: pd.Series, swings: Sequence[Known]) -> dict[str, int]:
    """Match swings by the path, name or stem of their file; files with several swings are left unmatched."""
    of_file = {row["swing"]: row.get("capture", "") for row in existing_swings(folder)}
    alone = Counter(of_file.values())
    found = {}
    for swing in swings:
        name = of_file.get(swing.name, "")
        rows = np.flatnonzero(cells.isin({name, Path(name).name, Path(name).stem} - {""}))
        if len(rows) == 1 and alone[name] == 1:
            found[swing.name] = int(rows[0])
    return found


def headings(rows: Sequence[Mapping[str, str]], found: Survey) -> dict[str, float]:
    """Return swing -> direction of the clubhead at the ball, deg, positive to the right of the target.

    Only swings whose lab axes are known are included. rows : the rows of swings.csv.
    """
    made = {}
    for row, (one, swing) in zip(rows, swings_of_rows(rows, found.captures), strict=True):
        if one is None or one.body is None or swing is None:
            continue
        up, target = axes_of(found.labs.get(one.whose.session, found.labs[""]))
        if up is None or target is None:
            continue
        way = way_at_ball(one.body, swing, up)
        if way is not None:
            right = way @ np.cross(axis_vector(target), axis_vector(up))
            made[row["swing"]] = float(np.degrees(np.arctan2(right, way @ axis_vector(target))))
    return made


def with_directions(
    proposal: DeviceTable, place: Mapping[str, int], right_deg: Mapping[str, float]
) -> DeviceTable:
    """Return the proposed table with the positive direction (left or right) of sideways outcomes added.

    The sign of club path is found by comparison with the clubhead directions in the captures; other sideways outcomes
    are assumed to have the same sign. If the comparison is not clear, the directions stay undecided.

    Parameters
    ----------
    proposal : DeviceTable
    place : mapping
        Swing -> row of the table.
    right_deg : mapping
        Swing -> direction of the clubhead at the ball, from `headings`.
    """
    path = column_name("club_path_in_to_out_deg")
    way = next((one.positive for one in proposal.device.outcomes if one.name == path), "")
    why = "likely: the same positive direction as the table's club path"
    asked = next((one for one, _ in proposal.open if one.name == path and one.unit), None)
    if asked is not None:
        way = _direction(proposal.table[asked.column], place, right_deg)
    if not way:
        return proposal
    outcomes, whys, still = list(proposal.device.outcomes), dict(proposal.whys), []
    for one, reason in proposal.open:
        if one.positive or not one.unit or not needs_direction(one.name) or reason != NO_DIRECTION:
            still.append((one, reason))
            continue
        outcomes.append(replace(one, positive=way))
        whys[one.name] = f"positive {way}, likely: this agrees with the captures" if one is asked else why
    return replace(
        proposal, device=replace(proposal.device, outcomes=tuple(outcomes)), whys=whys, open=tuple(still)
    )


def _direction(cells: pd.Series, place: Mapping[str, int], right_deg: Mapping[str, float]) -> str:
    """Return "right" or "left" by the correlation with the captures' headings; "" where neither is clear."""
    numbers = read_numbers(cells).numbers
    both = (
        []
        if numbers is None
        else [(numbers.iloc[place[s]], own) for s, own in right_deg.items() if s in place]
    )
    values = np.array([pair for pair in both if np.isfinite(pair).all()]).reshape(-1, 2)
    if len(values) < FEWEST or (values.std(axis=0) == 0).any():
        return ""
    r = float(np.corrcoef(values.T)[0, 1])
    return ("right" if r > 0 else "left") if abs(r) >= CORRELATION else ""


def swings_of_rows(
    rows: Sequence[Mapping[str, str]], captures: Sequence[Looked]
) -> list[tuple[Looked | None, FoundSwing | None]]:
    """Return the capture and the swing in it that each row of swings.csv describes.

    The swing is the one whose greatest speed lies between the row's from_s and to_s. A row with neither of them
    describes the swing of its capture if it is the capture's only row. The swing is None where no swing, or more than
    one, fits the row; the capture is None if it was not found.
    """
    by_capture = {one.name: one for one in captures}
    rows_of = Counter(row.get("capture", "") for row in rows)
    found = []
    for row, from_s, to_s in zip(rows, _cells(rows, "from_s"), _cells(rows, "to_s"), strict=True):
        name = row.get("capture", "")
        one = by_capture.get(name)
        whole = np.isnan(from_s) and np.isnan(to_s)
        fits = [
            swing
            for swing in (one.swings if one is not None else ())
            if not swing.peak_s < from_s and not swing.peak_s > to_s
        ]
        certain = len(fits) == 1 and (rows_of[name] == 1 or not whole)
        found.append((one, fits[0] if certain else None))
    return found


def _cells(rows: Sequence[Mapping[str, str]], name: str) -> np.ndarray:
    """Return a column of numbers; NaN where a cell is empty, and everywhere if the column is not one of numbers."""
    numbers = read_numbers(pd.Series([row.get(name, "") for row in rows], dtype=object)).numbers
    return np.full(len(rows), np.nan) if numbers is None else numbers.to_numpy(float)


def known_swings(rows: Sequence[Mapping[str, str]], captures: Sequence[Looked]) -> list[Known]:
    """Return the greatest speed and the clock time of the swings in swings.csv, for matching, in the order of its rows.

    Swings that are excluded are left out. The column `recorded` of swings.csv is the clock time at which a
    capture begins; without it, the swings have times only if all of them are in one capture.
    """
    one_file = len({row.get("capture") for row in rows}) == 1
    found = []
    for row, (_, swing) in zip(rows, swings_of_rows(rows, captures), strict=True):
        began = (
            _seconds(pd.Series([row.get("recorded", "")]))[0]
            if row.get("recorded")
            else (0.0 if one_file else np.nan)
        )
        if row.get("exclude"):
            continue
        peak = np.nan if swing is None else swing.peak_s
        found.append(
            Known(
                row["swing"],
                row.get("golfer", ""),
                began + peak,
                np.nan if swing is None else swing.speed_mps,
            )
        )
    return found


def known_rows(table: pd.DataFrame, device: Device, key: Key) -> list[Known]:
    """Return the golfer, the clock time and the speed of each row of a device's table, for matching.

    The name of a row is its number, counted from 0.
    """
    golfers = table[device.golfer] if device.golfer in table.columns else pd.Series([""] * len(table))
    times = _seconds(table[device.time]) if device.time in table.columns else np.full(len(table), np.nan)
    speeds = _speeds(table, device)
    codes = {name: code for (kind, name), code in key.codes.items() if kind == "golfer"}
    return [
        Known(str(k), codes.get(golfer, golfer), float(times[k]), float(speeds[k]))
        for k, golfer in enumerate(golfers)
    ]


def _speeds(table: pd.DataFrame, device: Device) -> np.ndarray:
    for wanted in _SPEEDS:
        for outcome in device.outcomes:
            if outcome.name == wanted and outcome.column in table.columns:
                numbers = read_numbers(table[outcome.column]).numbers
                if numbers is not None:
                    return numbers.to_numpy(float) * (
                        factor(outcome.unit, columns.column(wanted).unit) or np.nan
                    )
    return np.full(len(table), np.nan)


def _seconds(cells: pd.Series) -> np.ndarray:
    """Return clock times in seconds: numbers as they are, other cells parsed as date or time; NaN if unreadable."""
    numbers = read_numbers(cells.astype(str)).numbers
    if numbers is not None:
        return numbers.to_numpy(float)
    moments = pd.to_datetime(cells, errors="coerce", format="mixed")
    return (moments - pd.Timestamp("2000-01-01")).dt.total_seconds().to_numpy(float)
