"""Frames of a pose table at equal time steps: as given, with missing rows, or resampled from unequal steps."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from swinglab.errors import UnreadableFile

#: Time stamps are even if they deviate from an even grid by less than this share of a step.
_JITTER = 0.05
#: A table is refused if more frames are missing than this multiple of its rows.
_MOST_HOLES = 10


@dataclass(frozen=True, slots=True)
class Grid:
    """Frames at equal time steps, and their relation to the rows of a table.

    frames : number of frames. places : (n_rows,) index of the frame of each row, from 0; not used if the rows are
    resampled. first_frame : number of the first frame. times_s : (frames,) times in s to which the rows are resampled
    because they have unequal time steps; None if they are not resampled.
    """

    rate_hz: float
    frames: int
    places: np.ndarray
    first_frame: int = 1
    times_s: np.ndarray | None = None

    def resample(self, moments: np.ndarray, columns: np.ndarray, *, linear: bool = False) -> np.ndarray:
        """Resample columns (n_rows, k) to the times of the frames, by a cubic spline or linearly.

        `moments` : (n_rows,) times of the rows in s. The result (frames, k) is NaN between two rows if they are more
        than two time steps apart, or if the value in one of them is NaN.
        """
        assert self.times_s is not None
        times = self.times_s
        made = np.full((len(times), columns.shape[1]), np.nan)
        after = np.clip(np.searchsorted(moments, times, side="left"), 1, len(moments) - 1)
        wide = moments[after] - moments[after - 1] > 2 / self.rate_hz
        exact = np.isin(times, moments)
        for k, column in enumerate(columns.T):
            seen = np.isfinite(column)
            if seen.sum() < 2:
                continue
            if linear or seen.sum() < 4:
                value = np.interp(times, moments[seen], column[seen])
            else:
                value = CubicSpline(moments[seen], column[seen])(times)
            held = seen[after] & seen[after - 1] & (~wide | exact)
            made[held, k] = value[held]
        return made


def frame_grid(frames: np.ndarray, rate_hz: float | None, path: Path, findings: list[str]) -> Grid:
    """Return the frames of a table that has frame numbers.

    `frames` : (n_rows,) column frame of the table. Sentences about missing frames are added to `findings`. Raises
    UnreadableFile if `rate_hz` is None or the frame numbers are invalid.
    """
    if rate_hz is None:
        raise UnreadableFile(
            "the table has frame numbers but no times, and the frame rate is not set", file=path, where="column frame",
            do="set rate_hz under [lab] in study.toml, or add a column time_s",
        )  # fmt: skip
    _refuse_moments(frames, "frame", path)
    if np.any(frames != np.round(frames)) or np.abs(frames).max() > 2**53:
        raise UnreadableFile(
            "frame numbers must be integers",
            file=path,
            where="column frame",
            do="if the column contains times in s, call it time_s",
        )
    places = (frames - frames[0]).astype(np.int64)
    return _with_holes(places, rate_hz, int(frames[0]), path, findings)


def time_grid(moments: np.ndarray, rate_hz: float | None, path: Path, findings: list[str]) -> Grid:
    """Return the frames of a table that has times in seconds; `rate_hz`, if not None, replaces the rate of the times.

    `moments` : (n_rows,) column time_s of the table. Sentences about irregular times are added to `findings`. Raises
    UnreadableFile if the times are missing, not in order, too few, or have large gaps.
    """
    _refuse_moments(moments, "time_s", path)
    if len(moments) < 2:
        raise UnreadableFile(
            "the frame rate cannot be determined, because the table has only one row",
            file=path,
            where="column time_s",
            do="export the whole swing",
        )
    steps = np.diff(moments)
    # Mean of the single steps; the median of rounded time stamps would itself be rounded.
    step = float(steps[steps < 1.5 * np.median(steps)].mean())
    places = np.concatenate([[0], np.cumsum(np.round(steps / step))])
    if moments[0] != 0:
        findings.append(f"time_s begins at {moments[0]:g} s; swinglab counts time from the first row")
    resolution = _resolution(moments)
    even = False
    if places[-1] <= _MOST_HOLES * len(places) + 100 and np.all(np.diff(places) > 0):
        start, step = _line(places, moments)
        stray = np.abs(moments - start - step * places).max()
        even = bool(stray <= max(_JITTER * step, 0.51 * resolution))
    written = _round_rate(1 / step, step, places[-1], resolution)
    rate = float(rate_hz) if rate_hz is not None else written
    if even:
        if abs(rate - written) > 0.01 * rate:
            findings.append(
                f"the frame rate from time_s is {written:g} Hz, but {rate:g} Hz was used, as set in study.toml"
            )
        return _with_holes(places.astype(np.int64), rate, 1, path, findings)
    length = moments[-1] - moments[0]
    if length * rate > _MOST_HOLES * len(moments) + 100:
        raise UnreadableFile(
            f"the times have large gaps: {len(moments)} rows for {length:g} s at {rate:g} Hz",
            file=path, where="column time_s",
            do="give times in seconds, and only one swing in each table",
        )  # fmt: skip
    findings.append(
        f"time_s has unequal steps ({steps.min():.4g} to {steps.max():.4g} s); the table was resampled at {rate:.4g} Hz"
    )
    frames = int(np.floor(length * rate + 1e-6)) + 1
    times = moments[0] + np.arange(frames) / rate
    return Grid(rate, frames, np.arange(frames), times_s=times)


def _refuse_moments(moments: np.ndarray, clock: str, path: Path) -> None:
    lost = np.flatnonzero(~np.isfinite(moments))
    if len(lost):
        raise UnreadableFile(
            f"{len(lost)} row{'s have' if len(lost) > 1 else ' has'} no value in the column {clock}",
            file=path,
            where=f"row {lost[0] + 2}",
            do="fill in the value, or remove the row",
        )
    back = np.flatnonzero(np.diff(moments) <= 0)
    if len(back):
        row = int(back[0]) + 1
        what = "occurs twice" if moments[row] == moments[row - 1] else "is smaller than in the row before"
        raise UnreadableFile(
            f"{clock} {moments[row]:g} {what} ({len(back)} such rows)", file=path, where=f"row {row + 2}",
            do="sort the rows by time and remove repeated rows",
        )  # fmt: skip


def _with_holes(
    places: np.ndarray, rate_hz: float, first_frame: int, path: Path, findings: list[str]
) -> Grid:  # fmt: skip
    frames = int(places[-1]) + 1
    lost = frames - len(places)
    if frames > _MOST_HOLES * len(places) + 100:
        raise UnreadableFile(
            f"the frame numbers have large gaps: {len(places)} rows for {frames} frames",
            file=path,
            where="column frame",
            do="give only one swing in each table",
        )
    if lost:
        findings.append(f"frames without a row in the table: {lost}; their points are missing")
    return Grid(rate_hz, frames, places, max(1, first_frame))


def _resolution(moments: np.ndarray) -> float:
    """Resolution (s) of the time stamps: the place value of their last decimal."""
    for decimals in range(7):
        if np.abs(moments - np.round(moments, decimals)).max() < 1e-9 * max(1.0, np.abs(moments).max()):
            return float(10.0**-decimals)
    return 0.0


def _line(places: np.ndarray, moments: np.ndarray) -> tuple[float, float]:
    """Start and step (s) of the straight line fitted to the time stamps."""
    step, start = np.polyfit(places, moments, 1)
    return float(start), float(step)


def _round_rate(rate: float, step: float, steps: float, resolution: float) -> float:
    """Rate with few digits that agrees with the measured rate within the rounding of the time stamps."""
    for digits in (0, 1, 2):
        near = round(rate, digits)
        if near > 0 and abs(1 / near - step) * max(steps, 1) <= max(resolution, 1e-6 * steps * step):
            return float(near)
    return rate
