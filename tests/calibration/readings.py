"""How often each reading is given against the truth, on made swing tables; and how often intervals cover it.

By hand, seeded; writes references/evidence/readings.md. SHARE is the number of made studies of each scenario, LESSONS
the number of made lessons of each kind:

    nice python tests/calibration/readings.py SHARE LESSONS

Every study asks three questions (a hunch judged within, the same hunch judged between, two groups compared) and is
answered by `study.answer_study`, Holm's adjustment over the three included. What no reading rests on is left out
here for speed (golfers left out in turn, exchanged labels, mixed models beside the default), and the lines that the
two hunches share are computed once. The first study of every scenario is answered both ways: the judged lines must
be the same.
"""

from __future__ import annotations

import gc
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
from simulated_tables import make_table_study

from swinglab.errors import BadTable
from swinglab.records import Comparison, Errors, Finding, Hunch, Lesson, findings_table
from swinglab.statistics import comparison, judging, levels, mixed, wild
from swinglab.study import answer_study, answering

OUT = Path(__file__).resolve().parents[2] / "references" / "evidence" / "readings.md"
WHAT = ("thorax_lateral_flexion_deg", "shaft_horizontal_down")
WITHIN = Hunch("within", "attack_angle_deg", *WHAT, level="within", expect="positive", smallest_effect=0.8)
BETWEEN = Hunch("between", "attack_angle_deg", *WHAT, level="between", expect="positive", smallest_effect=2.0)
GROUP = Comparison("group", *WHAT, between="group", smallest_effect=5.0)
ASKED = (WITHIN, BETWEEN, GROUP)
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
        words = [f"{self.golfers} golfers"]
        words += ["unequal numbers"] if self.unequal else []
        words += [f"AR(1) {self.memory:g}"] if self.memory else []
        words += [f"error {self.error:g} deg a swing"] if self.error else []
        words += [f"placement {self.placement:g} deg"] if self.placement else []
        words += [f"{self.sessions} sessions"] if self.sessions > 1 else []
        return ", ".join(words)

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

    def __call__(self, table: pd.DataFrame, hunch: Hunch, *, errors: Errors) -> tuple[Finding, ...]:
        if table is not self.table:
            self.table, self.lines = table, self.relate(table, hunch, errors=errors)
            return self.lines
        other = [
            replace(f, name=hunch.name, role="beside", smallest_effect=hunch.smallest_effect)
            for f in self.lines
        ]
        first = next(i for i, f in enumerate(other) if f.level == hunch.level)
        other[first] = replace(other[first], role="default")
        return (*other[first:], *other[:first])


@contextmanager
def cut_short() -> Iterator[None]:
    """Leave out the companions that no reading rests on; their lines hold no numbers of use."""
    numbers = ("estimate", "standard_error", "df", "p", "ci_low", "ci_high")
    empty = pd.DataFrame(1.0, index=["posture"], columns=list(numbers))

    def fit_mixed(rows: pd.DataFrame, outcome: str, terms: list[str], **options: Any) -> Any:
        if "posture deviation" in terms:  # the companion of the between level
            return SimpleNamespace(coefficients=empty, warnings=())
        return mixed.fit_mixed(rows, outcome, terms, **options)

    def no_fit(*_: Any, **__: Any) -> None:
        raise BadTable("left out")

    gone = "difference standard_error df p ci_low ci_high permutation_p hedges_g hedges_g_low hedges_g_high"
    means = SimpleNamespace(permutation_exact=True, warnings=(), **dict.fromkeys(gone.split(), np.nan))
    changes = (
        (levels, "_MOST_LEFT_OUT", 0),
        (levels, "fit_mixed", fit_mixed),
        (comparison, "fit_mixed", no_fit),
        (comparison, "compare_means", lambda *_, **__: means),
        (answering, "relate_posture_to_strike", Once(answering.relate_posture_to_strike)),
    )
    kept = [(module, name, getattr(module, name)) for module, name, _ in changes]
    try:
        for module, name, value in changes:
            setattr(module, name, value)
        yield
    finally:
        for module, name, value in kept:
            setattr(module, name, value)


