"""The statistics part of the methods text: questions, models, companions, reading rules, errors, seeds and draws."""

from __future__ import annotations

import inspect
from collections.abc import Sequence

import numpy as np

from swinglab.answers.drift import OWN_DRIFT_FROM
from swinglab.answers.judging import COMPANIONS, STUDY
from swinglab.answers.planning import CHANCE
from swinglab.answers.rules import ALPHA, FEWEST_GOLFERS, FEWEST_IN_A_GROUP
from swinglab.finding_words import method_words_of
from swinglab.records import Comparison, Finding, Hunch, Lesson
from swinglab.report.wording import count
from swinglab.statistics.autoregression import PRIOR_POWER
from swinglab.statistics.wild import FEWEST_FOR_SIGNS, MOST_FOR_ALL_PATTERNS, wild_bootstrap
from swinglab.study import Study

Question = Hunch | Comparison | Lesson


def statistics_text(study: Study, findings: Sequence[Finding]) -> str:
    """The paragraphs on statistics; each is about what these findings used."""
    if not findings:
        return ""
    default = [f for f in findings if f.role == "default"]
    keys = {f.method_key for f in findings}
    levels = {f.level for f in findings}
    parts = [
        _questions(study, default),
        _errors(study),
        _within(findings) if "within" in levels else "",
        _between(keys) if levels & {"between", "group"} else "",
        _one_golfer(default) if "golfer" in levels else "",
        _companions(levels),
        _rules(default),
        _draws(),
    ]
    return "\n\n".join(part for part in parts if part)


def _questions(study: Study, default: list[Finding]) -> str:
    kinds = (
        (len(study.hunches), "hunch", "hunches"),
        (len(study.comparisons), "comparison", "comparisons"),
        (len(study.lessons), "lesson", "lessons"),
    )
    asked = ", ".join(f"{n} {one if n == 1 else many}" for n, one, many in kinds if n)
    named = {question.name: question for question in study.questions}
    listed = "\n".join(_question(f, named.get(f.name)) for f in default)
    return f"{count(len(default), 'answer')} to questions named in study.toml ({asked}):\n\n{listed}"


def _question(finding: Finding, question: Question | None) -> str:
    """One question: level, judged method, golfers and swings, what was expected, and the smallest effect."""
    facts = [f"level {finding.level}", f"judged by {finding.method}"]
    facts.append(f"{count(finding.n_golfers, 'golfer')}, {count(finding.n_swings, 'swing')}")
    if question is not None and getattr(question, "expect", "either") != "either":
        facts.append(f"expected {getattr(question, 'expect', '')}")
    known = np.isfinite(finding.smallest_effect)
    per = f" per {finding.per}" if finding.kind == "hunch" else ""
    facts.append(
        f"smallest effect {finding.smallest_effect:g} {finding.unit}{per}" if known else "no smallest effect"
    )
    if question is not None and question.where:
        facts.append(
            "swings with " + "; ".join(f"{k} {', '.join(map(str, v))}" for k, v in question.where.items())
        )
    return f"- {finding.name}: " + "; ".join(facts) + "."


def _errors(study: Study) -> str:
    known = study.errors
    given = [
        f"{name} {value:g} deg" if value is not None else f"{name} not known"
        for name, value in (("marker placement", known.placement_deg), ("soft tissue", known.soft_tissue_deg))
    ]
    return (
        f"Errors of the set-up ([errors]): {', '.join(given)}. Slopes were corrected for the error of the posture, "
        "each error at its own level (Fuller 1987): noise, timing and soft tissue within golfers, landmark "
        "placement between them, divided by each golfer's number of sessions."
    )


