"""How often each reading is given against the truth, on made swing tables; and how often intervals cover it.

By hand, seeded; writes readings.md beside this file. SHARE is the number of made studies of each scenario, LESSONS
the number of made lessons of each kind:

    nice python tests/calibration/readings.py SHARE LESSONS

Every study asks three questions (a hunch judged within, the same hunch judged between, two groups compared) and is
answered by `study.answer_study`, Holm's adjustment over the three included. What no reading rests on is cut short
here: no golfer is left out in turn (that gives warnings alone), permutations are drawn 999 times, not 99,999. The
two hunches have the same lines in another order, so these are computed once; that they are the same is checked on
the first study of each scenario.
"""

from __future__ import annotations

import gc
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd

from swinglab.records import Comparison, Errors, Finding, Hunch, Lesson, findings_table
from swinglab.simulate import make_table_study
from swinglab.statistics import judging, levels, permutation, wild
from swinglab.study import answer_study, answering

OUT = Path(__file__).with_suffix(".md")
WHAT = ("thorax_lateral_flexion_deg", "shaft_horizontal_down")
WITHIN = Hunch("within", "attack_angle_deg", *WHAT, level="within", expect="positive", smallest_effect=0.8)
BETWEEN = Hunch("between", "attack_angle_deg", *WHAT, level="between", expect="positive", smallest_effect=2.0)
GROUP = Comparison("group", *WHAT, between="group", smallest_effect=5.0)
LESSON = Lesson(
    "lesson", "G01", "phase", *WHAT, outcome="attack_angle_deg", target_value=20.0, smallest_effect=0.4
)
#: First words of the readings.
READINGS = ("too small", "borne out", "contradicted", "a difference", "not settled", "methods disagree")
ENDS = ("wrong", "alone", "covered")
LESSON_READINGS = {
    "worked": judging.WORKED, "strike only": judging.STRIKE_ONLY, "drift could explain it": judging.DRIFT,
    "too small": judging.TOO_SMALL, "not settled": judging.NOT_SETTLED,
}  # fmt: skip


@dataclass(frozen=True)
class Scenario:
    """What is true, in the questions' own units (deg per 10 deg; deg for the groups), and the design."""

    within: float
    between: float
    group: float
    golfers: int
    unequal: bool = False
    memory: float = 0.0
    error: float = 0.0
    placement: float = 0.0
    sessions: int = 1

    def words(self) -> str:
        told = [f"{self.golfers} golfers"]
        told += ["unequal numbers"] if self.unequal else []
        told += [f"AR(1) {self.memory:g}"] if self.memory else []
        told += [f"error {self.error:g} deg a swing"] if self.error else []
        told += [f"placement {self.placement:g} deg"] if self.placement else []
        told += [f"{self.sessions} sessions"] if self.sessions > 1 else []
        return ", ".join(told)

    def make(self, rng: np.random.Generator) -> tuple[pd.DataFrame, Errors]:
        made = make_table_study(
            golfers=self.golfers, swings=24, sessions=self.sessions, within_slope=self.within / 10,
            between_slope=self.between / 10, group_posture=self.group, posture_memory=self.memory,
            outcome_memory=self.memory, posture_error=self.error, placement_error=self.placement, seed=rng,
        )  # fmt: skip
        table = made.table
        if self.unequal:
            kept = dict(
                zip(made.slopes, rng.permutation(np.linspace(6, 24, self.golfers).round()), strict=True)
            )
            table = table[table["order"] <= table["golfer"].map(kept)].reset_index(drop=True)
        return table, Errors(placement_deg=self.placement)


SCENARIOS = (
    Scenario(0.0, 0.0, 0.0, 12),
    Scenario(0.0, 0.0, 0.0, 8, unequal=True),
    Scenario(0.0, 0.0, 0.0, 24, memory=0.5),
    Scenario(0.0, -3.0, 9.0, 12, unequal=True, memory=0.4, error=1.0, placement=1.5),
    Scenario(2.0, 0.0, 9.0, 12),
    Scenario(1.2, 0.0, 0.0, 8, error=1.0, placement=1.5, sessions=2),
    Scenario(-1.2, 0.0, 0.0, 12, memory=0.5),
    Scenario(2.0, -3.0, 9.0, 24, error=1.0, placement=1.5),
    Scenario(1.0, -2.0, 0.0, 12, unequal=True),
    Scenario(-2.0, 3.0, -9.0, 8, memory=0.4),
    Scenario(0.3, 0.5, 1.0, 24),
    Scenario(0.8, 2.0, 5.0, 24),  # exactly at the smallest effect: the hardest place for "too small"
)
LESSONS = {
    "worked": {"lesson_posture": 6.0, "lesson_outcome": 1.5},
    "drift only": {"posture_drift": 3.0, "outcome_drift": 2.0},
    "nothing": {},
}  # fmt: skip