def check_short(questions: tuple, table: pd.DataFrame, errors: Errors) -> None:
    """The judged lines are the same with every companion and without those that are left out."""
    whole = findings_table(answers(questions, table, errors))
    with cut_short():
        short_way = findings_table(answers(questions, table, errors))
    pd.testing.assert_frame_equal(whole.drop(columns="warnings"), short_way.drop(columns="warnings"))


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


def study_rows(share: int) -> Iterator[list[dict[str, Any]]]:
    """Round after round of one study a scenario: a row for every question of a scenario, counted so far."""
    rngs = [np.random.default_rng([8, seed]) for seed in range(len(SCENARIOS))]
    rows = {
        (place, name): {"question": name, "truth": getattr(scenario, name), "design": scenario.words(), "n": 0,
                        "read": Counter(), "wrong": 0, "alone": 0, "covered": 0}
        for place, scenario in enumerate(SCENARIOS) for name in ("within", "between", "group")
    }  # fmt: skip
    for seed, scenario in enumerate(SCENARIOS):
        check_short(ASKED, *scenario.make(np.random.default_rng([7, seed])))
    for _ in range(share):
        for place, (scenario, rng) in enumerate(zip(SCENARIOS, rngs, strict=True)):
            with cut_short():
                lines = answers(ASKED, *scenario.make(rng))
            for line in lines:
                count(rows[place, line.name], line)
        yield list(rows.values())


def count(row: dict[str, Any], line: Finding) -> None:
    """Add one judged line to its row."""
    truth, reading = row["truth"], short(line.reading)
    truth = -truth if line.per.startswith("skilled") else truth
    row["n"] += 1
    row["read"][reading] += 1
    row["wrong"] += is_wrong(reading, truth, line)
    row["alone"] += is_wrong(alone(line), truth, line)
    row["covered"] += line.ci_low <= truth <= line.ci_high


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
companions (CR2, wild bootstrap) no say; where they would read otherwise, "methods disagree" is given. The interval of
the judged line should cover the truth in 93.5 to 96.5; of {share} studies the Monte Carlo error of a share near 95 is
{error:.1f}, of all studies together {all_error:.1f}.

{studies}

Lessons: one golfer, 40 swings, half of them after the lesson, AR(1) 0.3 in posture and strike. Worked: posture 6 deg,
strike 1.5 deg and what the posture brings; drift only: posture 3 deg and strike 2 deg from the first swing to the last,
no step. A lesson has to be distinguished from a drift, so "worked" needs a step that holds beside a trend.

{lesson_rows}
"""


def write(rows: list[dict[str, Any]], words: list[dict[str, Any]]) -> None:
    """Write the tables as far as they are counted."""
    share, near = rows[0]["n"], 100 * np.sqrt(0.95 * 0.05)
    text = TEXT.format(
        share=share, lessons=words[0]["n"], within=WITHIN.smallest_effect, between=BETWEEN.smallest_effect,
        group=GROUP.smallest_effect, error=near / np.sqrt(share), all_error=near / np.sqrt(share * len(SCENARIOS)),
        studies=studies_text(rows), lesson_rows=lessons_text(words),
    )  # fmt: skip
    OUT.write_text(text, encoding="utf-8")


def main(share: int, lessons: int) -> None:
    """Count, and write the tables every ten rounds and at the end."""
    wild.sign_patterns = lru_cache(wild.sign_patterns)
    gc.freeze()  # Holm's adjustment in statsmodels collects garbage at every call
    words = list(lesson_rows(lessons))
    for round_, rows in enumerate(study_rows(share), start=1):
        if round_ % 10 == 0 or round_ == share:
            write(rows, words)
            print(f"{round_} studies a scenario", flush=True, file=sys.stderr)


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:3]) if len(sys.argv) > 2 else (200, 300))
