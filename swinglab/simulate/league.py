"""A large study of many simulated golfers, written golfer by golfer, for tests with data of a whole season."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import Executor
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from swinglab.errors import BadRequest
from swinglab.simulate.demo import (
    FAT_BEHIND_CM,
    LAB,
    LANDMARKS,
    QUESTION,
    QUESTIONS,
    SEED,
    THIN_ABOVE_CM,
    TRUTH,
    TRUTH_AT,
    Progress,
    capture_series,
    feel_series,
    make_golfer_of,
)
from swinglab.simulate.golfer import Golfer
from swinglab.simulate.members import Member
from swinglab.simulate.write import (
    SimulatedStudy,
    append_table,
    empty_folder,
    settings_text,
    write_captures,
)

#: Largest number of swings of one golfer in one session.
MOST_IN_SESSION = 40
#: Means of each group, all invented: tilt and flexion of the thorax after impact (deg, differences from the default),
#: clubhead speed (m/s), handicap.
_GROUPS = {"skilled": (1.5, -4.5, 36.0, 5.0), "learners": (-2.0, 5.5, 32.0, 22.0)}
#: Between golfers more tilt means a steeper strike, as in the demo: attack angle (deg) at zero tilt, and its change per
#: degree of tilt.
_STEEP_DEG, _STEEPER = -4.1, -0.3


class _Part(NamedTuple):
    """Data that a worker needs to write one golfer's part of the study."""

    folder: Path
    name: str
    swings: int
    source: np.random.SeedSequence


def write_league(
    folder: str | Path,
    *,
    golfers: int,
    swings: int,
    seed: int = SEED,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Path:
    """Write a study of many simulated golfers, with its true values, to an empty folder.

    The same arguments always give exactly the same files.

    Parameters
    ----------
    folder : str or Path
        Created if it does not exist.
    golfers, swings : int
        Number of golfers, and number of swings of each golfer, in sessions of at most 40 swings. As in the demo study,
        more trail-side tilt goes with a shallower strike within golfers and with a steeper strike between golfers.
    seed : int
        Seed of the random numbers.
    executor : Executor, optional
        Runs the simulation of golfers, for instance in other processes; by default they run in this process.
    progress : callable, optional
        Called after each golfer with (swings done, number of swings, golfer).

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    BadRequest
        The folder is not empty, or a number is below 1.
    """
    if min(golfers, swings) < 1:
        raise BadRequest(
            f"a simulated study needs at least one golfer and one swing, not {golfers} and {swings}",
            do="set --golfers and --swings to 1 or more",
        )
    folder = empty_folder(folder)
    (folder / "captures").mkdir()
    (folder / "truth").mkdir()
    width = max(2, len(str(golfers)))
    sources = np.random.SeedSequence(seed).spawn(golfers)
    parts = [_Part(folder, f"G{k + 1:0{width}d}", swings, source) for k, source in enumerate(sources)]
    apply: Callable[..., Iterable[Any]] = executor.map if executor else map
    for k, tables in enumerate(apply(_write_golfer, parts)):
        for name, table in tables.items():
            append_table(table, folder / name)
        if progress:
            progress((k + 1) * swings, golfers * swings, parts[k].name)
    title = f"A league of {golfers} simulated golfers with {swings} swings each"
    (folder / "study.toml").write_text(settings_text(_study(title, [], {})), encoding="utf-8")
    return folder


def _study(title: str, swings: list, cells: dict) -> SimulatedStudy:
    return SimulatedStudy(
        title, swings, cells, QUESTION, LAB, QUESTIONS, FAT_BEHIND_CM, THIN_ABOVE_CM, truth_quantities=TRUTH,
        truth_events=TRUTH_AT,
    )  # fmt: skip


def _write_golfer(part: _Part) -> dict[str, Any]:
    """Write the captures of one golfer; return path of a table -> the golfer's rows in it."""
    own, *sessions = part.source.spawn(1 + -(-part.swings // MOST_IN_SESSION))
    member, golfer = _draw_golfer(part.name, np.random.default_rng(own))
    made, left = [], part.swings
    for number, source in enumerate(sessions, 1):
        series = feel_series(f"{part.name}-{number:02d}", min(left, MOST_IN_SESSION))
        left -= len(series.parts)
        made += capture_series(member, golfer, series, source, LANDMARKS)
    cells = {part.name: {"group": member.group, "handicap": member.handicap}}
    return write_captures(part.folder, _study("", made, cells))


def _draw_golfer(name: str, random: np.random.Generator) -> tuple[Member, Golfer]:
    """Draw a random golfer; the draw is repeated if the body cannot reach the ball with the habits."""
    while True:
        group = str(random.choice(list(_GROUPS)))
        tilted, bend, speed, handicap = _GROUPS[group]
        tilted = float(random.normal(tilted, 3.0))
        member = Member(
            name, group, str(random.choice(["right", "left"], p=[0.9, 0.1])),
            round(float(random.uniform(1.65, 1.88)), 2), round(float(random.uniform(60, 95))),
            str(random.choice(["male", "female"])),
            round(max(0.0, float(random.normal(handicap, 3.0)))), tilted, float(random.normal(bend, 2.0)),
            _STEEP_DEG + _STEEPER * tilted + float(random.normal(0.0, 0.4)), float(random.normal(speed, 1.5)),
            float(random.normal(1.0, 3.0)),
        )  # fmt: skip
        try:
            return member, make_golfer_of(member)
        except BadRequest:
            continue
