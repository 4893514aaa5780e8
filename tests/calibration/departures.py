"""Readings under departures from the models: wrong readings per cell, and what each remedy costs.

`python tests/calibration/departures.py [studies] [cell ...]` writes the rows of these cells in
references/evidence/departures.md, the others stay. Each cell makes studies with known truth as swing tables, asks
one question through the front door (answers, judge) and counts: the default line's size (p < .05), the reading,
and how often companions stop it. A wrong reading is a direction where there is none (or the wrong one), or "too
small" where the effect is at the smallest that matters or beyond.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from swinglab.answers import (
    between,
    compare_before_after,
    compare_groups,
    judge,
    level,
    relate_posture_to_strike,
    within,
)
from swinglab.records import Comparison, Errors, Finding, Hunch, Lesson
from swinglab.statistics.wild import wild_bootstrap

PAGE = Path(__file__).resolve().parents[2] / "references" / "evidence" / "departures.md"
POSTURE, EVENT, OUTCOME = "thorax_lateral_flexion_deg", "impact", "attack_angle_deg"
COLUMN = "thorax_lateral_flexion_at_impact_deg"
HUNCH = Hunch("h", OUTCOME, POSTURE, EVENT, expect="positive", smallest_effect=1.0)
GROUPS = Comparison("g", POSTURE, EVENT, "group", smallest_effect=3.0)
LESSON = Lesson("l", "G0", "phase", POSTURE, EVENT, OUTCOME, target=(24.0, 28.0), expect="positive",
                smallest_effect=1.0, planned_swings=20)  # fmt: skip
KNOWN = Errors(placement_deg=0.0, soft_tissue_deg=0.0)
DIRECTIONS = {
    "borne_out", "relation", "contradicted", "difference", "lesson_changed", "lesson_undirected", "lesson_against",
    "lesson_away", "lesson_past",
}  # fmt: skip
COUNTED = (
    "size",
    "direction",
    "too_small",
    "disagree",
    "not_settled",
    "wrong",
    "cover",
    "direction_2",
    "disagree_2",
)
HEAD = """# Readings under departures