class Once:
    """The lines of a hunch, kept for the same hunch judged at the other level."""

    def __init__(self, relate: Callable[..., tuple[Finding, ...]]):
        self.relate, self.table, self.lines = relate, None, ()
        self.check = True

    def __call__(self, table: pd.DataFrame, hunch: Hunch, *, errors: Errors) -> tuple[Finding, ...]:
        if table is not self.table:
            self.table, self.lines = table, self.relate(table, hunch, errors=errors)
            return self.lines
        other = [replace(f, name=hunch.name, role="beside", smallest_effect=hunch.smallest_effect)
                 for f in self.lines]  # fmt: skip
        first = next(i for i, f in enumerate(other) if f.level == hunch.level)
        other[first] = replace(other[first], role="default")
        lines = (*other[first:], *other[:first])
        if self.check:
            pd.testing.assert_frame_equal(
                findings_table(lines), findings_table(self.relate(table, hunch, errors=errors))
            )
            self.check = False
        return lines


def cut_short() -> Once:
    """Leave out what no reading rests on, and make what is the same only once."""
    levels._MOST_LEFT_OUT = 0
    permutation._DRAWN = 999
    wild.sign_patterns = lru_cache(wild.sign_patterns)
    once = Once(answering.relate_posture_to_strike)
    answering.relate_posture_to_strike = once
    gc.freeze()  # Holm's adjustment in statsmodels collects garbage at every call
    return once


def answers(questions: tuple, table: pd.DataFrame, errors: Errors) -> list[Finding]:
    """The judged line of each question, by the study's own path."""
    asked: Any = SimpleNamespace(questions=questions, errors=errors)
    found = answer_study(asked, SimpleNamespace(swings=table))  # type: ignore[arg-type]
    return [line for line in found if line.role == "default"]


def short(reading: str) -> str:
    """A reading's first words; each must be one of READINGS."""
    if judging.DISAGREE in reading:
        return "methods disagree"
    return next(name for name in READINGS if reading.startswith(name))


def alone(line: Finding) -> str:
    """What the default method by itself would read."""
    reading = judging.rule(line, line.p_adjusted, "either" if line.name == "group" else "positive")
    return "a difference" if reading == judging.RELATION else short(reading)


def is_wrong(reading: str, truth: float, line: Finding) -> bool:
    """A sign claimed that is not the truth's, or "too small" where the truth is not."""
    if reading == "too small":
        return abs(truth) >= line.smallest_effect
    if reading in ("borne out", "contradicted", "a difference"):
        return not truth * line.estimate > 0
    return False


def study_rows(share: int, once: Once) -> Iterator[dict[str, Any]]:
    """One row a question of a scenario: truth, counts of readings, wrong ones, covered."""
    for seed, scenario in enumerate(SCENARIOS):
        rng, once.check = np.random.default_rng([8, seed]), True
        rows = {
            name: {"question": name, "truth": getattr(scenario, name), "design": scenario.words(), "n": 0,
                   "read": Counter(), "wrong": 0, "alone": 0, "covered": 0}
            for name in ("within", "between", "group")
        }  # fmt: skip
        for _ in range(share):
            for line in answers((WITHIN, BETWEEN, GROUP), *scenario.make(rng)):
                row, reading = rows[line.name], short(line.reading)
                sign = -1.0 if line.per.startswith("skilled") else 1.0
                truth = sign * row["truth"]
                row["n"] += 1
                row["read"][reading] += 1
                row["wrong"] += is_wrong(reading, truth, line)
                row["alone"] += is_wrong(alone(line), truth, line)
                row["covered"] += line.ci_low <= truth <= line.ci_high
        print(scenario.words(), flush=True, file=sys.stderr)
        yield from rows.values()


