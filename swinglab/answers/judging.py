"""The readings of a study's questions: p by Holm over all of them, then the rules in their order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from swinglab.answers.lines import read_as
from swinglab.answers.rules import ALPHA
from swinglab.finding_words import READINGS, SETTLES, Note, words
from swinglab.records import Comparison, Finding, Hunch, Lesson
from swinglab.statistics.multiplicity import adjust
from swinglab.statistics.power import golfers_needed, golfers_needed_within, swings_needed

Question = Hunch | Comparison | Lesson
#: More golfers or swings than this are no plan.
_MOST = 1000
#: Methods whose line must read as the judged one does.
RIVALS = ("cluster_robust", "wild_bootstrap")


def judge(
    findings: Sequence[Finding], questions: Sequence[Question] | Mapping[str, Question]
) -> tuple[Finding, ...]:
    """Adjust p over all judged lines of a study (Holm) and read each by the rules, in this order.

    (1) too small to matter: the 90 % interval lies inside +/- smallest_effect, even if it excludes 0;
    (2) borne out: adjusted p below .05 and the expected sign (a relation was found, where either was
    expected); (3) contradicted: adjusted p below .05 and the other sign; (4) not settled, with what would
    settle it. Where the cluster-robust line or the bootstrap would read otherwise: not settled, methods
    disagree.

    Parameters
    ----------
    findings : sequence of Finding
        All lines of a study. A line without an estimate, or one that already has a reading, keeps it.
    questions : sequence or mapping of Hunch, Comparison, Lesson
        The questions, found by their names.

    Returns
    -------
    tuple of Finding
        The same lines in the same order; default lines with p_adjusted and reading.
    """
    named = (
        questions if isinstance(questions, Mapping) else {question.name: question for question in questions}
    )
    places = [i for i, finding in enumerate(findings) if finding.role == "default"]
    adjusted = adjust([findings[i].p for i in places])
    judged = list(findings)
    for place, p in zip(places, adjusted, strict=True):
        finding = replace(findings[place], p_adjusted=float(p))
        if not finding.reading_key:
            beside = [
                f for f in findings if f.role == "beside" and f.name == finding.name and f.per == finding.per
            ]
            finding = read_as(finding, _read(finding, beside, named.get(finding.name)))
        judged[place] = finding
    return tuple(judged)


def _read(finding: Finding, beside: Sequence[Finding], question: Question | None) -> Note:
    if not np.isfinite(finding.estimate):
        return Note("not_settled", settles="")
    weight = finding.p_adjusted / finding.p if finding.p > 0 else 1.0
    if isinstance(question, Lesson):
        return _read_lesson(finding, beside, question, weight)
    expect = getattr(question, "expect", "either")
    reading = rule(finding, finding.p_adjusted, expect)
    rivals = [f for f in beside if f.method_key in RIVALS and _alike(f, finding)]
    if any(rule(f, min(1.0, f.p * weight), expect) != reading for f in rivals if np.isfinite(f.p)):
        return Note("methods_disagree")
    if reading == "not_settled":
        return Note("not_settled", settles=what_settles(finding))
    return Note("difference" if finding.kind == "comparison" and reading == "relation" else reading)


def _alike(one: Finding, other: Finding) -> bool:
    """Whether two lines answer the very same question, by different methods."""
    names = ("level", "outcome", "predictor", "event", "per", "unit")
    return all(getattr(one, name) == getattr(other, name) for name in names)


def _read_lesson(finding: Finding, beside: Sequence[Finding], lesson: Lesson, weight: float) -> Note:
    """A lesson worked only where the posture changed and the step of the strike holds beside a trend."""
    plain = [f for f in beside if f.method_key == "step_without_trend" and not f.placement_deg >= 0]
    moved = any(f.p < ALPHA for f in plain if f.outcome == lesson.of and f.event == lesson.event)
    reading = rule(finding, finding.p_adjusted, "either")
    if reading == "relation":
        return Note("lesson_changed" if moved else "lesson_strike_only")
    steps = [f for f in plain if f.outcome == lesson.outcome and not f.event]
    if reading == "not_settled" and any(
        rule(f, min(1.0, f.p * weight), "either") == "relation" for f in steps
    ):
        return Note("lesson_drift")
    if moved:
        return Note("lesson_posture_only", strike=words(READINGS[reading], settles=""))
    return Note(reading, settles=what_settles(finding)) if reading == "not_settled" else Note(reading)


def what_settles(finding: Finding) -> str:
    """How many golfers or swings would narrow the interval enough, all else as it was found.

    Enough: to +/- smallest_effect where one is named, else to the size of the estimate; where that is reached
    and both answers still stand, to a half or a quarter of it.
    """
    goal = finding.smallest_effect if np.isfinite(finding.smallest_effect) else finding.estimate
    what = "swings" if finding.level == "golfer" else "golfers"
    now = finding.n_swings if finding.level == "golfer" else finding.n_golfers
    if not (abs(goal) > 0 and finding.standard_error > 0):
        return words(SETTLES["more"], what=what)
    for share in (1.0, 0.5, 0.25):
        half = share * abs(goal)
        need = _needed(finding, 2.0 * half)
        if need > now:
            key, number = ("number", need) if need <= _MOST else ("beyond", _MOST)
            return words(SETTLES[key], number=number, what=what, now=now, half=half, unit=finding.unit)
    return words(SETTLES["more"], what=what)


def _needed(finding: Finding, width: float) -> float:
    """Golfers (swings, for one golfer) for an interval of this width, from the standard error as it is."""
    error, golfers = finding.standard_error, finding.n_golfers
    if finding.level == "golfer":
        spread = error * float(np.sqrt(max(finding.n_swings - 1, 1)))
        return swings_needed(width=width, residual_sd=spread, predictor_sd=1.0)
    spread = error * float(np.sqrt(golfers))
    if finding.level == "group":
        return 2 * golfers_needed(width=width, swings=1, between_sd=spread / 2, within_sd=0.0)
    return golfers_needed_within(width=width, swings=3, slope_sd=spread, residual_sd=0.0, predictor_sd=1.0)


def rule(finding: Finding, p: float, expect: str) -> str:
    """Key of the reading of one line by the rules."""
    smallest = finding.smallest_effect
    if np.isfinite(smallest) and -smallest < finding.ci90_low and finding.ci90_high < smallest:
        return "too_small"
    if not p < ALPHA:
        return "not_settled"
    if expect == "either":
        return "relation"
    return "borne_out" if (finding.estimate > 0) == (expect == "positive") else "contradicted"