`python tests/calibration/departures.py STUDIES [CELL ...]`, each cell with the studies of its row; 999 draws of
the bootstrap, without the fits that leave a golfer out (they change no reading). The standard error of a share
near .05 is .020 of 120 studies, .007 of 1,000, .005 of 2,000. size: the judged line's unadjusted p below .05;
direction, too_small, disagree, not_settled: shares of readings; wrong: a direction where there is none or the
wrong one (for lessons: "changed" where posture or strike did not change), or too small where the effect is at the
smallest that matters; cover: 95 % intervals that hold the truth; direction_2, disagree_2: the readings without the wild
bootstrap among the companions (one of three within golfers and in small groups, one of two between). In the cells of a
drifting posture, and of a posture that moves away, with a real step of the strike the truth counted is 0, so size and
cover there are about the strike's real step.
"""
#: What follows the table, written by hand.
END = "## Sizes outside .035 to .065, and why"


@dataclass(frozen=True)
class Cell:
    """One way of making studies. truth : outcome units per 10 deg (difference, or step)."""

    name: str
    make: Callable[[np.random.Generator], pd.DataFrame]
    question: Hunch | Comparison | Lesson
    truth: float = 0.0


def series(rng: np.random.Generator, n: int, phi: float) -> np.ndarray:
    """An AR(1) series of unit variance."""
    noise = rng.normal(0, np.sqrt(1 - phi**2), n)
    noise[0] /= np.sqrt(1 - phi**2)
    for i in range(1, n):
        noise[i] += phi * noise[i - 1]
    return noise


def players(
    rng: np.random.Generator, *, golfers: int = 12, swings: int | np.ndarray = 20, slope: float = 0.0,
    slope_sd: float = 0.05, drift: tuple[float, float] = (0.0, 0.0), opposite: bool = False, between_slope: float = 0.0,
    tail: bool = False, spread_grows: bool = False, far: bool = False, phi: float = 0.0, informative: bool = False,
    error: float = 0.0, order: bool = True,
) -> pd.DataFrame:  # fmt: skip
    """Swings of golfers. slope : within, outcome per deg; drift : over a session, of posture and outcome."""
    own = slope + rng.normal(0, slope_sd, golfers)
    number = np.broadcast_to(swings, golfers).copy()
    if informative:
        number = np.where(own > slope, 40, 8)
    parts = []
    level_x = rng.normal(20, 5, golfers)
    if far:
        level_x[0] = 50.0
    sd_y = np.ones(golfers) * 1.5
    if spread_grows:
        sd_y = 0.3 * np.abs(level_x - level_x.min() + 1.0)
    if far:
        sd_y[0] = 6.0
    draw = (
        (lambda size: rng.standard_t(3, size) / np.sqrt(3)) if tail else (lambda size: rng.normal(0, 1, size))
    )
    level_y = -4 + between_slope * (level_x - 20) + sd_y * draw(golfers)
    for g in range(golfers):
        n = int(number[g])
        time_ = np.linspace(-0.5, 0.5, n)
        way = rng.choice([-1.0, 1.0]) if opposite else 1.0
        x = 3.0 * series(rng, n, phi) + way * drift[0] * time_
        noise = 1.0 * (series(rng, n, phi) if phi else draw(n))
        y = level_y[g] + own[g] * x + noise + way * drift[1] * time_
        table = pd.DataFrame(
            {"golfer": f"G{g}", COLUMN: level_x[g] + x + rng.normal(0, error, n), OUTCOME: y}
        )
        table["thorax_lateral_flexion_at_impact_se_deg"] = error
        table["club"], table["session"] = "7 iron", "a"
        if order:
            table["order"] = np.arange(1, n + 1)
        parts.append(table)
    return pd.concat(parts, ignore_index=True)


def groups(
    rng: np.random.Generator, *, sizes: tuple[int, int] = (4, 12), ratio: float = 2.0,
    swings: tuple[int, int] = (20, 20), difference: float = 0.0,
) -> pd.DataFrame:  # fmt: skip
    """Two groups; the first's golfers spread `ratio` times as much as the second's (4 deg)."""
    parts = []
    for name, size, sd, n, mean in (
        ("a", sizes[0], 4.0 * ratio, swings[0], 0.0), ("b", sizes[1], 4.0, swings[1], difference),
    ):  # fmt: skip
        for g in range(size):
            own = 20 + mean + rng.normal(0, sd)
            table = pd.DataFrame({"golfer": f"{name}{g}", "group": name, COLUMN: own + rng.normal(0, 3, n)})
            table["club"] = "7 iron"
            parts.append(table)
    return pd.concat(parts, ignore_index=True)


def lesson(
    rng: np.random.Generator, *, n: int = 20, posture: float = 0.0, strike: float = 0.0,
    drift: tuple[float, float] = (0.0, 0.0), phi: float = 0.3,
) -> pd.DataFrame:  # fmt: skip
    """One golfer's swings before and after; drifts over the whole series."""
    after, time_ = np.repeat([0.0, 1.0], n), np.linspace(-0.5, 0.5, 2 * n)
    table = pd.DataFrame({"golfer": "G0", "phase": np.where(after > 0, "after", "before")})
    table[COLUMN] = 20 + 2.0 * series(rng, 2 * n, phi) + posture * after + drift[0] * time_
    table[OUTCOME] = -4 + series(rng, 2 * n, phi) + strike * after + drift[1] * time_
    table["order"], table["session"], table["club"] = np.arange(2 * n), "a", "7 iron"
    table["thorax_lateral_flexion_at_impact_se_deg"] = 0.0
    return table


def two_clubs(rng: np.random.Generator) -> pd.DataFrame:
    """No relation within either club: tilt 12 and 20 deg, attack -4 and +1 deg."""
    parts = []
    for club, tilt, attack in (("7 iron", 12.0, -4.0), ("driver", 20.0, 1.0)):
        own = players(rng, swings=10, slope_sd=0.0)
        own[COLUMN] += tilt - 20
        own[OUTCOME] += attack + 4
        parts.append(own.assign(club=club, order=own["order"] + (10 if club == "driver" else 0)))
    return pd.concat(parts, ignore_index=True)