def lesson_rows(runs: int) -> Iterator[dict[str, Any]]:
    """One row a kind of lesson: counts of readings, and how often the strike's step is covered."""
    for seed, (kind, changes) in enumerate(LESSONS.items()):
        rng = np.random.default_rng([9, seed])
        read: Counter[str] = Counter()
        covered = 0
        for _ in range(runs):
            made = make_table_study(golfers=1, swings=40, slope_sd=0.0, posture_memory=0.3, outcome_memory=0.3,
                                    posture_error=0.5, groups=(), seed=rng, **changes)  # fmt: skip
            (line,) = answers((LESSON,), made.table, Errors(placement_deg=0.0))
            read[next(n for n, words in LESSON_READINGS.items() if line.reading.startswith(words))] += 1
            covered += line.ci_low <= made.truth["lesson_outcome"] <= line.ci_high
        print(kind, flush=True, file=sys.stderr)
        yield {"kind": kind, "n": runs, "read": read, "covered": covered}


def percent(number: int, of: int) -> str:
    return f"{100 * number / of:.1f}"


def studies_text(rows: list[dict[str, Any]]) -> str:
    head = (
        "question",
        "truth",
        "design",
        "studies",
        *READINGS,
        "wrong",
        "wrong by the default alone",
        "95 % interval covers",
    )
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    for name in ("within", "between", "group"):
        own = [row for row in rows if row["question"] == name]
        for row in own:
            shares = [percent(row["read"][reading], row["n"]) for reading in READINGS]
            cells = [name, f"{row['truth']:g}", row["design"], str(row["n"]), *shares,
                     *(percent(row[key], row["n"]) for key in ENDS)]  # fmt: skip
            lines.append("| " + " | ".join(cells) + " |")
        n, read = sum(row["n"] for row in own), sum((row["read"] for row in own), Counter())
        sums = [percent(read[reading], n) for reading in READINGS]
        ends = [percent(sum(row[key] for row in own), n) for key in ENDS]
        lines.append("| " + " | ".join([f"**{name}, all**", "", "", str(n), *sums, *ends]) + " |")
    return "\n".join(lines)


def lessons_text(rows: list[dict[str, Any]]) -> str:
    head = ("truth", "lessons", *LESSON_READINGS, "95 % interval covers the step")
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    for row in rows:
        shares = [percent(row["read"][name], row["n"]) for name in LESSON_READINGS]
        cells = [row["kind"], str(row["n"]), *shares, percent(row["covered"], row["n"])]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


TEXT = """# Readings against the truth

Made swing tables, seeded, by `tests/calibration/readings.py {share} {lessons}`: no captures, straight from a variance
structure. Truth is in the question's own units (within and between: deg of attack angle per 10 deg of thorax lateral
flexion; group: deg of thorax lateral flexion). Every study asks all three questions and is judged as a whole (Holm over
three). Expected sign: positive; smallest effects: within {within:g}, between {between:g}, group {group:g}. 24 swings a
golfer; unequal: 6 to 24. All numbers but the counts are percent of the studies.

Wrong: "borne out", "contradicted" or "a difference" with a sign that is not the truth's (or where there is nothing), or
"too small" where the truth is as large as the smallest effect. Aim: at most 5. Wrong by the default alone: had the
companions (CR2, wild bootstrap) no say; where they would read otherwise, "methods disagree" is given. The interval of the judged line should
cover the truth in 93.5 to 96.5; of {share} studies the Monte Carlo error of a share near 95 is {error:.1f}, of all
studies together {all_error:.1f}.

{studies}

Lessons: one golfer, 40 swings, half of them after the lesson, AR(1) 0.3 in posture and strike. Worked: posture 6 deg,
strike 1.5 deg and what the posture brings; drift only: posture 3 deg and strike 2 deg from the first swing to the last,
no step. A lesson has to be told from a drift, so "worked" needs a step that holds beside a trend.

{lesson_rows}
"""


def main(share: int, lessons: int) -> None:
    """Write the table."""
    rows, told = list(study_rows(share, cut_short())), list(lesson_rows(lessons))
    near = 100 * np.sqrt(0.95 * 0.05)
    text = TEXT.format(
        share=share, lessons=lessons, within=WITHIN.smallest_effect, between=BETWEEN.smallest_effect,
        group=GROUP.smallest_effect, error=near / np.sqrt(share), all_error=near / np.sqrt(share * len(SCENARIOS)),
        studies=studies_text(rows), lesson_rows=lessons_text(told),
    )  # fmt: skip
    OUT.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:3]) if len(sys.argv) > 2 else (200, 300))