def _within(findings: Sequence[Finding]) -> str:
    keys = {key for f in findings for key in f.warning_keys}
    centred = (
        "golfer, session and kind of swing (club and shot)"
        if "kinds_centred" in keys
        else "golfer and session"
    )
    drift = (
        "No drift was taken out, because the order of the swings is not known. "
        if "no_order" in keys
        else f"A straight drift over the session was taken out of posture and strike: each golfer's own from "
        f"{OWN_DRIFT_FROM} swings in known order on, one shared by the others. "
    )
    return (
        f"Within golfers, each swing was taken as its deviation from the mean of its {centred}. {drift}The model has "
        "a fixed slope, and for each golfer an intercept and a slope that may be correlated, with an intercept for "
        "each session where golfers have several; fitted by restricted maximum likelihood with Satterthwaite "
        "degrees of freedom (Kuznetsova et al. 2017), at most the golfers whose posture varies, less 1."
    )


def _between(keys: set[str]) -> str:
    welch = (
        "Two groups without covariates were compared by Welch's t test on golfer means (at least "
        f"{FEWEST_IN_A_GROUP} golfers in each). " if "welch" in keys else ""
    )  # fmt: skip
    return (
        f"{welch}{'Other answers' if welch else 'Answers'} between golfers are regressions on golfer means, each "
        "golfer counting once, t with "
        "the number of golfers less the number of coefficients as degrees of freedom. With fewer than "
        f"{FEWEST_GOLFERS} golfers no claim is made about golfers in general."
    )


def _one_golfer(default: list[Finding]) -> str:
    running = sum(f.reading_key == "lesson_running" for f in default)
    still = (
        f" {count(running, 'lesson')} still running: limits valid at every look (normal mixture, Robbins 1970), no "
        "verdict." if running else ""
    )  # fmt: skip
    return (
        "One golfer's swings were analysed as a series: regression with first-order autoregressive errors and a "
        "straight trend, fitted by restricted maximum likelihood; p and intervals are averaged over the "
        "autocorrelation, weighted by its restricted likelihood and a mild prior (1 + r phi)^-"
        f"{PRIOR_POWER:g}, r being the lag-one autocorrelation of the predictor. The error of the posture was "
        "corrected for after whitening. A lesson is called a change only where the step remains with a trend in the "
        "model in posture and strike, both counted in its family of p; one before/after series cannot exclude other "
        f"events.{still}"
    )


def _companions(levels: set[str]) -> str:
    listed = "; ".join(
        f"{level}: " + ", ".join(method_words_of(key) for key in keys)
        for level, keys in COMPANIONS.items()
        if level in levels
    )
    return (
        f"Each judged answer has companions on other assumptions that estimate the same quantity ({listed})."
    )


def _rules(default: list[Finding]) -> str:
    families: dict[str, int] = {}
    for finding in default:
        families[finding.family] = families.get(finding.family, 0) + 1
    listed = ", ".join(
        f"{'golfers in general' if name == STUDY else name} ({count(n, 'answer')})"
        for name, n in families.items()
    )
    return (
        f"Readings, in this order: too small to matter, where the 90 % interval lies inside the smallest effect; a "
        f"direction, where p adjusted by Holm's method (Holm 1979) is below {ALPHA:g}; else not settled. A "
        f"direction stands only if every companion has its sign and an unadjusted p below {ALPHA:g}, too small only "
        "if the companions' 80 % intervals lie inside the smallest effect. Too small is not adjusted for the number "
        f"of questions. Families of p: {listed}. Other intervals are 95 %. Numbers that would settle an open "
        f"question are planned for the right reading with a chance of {CHANCE:g}."
    )


def _draws() -> str:
    drawn = inspect.signature(wild_bootstrap).parameters
    return (
        f"The wild cluster bootstrap imposes the null hypothesis and takes all sign patterns from "
        f"{FEWEST_FOR_SIGNS} to {MOST_FOR_ALL_PATTERNS} golfers, else {drawn['samples'].default:,} draws (Webb's six "
        f"weights below {FEWEST_FOR_SIGNS} golfers), seed {drawn['seed'].default}."
    )
