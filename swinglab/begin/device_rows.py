"""Which row of another device's table belongs to which swing, where no column says it: by clock, or order and speed."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.begin.people import Key
from swinglab.begin.rows import SWINGS, existing
from swinglab.begin.survey import Looked
from swinglab.errors import SwinglabError
from swinglab.study.csv_tables import read_numbers
from swinglab.study.device_outcomes import MATCH_FILE, Device, device_table, factor, matched_rows

#: Two clocks of one swing may differ by this much, s, after their offset; speeds must correlate by this much; the best
#: alignment must be better than the next by this much (judgements).
_CLOCK_S, _CORRELATION, _MARGIN = 3.0, 0.7, 0.15
_FEWEST = 4
_SPEEDS = ("measured_clubhead_speed_mps", "measured_ball_speed_mps")


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a swing or of a row before they are matched. time_s : on its own clock; NaN where unknown."""

    name: str
    golfer: str
    time_s: float
    speed: float


def match_device(folder: Path, device: Device, captures: Sequence[Looked], key: Key) -> list[str]:
    """Propose which rows belong to which swings and write them to MATCH_FILE, beside what stands there.

    Returns
    -------
    list of str
        What was matched and how, what is left on both sides, and how both agree on speed.
    """
    table = device_table(folder, device)
    rows_there = existing(folder, SWINGS)
    swings = known_swings(rows_there, captures)
    if device.swing:
        place, how = (
            matched_rows(folder, device, table, pd.DataFrame({"swing": [s.name for s in swings]})),
            "by name",
        )
    else:
        place = matched_rows(folder, device, table, pd.DataFrame({"swing": [s.name for s in swings]}))
        rows = known_rows(table, device, key)
        free_swings = [s for s in swings if s.name not in place]
        free_rows = [r for r in rows if int(r.name) not in place.values()]
        new, how = propose_rows(free_swings, free_rows)
        if new:
            _write(folder / MATCH_FILE, {**place, **new})
            place |= new
    left = [str(k + 2) for k in range(len(table)) if k not in place.values()]
    without = [s.name for s in swings if s.name not in place]
    lines = [f"outcomes of {device.file}: {len(place)} of {len(swings)} swings have a row, {how}"]
    lines += [f"  swings without a row: {_some(without)}"] if without else []
    lines += [f"  rows that belong to no swing: {_some(left)}"] if left else []
    return lines + _agreement(device, table, swings, place)


def _some(names: Sequence[str]) -> str:
    return ", ".join(names[:10]) + (" ..." if len(names) > 10 else "")


def known_swings(rows: Sequence[Mapping[str, str]], captures: Sequence[Looked]) -> list[Known]:
    """Swings of swings.csv in the order of play, with the greatest speed in their capture and their clock time.

    A column `recorded` of swings.csv is the clock time at which the capture's file begins; else swings of one file
    alone have times.
    """
    by_capture = {one.name: one for one in captures}
    one_file = len({row.get("capture") for row in rows}) == 1
    found, counts = [], {}  # type: ignore[var-annotated]
    for row in rows:
        name = row.get("capture", "")
        number = counts.get(name, 0)
        counts[name] = number + 1
        capture = by_capture.get(name)
        swing = capture.swings[number] if capture and number < len(capture.swings) else None
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
    """Rows of the device's table with golfer, clock time and speed, where it has them; named by their place from 0."""
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
    """Clock times as seconds: numbers as they are, else dates and times of day."""
    numbers = read_numbers(cells.astype(str)).numbers
    if numbers is not None:
        return numbers.to_numpy(float)
    moments = pd.to_datetime(cells, errors="coerce", format="mixed")
    return (moments - pd.Timestamp("2000-01-01")).dt.total_seconds().to_numpy(float)


def propose_rows(swings: Sequence[Known], rows: Sequence[Known]) -> tuple[dict[str, int], str]:
    """Swing -> row by clock where both have one, else by order where the speeds agree; golfer by golfer where the
    device knows them. What is not clear stays open."""
    golfers = {row.golfer for row in rows} - {""}
    groups = [
        ([s for s in swings if s.golfer == g], [r for r in rows if r.golfer == g]) for g in sorted(golfers)
    ] or [(list(swings), list(rows))]
    found: dict[str, int] = {}
    ways = []
    for some, own in groups:
        by_clock = np.isfinite([k.time_s for k in (*some, *own)]).all() if some and own else False
        pairs = _by_clock(some, own) if by_clock else _by_order(some, own)
        ways += (
            [
                (
                    "by clock, with the clocks' offset estimated"
                    if by_clock
                    else "by order, with speeds that agree"
                )
            ]
            if pairs
            else []
        )
        found |= {some[i].name: int(own[j].name) for i, j in pairs}
    return found, " and ".join(dict.fromkeys(ways)) or "no way of matching is clear: open"


