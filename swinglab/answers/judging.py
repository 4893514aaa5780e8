"""The readings of a study's questions: p by Holm over all of them, then the rules in their order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from scipy import stats

from swinglab.answers.lesson import WITHOUT_TREND
from swinglab.records import Comparison, Finding, Hunch, Lesson
from swinglab.statistics.multiplicity import adjust
from swinglab.statistics.power import golfers_needed, golfers_needed_within, swings_needed

Question = Hunch | Comparison | Lesson
ALPHA = 0.05
#: More golfers or swings than this are no plan.
_MOST = 1000
TOO_SMALL = "too small to matter"
BORNE_OUT = "borne out"
RELATION = "a relation was found"
CONTRADICTED = "contradicted"
NOT_SETTLED = "not settled"
DISAGREE = "methods disagree"
DIFFERENCE = "a difference was found"
WORKED = "worked: posture and strike changed, and the change of the strike holds beside a drift"
STRIKE_ONLY = "the strike changed, beside a drift too, but a change of the posture was not found"
DRIFT = "a change, which drift alone could explain"
POSTURE_ONLY = "the posture changed, a change of the strike was not found"


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
        if not finding.reading:
            beside = [
                f for f in findings if f.role == "beside" and f.name == finding.name and f.per == finding.per
            ]
            finding = replace(finding, reading=_read(finding, beside, named.get(finding.name)))
        judged[place] = finding
    return tuple(judged)


def _read(finding: Finding, beside: Sequence[Finding], question: Question | None) -> str:
    if not np.isfinite(finding.estimate):
        return NOT_SETTLED
    weight = finding.p_adjusted / finding.p if finding.p > 0 else 1.0
    if isinstance(question, Lesson):
        return _read_lesson(finding, beside, question, weight)
    expect = getattr(question, "expect", "either")
    reading = rule(finding, finding.p_adjusted, expect)
    rivals = [f for f in beside if f.method.startswith(("cluster-robust", "wild")) and _alike(f, finding)]
    if any(rule(f, min(1.0, f.p * weight), expect) != reading for f in rivals if np.isfinite(f.p)):
        return f"{NOT_SETTLED}: {DISAGREE}"
    if reading == NOT_SETTLED:
        return f"{NOT_SETTLED}: {what_settles(finding)}"
    return DIFFERENCE if finding.kind == "comparison" and reading == RELATION else reading


def _alike(one: Finding, other: Finding) -> bool:
    """Whether two lines answer the very same question, by different methods."""
    names = ("level", "outcome", "predictor", "event", "per", "unit")
    return all(getattr(one, name) == getattr(other, name) for name in names)


def _read_lesson(finding: Finding, beside: Sequence[Finding], lesson: Lesson, weight: float) -> str:
    """A lesson worked only where the posture changed and the step of the strike holds beside a trend."""
    plain = [f for f in beside if f.method.endswith(WITHOUT_TREND)]
    moved = any(f.p < ALPHA for f in plain if f.outcome == lesson.of and f.event == lesson.event)
    reading = rule(finding, finding.p_adjusted, "either")
    if reading == RELATION:
        return WORKED if moved else STRIKE_ONLY
    steps = [f for f in plain if f.outcome == lesson.outcome and not f.event]
    if reading == NOT_SETTLED and any(rule(f, min(1.0, f.p * weight), "either") == RELATION for f in steps):
        return DRIFT
    if moved:
        return f"{reading}: {POSTURE_ONLY}"
    return f"{reading}: {what_settles(finding)}" if reading == NOT_SETTLED else reading


def what_settles(finding: Finding) -> str:
    """How many golfers or swings would narrow the interval enough to tell, all else as it was found.

    Enough: to +/- smallest_effect where one is named, else to the size of the estimate; where that is reached
    and both answers still stand, to a half or a quarter of it.
    """
    goal = finding.smallest_effect if np.isfinite(finding.smallest_effect) else finding.estimate
    what = "swings" if finding.level == "golfer" else "golfers"
    now = finding.n_swings if finding.level == "golfer" else finding.n_golfers
    if not (abs(goal) > 0 and finding.standard_error > 0):
        return f"more {what}"
    for share in (1.0, 0.5, 0.25):
        half = share * abs(goal)
        need = _needed(finding, 2.0 * half)
        if need > now:
            number = f"about {need:.0f} {what} like these" if need <= _MOST else f"more than {_MOST} {what}"
            return f"{number} ({now} now) would narrow the interval to +/- {half:.2g} {finding.unit}".rstrip()
    return f"more {what}"


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
    """The reading of one line by the rules, without what would settle it."""
    low, high = interval(finding, 0.90)
    smallest = finding.smallest_effect
    if np.isfinite(smallest) and -smallest < low and high < smallest:
        return TOO_SMALL
    if not p < ALPHA:
        return NOT_SETTLED
    if expect == "either":
        return RELATION
    return BORNE_OUT if (finding.estimate > 0) == (expect == "positive") else CONTRADICTED


def interval(finding: Finding, level: float) -> tuple[float, float]:
    """Limits at another level: from standard error and df, else the 95 % limits drawn in as a normal's are."""
    if np.isfinite(finding.standard_error):
        df = finding.df if np.isfinite(finding.df) else np.inf
        half = float(stats.t.ppf((1 + level) / 2, df)) * finding.standard_error
        return finding.estimate - half, finding.estimate + half
    share = float(stats.norm.ppf((1 + level) / 2) / stats.norm.ppf(0.975))
    down, up = finding.estimate - finding.ci_low, finding.ci_high - finding.estimate
    return finding.estimate - share * down, finding.estimate + share * up