def cells() -> Iterator[Cell]:
    """Every cell, at no effect, at the smallest effect and at twice it where that is asked for."""

    def of(
        name: str, question: object, truth: float = 0.0, maker: Callable = players, **options: object
    ) -> Cell:
        return Cell(name, lambda rng: maker(rng, **options), question, truth)  # type: ignore[arg-type]

    between_ = replace(HUNCH, level="between")
    for golfers in (8, 12, 20):
        for times in (0.0, 1.0, 2.0):
            slope = 0.1 * times
            yield of(
                f"within, {golfers} golfers, {times:g} x effect",
                HUNCH,
                10 * slope,
                golfers=golfers,
                slope=slope,
            )
            yield of(f"between, {golfers} golfers, {times:g} x effect", between_, 10 * slope, golfers=golfers,
                     between_slope=slope)  # fmt: skip
    yield of("within, 6 golfers, 0 x effect", HUNCH, golfers=6)
    yield of("within, t3 errors", HUNCH, tail=True)
    yield of("within, autocorrelation .6", HUNCH, phi=0.6)
    yield of("within, drift together, 6 golfers", HUNCH, golfers=6, drift=(3.0, 1.0))
    yield of("within, drift together, 12 golfers", HUNCH, drift=(3.0, 1.0))
    yield of("within, strong drift in different directions", HUNCH, drift=(6.0, 2.0), opposite=True)
    yield of("within, swings tied to slopes, 12 golfers", HUNCH, slope_sd=0.15, informative=True)
    yield of("within, slopes SD .15", HUNCH, slope_sd=0.15)
    yield of("within, two clubs", HUNCH, maker=two_clubs)
    yield of("between, spread grows with posture", between_, spread_grows=True)
    yield of("between, one golfer far out", between_, far=True)
    yield of("between, t3 errors", between_, tail=True)
    yield of("groups 4 + 12, SD 2:1", GROUPS, maker=groups)
    yield of("groups 3 + 9, SD 2:1", GROUPS, maker=groups, sizes=(3, 9))
    yield of("groups 4 x 2 + 12 x 80 swings", GROUPS, maker=groups, swings=(2, 80), ratio=1.0)
    yield of("groups 8 + 8, SD 1:1", GROUPS, maker=groups, sizes=(8, 8), ratio=1.0)
    yield of("groups 8 + 8, difference 3", GROUPS, 3.0, maker=groups, sizes=(8, 8), ratio=1.0, difference=3.0)
    yield of("groups 8 + 8, difference 6", GROUPS, 6.0, maker=groups, sizes=(8, 8), ratio=1.0, difference=6.0)
    one = replace(HUNCH, level="golfer", golfer="G0")
    for phi in (0.0, 0.3, 0.6):
        for times in (0.0, 1.0, 2.0):
            yield of(f"one golfer, 60 swings, autocorrelation {phi:g}, {times:g} x effect", one, times, golfers=1,
                     swings=60, phi=phi, slope=0.1 * times, slope_sd=0.0)  # fmt: skip
    yield of("one golfer, 30 swings", one, golfers=1, swings=30, slope_sd=0.0)
    yield of("one golfer, t3 errors", one, golfers=1, swings=60, tail=True, slope_sd=0.0)
    yield of("lesson, nothing", LESSON, maker=lesson)
    yield of("lesson, autocorrelation .6", LESSON, maker=lesson, phi=0.6)
    yield of("lesson, both drift", LESSON, maker=lesson, drift=(6.0, 3.0))
    yield of("lesson, posture drifts, strike steps", LESSON, maker=lesson, drift=(6.0, 0.0), strike=3.0)
    yield of("lesson, both step", LESSON, 3.0, maker=lesson, posture=6.0, strike=3.0)
    yield of("lesson, away from the aim", LESSON, maker=lesson, posture=-6.0, strike=3.0)