def _by_clock(swings: Sequence[Known], rows: Sequence[Known]) -> list[tuple[int, int]]:
    """Pairs of nearest times under the offset that pairs most; none where another offset pairs as many."""
    a, b = np.array([s.time_s for s in swings]), np.array([r.time_s for r in rows])
    offsets = np.unique((b[None] - a[:, None]).ravel())
    scored = sorted(
        ((len(p := _nearest(a, b, offset)), -_spread(a, b, p, offset), offset) for offset in offsets),
        reverse=True,
    )
    best = scored[0]
    rivals = [one for one in scored if abs(one[2] - best[2]) > 2 * _CLOCK_S]
    if best[0] < min(_FEWEST, len(a), len(b)) or (rivals and rivals[0][0] >= best[0]):
        return []
    pairs = _nearest(a, b, best[2])
    centre = float(np.median([b[j] - a[i] for i, j in pairs]))
    return _nearest(a, b, centre)


def _nearest(a: np.ndarray, b: np.ndarray, offset: float) -> list[tuple[int, int]]:
    """Pairs within _CLOCK_S that are each other's nearest."""
    apart = np.abs(a[:, None] + offset - b[None])
    rows, swings = apart.argmin(axis=1), apart.argmin(axis=0)
    return [(i, int(j)) for i, j in enumerate(rows) if swings[j] == i and apart[i, j] <= _CLOCK_S]


def _spread(a: np.ndarray, b: np.ndarray, pairs: Sequence[tuple[int, int]], offset: float) -> float:
    return float(np.mean([abs(a[i] + offset - b[j]) for i, j in pairs])) if pairs else np.inf


def _by_order(swings: Sequence[Known], rows: Sequence[Known]) -> list[tuple[int, int]]:
    """Pairs in order where counts agree, or differ by one, and speeds correlate clearly better than one place off."""
    n, m = len(swings), len(rows)
    if min(n, m) < _FEWEST or abs(n - m) > 1:
        return []
    own = {}
    for shift in (-1, 0, 1):
        pairs = [(i, i + shift) for i in range(n) if 0 <= i + shift < m]
        a, b = np.array([[swings[i].speed, rows[j].speed] for i, j in pairs]).T
        whole = np.isfinite(a) & np.isfinite(b)
        if whole.sum() < _FEWEST or a[whole].std() == 0 or b[whole].std() == 0:
            return []
        own[shift] = (float(np.corrcoef(a[whole], b[whole])[0, 1]), pairs)
    best, second = sorted(own.values(), key=lambda one: one[0], reverse=True)[:2]
    clear = best[0] >= _CORRELATION and best[0] - second[0] >= _MARGIN
    return best[1] if clear and len(best[1]) >= min(n, m) else []


def _agreement(
    device: Device, table: pd.DataFrame, swings: Sequence[Known], place: Mapping[str, int]
) -> list[str]:
    """How the device's clubhead speed and the capture's greatest speed differ."""
    if all(one.name != _SPEEDS[0] for one in device.outcomes):
        return []
    speeds = _speeds(table, device)
    off = np.array([speeds[place[s.name]] - s.speed for s in swings if s.name in place])
    off = off[np.isfinite(off)]
    if len(off) < 2:
        return []
    return [
        f"  clubhead speed, device less capture: {off.mean():+.1f} m/s, SD {off.std(ddof=1):.1f}, {len(off)} swings"
    ]


def _write(path: Path, place: Mapping[str, int]) -> None:
    beside = path.with_suffix(".csv.new")
    with beside.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["swing", "row"])
        writer.writerows([swing, row + 2] for swing, row in place.items())
    beside.replace(path)


def device_lines(folder: Path, device: Device | None, captures: Sequence[Looked], key: Key) -> list[str]:
    """`match_device`'s words, or the fault that stopped it."""
    if device is None:
        return []
    try:
        return match_device(folder, device, captures, key)
    except SwinglabError as fault:
        return [f"outcomes of {device.file}: {fault}"]
