"""Conclusions (readings) of a study's questions, from Holm-adjusted p values and the agreement of several methods."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from swinglab.answers.lines import read_as
from swinglab.answers.planning import CHANCE, MOST, needed
from swinglab.answers.rules import ALPHA
from swinglab.finding_words import READINGS, SAMPLES, SETTLES, Note, words
from swinglab.records import Comparison, Finding, Hunch, Lesson
from swinglab.statistics.multiplicity import adjust

Question = Hunch | Comparison | Lesson
#: Methods that answer the same question under other assumptions and must support a reading, by level.
COMPANIONS = {
    "within": ("cluster_robust", "wild_bootstrap", "own_slopes"),
    "between": ("cluster_robust", "wild_bootstrap"),
    "group": ("cluster_robust", "wild_bootstrap", "welch_smaller_group"),
    "golfer": ("block_signs", "differences"),
}
#: Name of the family of all questions about golfers in general, over which p values are adjusted.
STUDY = "study"


def judge(
    findings: Sequence[Finding], questions: Sequence[Question] | Mapping[str, Question]
) -> tuple[Finding, ...]:
    """Adjust the p values of primary findings by Holm's method and give each its reading (conclusion).

    The first rule that applies gives the reading. (1) Too small to matter: the 90 % interval lies inside +/-
    smallest_effect, even if it excludes 0. (2) Borne out: adjusted p is below .05 and the sign is the expected one
    (or either sign was expected). (3) Contradicted: adjusted p is below .05 and the sign is the opposite one.
    (4) Not settled, with the number of golfers or swings that would settle the question.

    The required supplementary methods must support the reading; if one does not, the reading becomes "not settled",
    because the methods disagree. To support (2) or (3), a method must give the same sign and an unadjusted p below
    .05. To support (1), the method's 80 % interval must lie inside +/- smallest_effect.

    p is adjusted within families of questions: those about one golfer form that golfer's family, those about golfers
    in general form the study's family, and a question's own `family` overrides this. A lesson counts as two tests,
    of strike and of posture, because its reading may claim a change of either. Rule (1) is not adjusted for the
    number of questions.

    Parameters
    ----------
    findings : sequence of Finding
        All findings of a study. A finding without an estimate, or that already has a reading, is not changed.
    questions : sequence or mapping of Hunch, Comparison, Lesson
        The questions; findings refer to them by name.

    Returns
    -------
    tuple of Finding
        The same findings in the same order. Those of primary methods have p_adjusted, family and reading; the
        finding on a lesson's change of posture has p_adjusted.
    """
    named = (
        questions if isinstance(questions, Mapping) else {question.name: question for question in questions}
    )
    judged = list(findings)
    families: dict[str, list[int]] = {}
    for place, finding in enumerate(findings):
        if finding.role == "default":
            families.setdefault(family_of(finding, named.get(finding.name)), []).append(place)
    for family, places in families.items():
        steps = [place for i in places for place in _posture_steps(findings, i, named)]
        adjusted = adjust([findings[i].p for i in (*places, *steps)])
        for place, p in zip((*places, *steps), adjusted, strict=True):
            judged[place] = replace(findings[place], p_adjusted=float(p))
        for place in places:
            finding = replace(judged[place], family=family)
            if not finding.reading_key:
                beside = [
                    f
                    for f in judged
                    if f.role == "beside" and f.name == finding.name and f.per == finding.per
                ]
                finding = read_line(finding, beside, named.get(finding.name))
            judged[place] = finding
    return tuple(judged)


def _posture_steps(findings: Sequence[Finding], place: int, named: Mapping[str, Question]) -> list[int]:
    """Return the indices of the findings on a lesson's change of posture; empty for other questions.

    `place` : index of the lesson's primary finding. p of posture and strike are adjusted together.
    """
    lesson, line = named.get(findings[place].name), findings[place]
    if not isinstance(lesson, Lesson) or line.reading_key or not np.isfinite(line.estimate):
        return []
    return [i for i, f in enumerate(findings) if f.name == line.name and _is_posture_step(f, lesson)]


def _is_posture_step(line: Finding, lesson: Lesson) -> bool:
    own = line.role == "beside" and line.outcome == lesson.of and line.event == lesson.event
    return own and line.method_key == "step_beside_trend" and np.isnan(line.placement_deg)


def family_of(finding: Finding, question: Question | None) -> str:
    """Return the name of the family of questions over which the p value of a finding is adjusted."""
    if question is not None and question.family:
        return question.family
    return f"golfer {finding.golfer}" if finding.level == "golfer" and finding.golfer else STUDY


def read_line(finding: Finding, beside: Sequence[Finding], question: Question | None) -> Finding:
    """Return a primary finding with its reading, from its adjusted p and from supplementary findings (`beside`)."""
    if not np.isfinite(finding.estimate):
        return read_as(finding, Note("not_settled", settles=""))
    if isinstance(question, Lesson):
        return _read_lesson(finding, beside, question)
    expect = getattr(question, "expect", "either")
    key = rule(finding, finding.p_adjusted, expect)
    failing = [f for f in companions(finding, beside) if not supports(f, finding, key)]
    if failing:
        return _disagree(finding, failing[0])
    if key == "not_settled":
        return _not_settled(finding)
    if finding.kind == "comparison" and key == "relation":
        return read_as(finding, Note("difference"))
    return read_as(finding, Note(key, sample=SAMPLES[finding.level]))


def rule(finding: Finding, p: float, expect: str) -> str:
    """Return the key of the reading that a finding has by itself, without regard to the supplementary methods.

    `p` : adjusted p value. `expect` : expected sign, "positive", "negative" or "either".
    """
    smallest = finding.smallest_effect
    if np.isfinite(smallest) and -smallest < finding.ci90_low and finding.ci90_high < smallest:
        return "too_small"
    if not p < ALPHA:
        return "not_settled"
    if expect == "either":
        return "relation"
    return "borne_out" if (finding.estimate > 0) == (expect == "positive") else "contradicted"


def companions(finding: Finding, beside: Sequence[Finding]) -> list[Finding]:
    """Return the findings of supplementary methods that must support a primary finding.

    They have the same quantities and level as `finding`, and their method is listed in `COMPANIONS`.
    """
    names = ("level", "outcome", "predictor", "event", "per", "unit", "golfer")
    return [
        f for f in beside
        if f.method_key in COMPANIONS.get(finding.level, ())
        and all(getattr(f, name) == getattr(finding, name) for name in names)
    ]  # fmt: skip


def supports(companion: Finding, finding: Finding, key: str) -> bool:
    """Return whether a supplementary finding supports the reading `key` of a primary finding.

    A supplementary finding without the needed p value or interval counts as support.
    """
    if key == "not_settled":
        return True
    if key == "too_small":
        known = np.isfinite(companion.ci80_low) and np.isfinite(companion.ci80_high)
        small = finding.smallest_effect
        unbounded = np.isinf(companion.ci80_low) or np.isinf(companion.ci80_high)
        return not unbounded and (not known or (-small < companion.ci80_low and companion.ci80_high < small))
    if not np.isfinite(companion.p):
        return True
    return companion.p < ALPHA and companion.estimate * finding.estimate > 0


def _disagree(finding: Finding, failing: Finding) -> Finding:
    return replace(
        read_as(finding, Note("methods_disagree", method=failing.method)), not_supported_by=failing.method_key
    )


def _not_settled(finding: Finding) -> Finding:
    need = needed(finding)
    return replace(read_as(finding, Note("not_settled", settles=what_settles(finding, need))), needed=need)


def what_settles(finding: Finding, need: float) -> str:
    """Return as text how many golfers or swings would settle a question.

    `need` : the result of `planning.needed`; NaN if it is not known, infinite if it is too large to report.
    """
    what = "swings" if finding.level == "golfer" else "golfers"
    if np.isnan(need):
        key = "no_smallest" if np.isnan(finding.smallest_effect) else "more"
        return words(SETTLES[key], what=what)
    now = finding.n_swings if finding.level == "golfer" else finding.n_golfers
    key, number = ("number", need) if need <= MOST else ("beyond", MOST)
    return words(
        SETTLES[key], number=number, what=what, now=now, chance=CHANCE, smallest=finding.smallest_effect,
        unit=finding.unit,
    )  # fmt: skip


def _read_lesson(finding: Finding, beside: Sequence[Finding], lesson: Lesson) -> Finding:
    """Return a lesson's primary finding with its reading.

    The reading "changed" needs a step of posture and of strike in the model with a trend. The posture must
    have moved toward its target range, and the strike in the expected direction. A posture that moved away
    from the range or past it decides the reading before the direction of the strike is examined.
    """
    posture = [f for f in beside if f.outcome == lesson.of and f.event == lesson.event]
    steps = [f for f in posture if _is_posture_step(f, lesson)]
    moved = any(
        f.p_adjusted < ALPHA and all(supports(c, f, "relation") for c in companions(f, posture))
        for f in steps
    )
    aim = steps[0].aim if steps else ""
    key = rule(finding, finding.p_adjusted, "either")
    if key == "relation":
        failing = [f for f in companions(finding, beside) if not supports(f, finding, key)]
        if failing:
            return _disagree(finding, failing[0])
        return read_as(finding, Note(_change(finding, lesson, moved, aim)))
    weight = finding.p_adjusted / finding.p if finding.p > 0 else 1.0
    plain = [
        f
        for f in beside
        if f.method_key == "step_without_trend" and f.outcome == lesson.outcome and not f.event
    ]
    if key == "not_settled" and any(rule(f, min(1.0, f.p * weight), "either") == "relation" for f in plain):
        return read_as(finding, Note("lesson_drift"))
    if moved:
        away = aim in ("away", "past")
        note = Note(
            f"lesson_posture_{aim}" if away else "lesson_posture_only",
            strike=words(READINGS[key], settles=""),
        )
        return read_as(finding, note)
    return _not_settled(finding) if key == "not_settled" else read_as(finding, Note(key))


def _change(finding: Finding, lesson: Lesson, moved: bool, aim: str) -> str:
    """Return the key of a lesson's reading if the strike changed in the model with a trend.

    `moved` : whether the posture changed too. `aim` : how the posture moved (see `Aim.moved`); "" without a
    target.
    """
    if moved and aim in ("away", "past"):
        return f"lesson_{aim}"
    if lesson.expect != "either" and (finding.estimate > 0) != (lesson.expect == "positive"):
        return "lesson_against"
    if not moved:
        return "lesson_strike_only"
    return "lesson_undirected" if lesson.expect == "either" or not aim else "lesson_changed"