def answer(table: pd.DataFrame, question: Hunch | Comparison | Lesson) -> list[Finding]:
    """The lines of one question."""
    if isinstance(question, Hunch):
        lines = relate_posture_to_strike(table, question, errors=KNOWN)
    elif isinstance(question, Comparison):
        lines = compare_groups(table, question, errors=KNOWN)
    else:
        lines = compare_before_after(table, question, errors=KNOWN)
    return list(lines)


def wrong(finding: Finding, cell: Cell) -> bool:
    """Whether a reading says what is not so."""
    if isinstance(cell.question, Lesson):
        return finding.reading_key == "lesson_changed" and cell.truth == 0
    smallest = cell.question.smallest_effect or 0.0
    if finding.reading_key == "too_small":
        return abs(cell.truth) >= smallest
    if finding.reading_key in DIRECTIONS:
        return cell.truth == 0 or finding.estimate * cell.truth < 0
    return False


def run(cell: Cell, studies: int, seed: int) -> dict[str, float]:
    """Shares over so many studies of a cell."""
    counts = dict.fromkeys(COUNTED, 0.0)
    for i in range(studies):
        rng = np.random.default_rng([seed, i])
        lines = answer(cell.make(rng), cell.question)
        first = judge(lines, [cell.question])[0]
        fewer = judge([line for line in lines if line.method_key != "wild_bootstrap"], [cell.question])[0]
        key = first.reading_key
        counts["direction_2"] += fewer.reading_key in DIRECTIONS
        counts["disagree_2"] += fewer.reading_key == "methods_disagree"
        counts["size"] += first.p < 0.05
        counts["direction"] += key in DIRECTIONS
        counts["too_small"] += key == "too_small"
        counts["disagree"] += key == "methods_disagree"
        counts["not_settled"] += key.startswith("not_settled")
        counts["wrong"] += wrong(first, cell)
        counts["cover"] += first.ci_low <= cell.truth <= first.ci_high
    return {name: count / studies for name, count in counts.items()}


def kept_rows() -> dict[str, list[str]]:
    """Rows of the page by their cells' names, so that cells can be run one by one."""
    if not PAGE.exists():
        return {}
    lines = [line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")]
    rows = [[text.strip() for text in line.strip("|").split("|")] for line in lines]
    return {row[0]: row for row in rows if len(row) == 2 + len(COUNTED) and row[1].isdigit()}


def write(rows: dict[str, list[str]]) -> None:
    """The page: cells in the order of `cells`, what follows the table as it is."""
    text = PAGE.read_text(encoding="utf-8") if PAGE.exists() else END
    rest = text[text.index(END) :]
    known = [rows[cell.name] for cell in cells() if cell.name in rows]
    wrong = np.array([float(row[2 + COUNTED.index("wrong")]) for row in known])
    table = ["| " + " | ".join(row) + " |" for row in (["cell", "studies", *COUNTED], *known)]
    table.insert(1, "|" + "---|" * (2 + len(COUNTED)))
    mean = f"Mean of wrong over {len(known)} cells: {wrong.mean():.3f}; largest: {wrong.max():.3f}."
    PAGE.write_text("\n".join([HEAD, *table, "", mean, "", rest]), encoding="utf-8")


def main(studies: int, wanted: list[str]) -> None:
    """Run every cell (or those whose name holds a word) and write each into the page."""
    # The slow parts that change no reading are switched off; fewer bootstrap patterns are drawn.
    level.depends_on = within.depends_on = between.depends_on = lambda *_, **__: []  # type: ignore[assignment]
    wild_bootstrap.__kwdefaults__["samples"] = 999
    for number, cell in enumerate(cells()):
        if wanted and not any(word in cell.name for word in wanted):
            continue
        start = time.time()
        shares = run(cell, studies, 1000 + number)
        print(f"{cell.name}: {shares} ({time.time() - start:.0f} s)", flush=True)
        row = [cell.name, str(studies), *(f"{shares[name]:.3f}" for name in COUNTED)]
        write(kept_rows() | {cell.name: row})


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400, sys.argv[2:])
