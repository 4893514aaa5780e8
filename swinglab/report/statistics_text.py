"""The statistics part of the methods text: questions, models, companion methods, rules, errors, seeds and draws."""

from __future__ import annotations

import inspect
from collections.abc import Sequence

import numpy as np

from swinglab import columns
from swinglab.answers.drift import OWN_DRIFT_FROM
from swinglab.answers.judging import COMPANIONS, STUDY
from swinglab.answers.planning import CHANCE
from swinglab.answers.rules import ALPHA, FEWEST_GOLFERS, FEWEST_IN_A_GROUP
from swinglab.finding_words import method_words_of
from swinglab.records import Comparison, Finding, Hunch, Lesson
from swinglab.report.wording import at_event, count, label
from swinglab.statistics.autoregression import PRIOR_POWER
from swinglab.statistics.wild import FEWEST_FOR_SIGNS, MOST_FOR_ALL_PATTERNS, wild_bootstrap
from swinglab.study import Study

Question = Hunch | Comparison | Lesson
LEVELS = {"within": "within golfers", "between": "between golfers", "group": "groups of golfers",
          "golfer": "one golfer"}  # fmt: skip


def statistics_text(study: Study, findings: Sequence[Finding]) -> str:
    """Return the paragraphs of the methods text on statistics; they describe only methods that these findings used."""
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
    return f"The study asks {count(len(default), 'question')} in study.toml ({asked}):\n\n{listed}"


def _question(finding: Finding, question: Question | None) -> str:
    """One question: level, judged method, golfers and swings, what was expected, and the smallest effect."""
    asked = label(finding.outcome) + (f" on {label(finding.predictor)}" if finding.kind == "hunch" else "")
    asked += at_event(finding.event)
    if isinstance(question, Lesson):
        posture = columns.quantity_column(question.of).label
        asked = f"{posture.lower()}{at_event(question.event or '')} and {label(finding.outcome)}"
    facts = [asked, LEVELS[finding.level], f"method: {finding.method}"]
    facts.append(f"{count(finding.n_golfers, 'golfer')}, {count(finding.n_swings, 'swing')}")
    if question is not None and getattr(question, "expect", "either") != "either":
        facts.append(f"expected sign: {getattr(question, 'expect', '')}")
    known = np.isfinite(finding.smallest_effect)
    per = f" per {finding.per}" if finding.kind == "hunch" else ""
    facts.append(
        f"smallest effect that matters {finding.smallest_effect:g} {finding.unit}{per}"
        if known
        else "no smallest effect"
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
        f"Errors given for this set-up, as standard deviations ([errors] of study.toml): {', '.join(given)}. "
        "Slopes were corrected for the error of the posture, each error at its own level (Fuller 1987): noise, "
        "event timing and soft tissue within golfers; landmark placement between golfers, its variance divided "
        "by each golfer's number of sessions."
    )


def _within(findings: Sequence[Finding]) -> str:
    keys = {key for f in findings for key in f.warning_keys}
    centred = (
        "golfer, session and kind of swing (club and shot)"
        if "kinds_centred" in keys
        else "golfer and session"
    )
    drift = (
        "No drift was removed, because the order of the swings is not known. "
        if "no_order" in keys
        else f"A linear drift over the session was removed from posture and strike: a separate line for each golfer "
        f"with at least {OWN_DRIFT_FROM} swings in known order, one common line for the others. "
    )
    return (
        "Within golfers, posture and covariates of each swing, but not the strike, were taken as deviations from "
        f"the means of its {centred}. {drift}The model has a fixed slope, a random intercept and a random slope "
        "for each golfer, which may be correlated, and a random intercept for each session where golfers have "
        "several. It was fitted by restricted maximum likelihood (REML) with Satterthwaite degrees of freedom "
        "(Kuznetsova et al. 2017), capped at one less than the number of golfers whose posture varies."
    )


def _between(keys: set[str]) -> str:
    welch = (
        "Two groups without covariates were compared by Welch's t test on golfer means (at least "
        f"{FEWEST_IN_A_GROUP} golfers in each). " if "welch" in keys else ""
    )  # fmt: skip
    return (
        f"{welch}{'Other questions' if welch else 'Questions'} between golfers were answered by regression on "
        "golfer means, in which each golfer counts once; t has G − p degrees of freedom, for G golfers and p "
        f"coefficients. With fewer than {FEWEST_GOLFERS} golfers no claim is made about golfers in general."
    )


def _one_golfer(default: list[Finding]) -> str:
    running = sum(f.reading_key == "lesson_running" for f in default)
    still = (
        f" {count(running, 'lesson')} still running: limits valid at every look (normal mixture, Robbins 1970), no "
        "verdict." if running else ""
    )  # fmt: skip
    return (
        "One golfer's swings were analysed as a series: regression with first-order autoregressive errors and a "
        "linear trend, fitted by restricted maximum likelihood. p and intervals are averaged over the possible "
        "values of the autocorrelation phi, weighted by its restricted likelihood and a weak prior, (1 + r "
        f"phi)^-{PRIOR_POWER:g}, where r is the lag-one autocorrelation of the predictor. The correction for the "
        "error of the posture was made after the autocorrelation had been removed. The answer to a lesson reads "
        "as a change only if posture and strike both show a step in a model that also has a trend; both tests "
        "are counted in Holm's family. One before/after series cannot exclude that something else changed at the "
        f"same time.{still}"
    )


def _companions(levels: set[str]) -> str:
    listed = "\n".join(
        f"- {LEVELS[level]}: " + "; ".join(f"({n}) {method_words_of(key)}" for n, key in enumerate(keys, 1))
        for level, keys in COMPANIONS.items()
        if level in levels
    )
    return (
        "Each judged answer was compared with companions: other methods that estimate the same quantity under "
        f"other assumptions.\n\n{listed}"
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
        "Each answer has one reading. Too small to matter: the 90 % interval lies inside plus and minus the "
        "smallest effect. Otherwise a direction (borne out, contradicted, or a relation was found): p adjusted "
        f"by Holm's method (Holm 1979) is below {ALPHA:g}. Otherwise not settled. The companions must support the "
        "first two. Too small to matter stands only if the 80 % interval of every companion, too, lies inside "
        "plus and minus the smallest effect; a direction stands only if every companion has the sign of the "
        f"judged answer and an unadjusted p below {ALPHA:g}. Without that support the answer is not settled, "
        f"because methods disagree. Holm's method counts the answers of a family: {listed}. The reading too small "
        "to matter is not adjusted for the number of questions. Other intervals are 95 %. Where a question is "
        "not settled, the number of golfers or swings that would settle it was calculated for a probability of "
        f"{CHANCE:g} of the right reading."
    )


def _draws() -> str:
    drawn = inspect.signature(wild_bootstrap).parameters
    return (
        f"The wild cluster bootstrap imposes the null hypothesis. With {FEWEST_FOR_SIGNS} to "
        f"{MOST_FOR_ALL_PATTERNS} golfers it takes all patterns of signs, otherwise {drawn['samples'].default:,} "
        f"random draws (with Webb's six weights below {FEWEST_FOR_SIGNS} golfers), seed {drawn['seed'].default}."
    )
