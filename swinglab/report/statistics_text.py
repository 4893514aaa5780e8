"""The statistics part of the methods text: questions, models, supplementary methods, rules, errors, seeds and draws."""

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
from swinglab.report.wording import at_event, count, label, unit_words
from swinglab.statistics.attenuation import MOST_ERROR
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
        _one_golfer() if "golfer" in levels else "",
        _supplementary(levels),
        _rules(findings, default),
        _lessons(default),
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
    methods = (
        "\n\nMeasurement methods are the kind of capture and the ways in which segment frames, arm, ball and impact "
        'were found. Where the line of a question above says "adjusted for measurement method", those that the '
        "question depends on differed between its swings, and the model has a term for each combination of them that "
        "occurs, except one. Within "
        "golfers this is so only if the method differed between swings of one golfer, session, club and shot. Lessons, "
        "comparisons of the same golfers in both groups, and comparisons with fewer than "
        f"{FEWEST_GOLFERS} golfers, or fewer than {FEWEST_IN_A_GROUP} in a group, have no such term."
        if any("several_ways" in f.warning_keys for f in default) else ""
    )  # fmt: skip
    return f"The study asks {count(len(default), 'question')} in study.toml ({asked}):\n\n{listed}{methods}"


def _question(finding: Finding, question: Question | None) -> str:
    """One question: level, judged method, golfers and swings, what was expected, and the smallest effect."""
    asked = label(finding.outcome) + at_event(finding.event)
    if finding.kind == "hunch":
        asked = (
            f"regression of {label(finding.outcome)} on {label(finding.predictor)}{at_event(finding.event)}"
        )
    if isinstance(question, Lesson):
        posture = columns.quantity_column(question.of).label
        asked = f"{posture.lower()}{at_event(question.event or '')} and {label(finding.outcome)}"
    facts = [asked, LEVELS[finding.level], f"method: {finding.method}"]
    facts.append(f"{count(finding.n_golfers, 'golfer')}, {count(finding.n_swings, 'swing')}")
    if isinstance(question, Lesson) and (aim := _aim(question)):
        facts.append(aim)
    if question is not None and getattr(question, "expect", "either") != "either":
        of = f" of the change in {label(finding.outcome)}" if isinstance(question, Lesson) else ""
        facts.append(f"expected sign{of}: {getattr(question, 'expect', '')}")
    known = np.isfinite(finding.smallest_effect)
    per = f" per {finding.per}" if finding.kind == "hunch" else ""
    if isinstance(question, Lesson) and not finding.unit.startswith("share of"):
        per = f" of {label(finding.outcome)}"
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


def _aim(lesson: Lesson) -> str:
    """Return the target range of a lesson's posture in words; empty if it has none."""
    unit = unit_words(columns.quantity_column(lesson.of).unit)
    if lesson.target is not None:
        return f"aim {lesson.target[0]:g} to {lesson.target[1]:g} {unit}"
    if lesson.target_value is None:
        return ""
    if lesson.target_width is None:
        return f"aim {lesson.target_value:g} {unit} plus and minus its standard deviation before the lesson"
    return f"aim {lesson.target_value:g} {unit} plus and minus {lesson.target_width:g} {unit}"


def _errors(study: Study) -> str:
    known = study.errors
    given = [
        f"{name} {value:g} deg" if value is not None else f"{name} not known"
        for name, value in (("marker placement", known.placement_deg), ("soft tissue", known.soft_tissue_deg))
    ]
    unknown = known.placement_deg is None or known.soft_tissue_deg is None
    return (
        f"Errors given for this set-up, as standard deviations ([errors] of study.toml): {', '.join(given)}. "
        f"{'In the primary results, an error that is not known is taken as 0. ' if unknown else ''}Slopes were "
        "corrected for the error of the posture by the method of moments for errors in variables (Fuller 1987): the "
        "slope was multiplied by s² / (s² − v), where s² is the observed variance of the posture at the level of the "
        "question and v the variance of its error at this level. The standard error of the slope includes the "
        f"uncertainty of s² (delta method). Where v is {100 * MOST_ERROR:g} % of s² or more, no correction was made. "
        "Noise, event timing and soft tissue are errors within golfers; in golfers' means, their variance is divided "
        "by the golfer's number of swings. Landmark placement is an error between golfers; its variance is divided "
        "by the golfer's number of sessions."
    )


def _within(findings: Sequence[Finding]) -> str:
    keys = {key for f in findings for key in f.warning_keys}
    centred = (
        "mean of the golfer's swings of the same kind (club and shot) in the session"
        if "kinds_centred" in keys
        else "mean of the golfer's swings in the session"
    )
    several = "session and kind of swing" if "kinds_centred" in keys else "session"
    drift = (
        "No drift was removed, because the order of the swings is not known. "
        if "no_order" in keys
        else "A linear drift over the session was removed from posture, covariates and strike, with one slope for each "
        f"golfer with at least {OWN_DRIFT_FROM} swings in known order (the same in all of the golfer's sessions), and "
        "one common slope for the other golfers. "
    )
    return (
        "For questions within golfers, posture and covariates, but not the strike, were centred on the "
        f"{centred}. {drift}The model has a common (fixed) intercept and slope, a random intercept and a random slope "
        f"for each golfer, which may be correlated with each other, and a random intercept for each {several} where "
        "golfers have several. It was fitted by restricted maximum likelihood (REML) with Satterthwaite degrees of "
        "freedom (Kuznetsova et al. 2017), which were limited to one less than the number of golfers whose posture "
        "varies."
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


def _one_golfer() -> str:
    return (
        "One golfer's swings were analysed as a series: regression with first-order autoregressive errors and a "
        "linear trend, fitted by restricted maximum likelihood. p and intervals are averaged over the possible "
        "values of the autocorrelation phi, weighted by its restricted likelihood and a weak prior, (1 + r "
        f"phi)^-{PRIOR_POWER:g}, where r is the lag-one autocorrelation of the predictor. For the correction of a "
        "slope, the variances of the posture and of its error were computed after prewhitening with the estimated "
        "autocorrelation."
    )


def _supplementary(levels: set[str]) -> str:
    listed = "\n".join(
        f"- {LEVELS[level]}: "
        + "; ".join(
            f"({n}) {method_words_of(key)}{', for hunches only' if key == 'differences' else ''}"
            for n, key in enumerate(keys, 1)
        )
        for level, keys in COMPANIONS.items()
        if level in levels
    )
    return (
        "Each primary result was compared with supplementary methods, which estimate the same quantity under other "
        f"assumptions.\n\n{listed}"
    )


def _tests(findings: Sequence[Finding], default: list[Finding]) -> dict[str, int]:
    """Return the number of p values over which Holm's method adjusts, by family: a lesson has two steps."""
    sizes: dict[str, int] = {}
    for finding in default:
        steps = [f for f in findings if f.role == "beside" and f.method_key == "step_beside_trend"]
        own = [finding, *(f for f in steps if f.name == finding.name)]
        sizes[finding.family] = sizes.get(finding.family, 0) + sum(np.isfinite(f.p_adjusted) for f in own)
    return sizes


def _rules(findings: Sequence[Finding], default: list[Finding]) -> str:
    listed = ", ".join(
        f"{'golfers in general' if name == STUDY else name} ({count(n, 'test')})"
        for name, n in _tests(findings, default).items()
        if n
    )
    keys = {f.reading_key for f in default}
    more = ""
    if keys & {"no_claim", "not_answered"}:
        more += (
            f" No claim about golfers in general was made from fewer than {FEWEST_GOLFERS} golfers, or fewer than "
            f"{FEWEST_IN_A_GROUP} in a group. A question for which the data gave no answer is marked as not answered."
        )
    if keys & {"found_only", "confirmed", "held_again", "repeated"}:
        more += (
            " A question that a search had found was tested only on swings that were not searched. If it is "
            "borne out, or a difference is found, the reading is: confirmed, in golfers who were not searched (for one "
            "golfer, in later sessions); found again, in other sessions of the searched golfers; or repeated, in other "
            "swings of the searched sessions. Without such swings it is not confirmed and has no p value."
        )
    return (
        "Each answer to a hunch or a comparison has one reading, from the first rule that applies. (1) Too small to "
        "matter: the 90 % interval lies between minus and plus the smallest effect. (2) A relation or a difference "
        "(of the expected sign: borne out; of the opposite sign: contradicted): the p value, adjusted by Holm's "
        f"method (Holm 1979), is below {ALPHA:g}. (3) Otherwise: not settled. Readings 1 and 2 also need the support "
        "of every supplementary method listed above that gives the required interval or p value: for 1, its 80 % "
        "interval lies between minus and plus the smallest effect; for 2, its estimate has the same sign and its "
        f"unadjusted p value is below {ALPHA:g}. Otherwise the answer is not settled, because methods disagree.{more} "
        f"p values are adjusted within families: {listed}. Rule 1 is not adjusted for the number of questions. Other "
        "intervals are 95 %. Where a question is not settled, the number of golfers or swings that would settle it "
        f"was calculated for a probability of {CHANCE:g} of the right reading."
    )


def _lessons(default: list[Finding]) -> str:
    lessons = [f for f in default if f.kind == "lesson"]
    if not lessons:
        return ""
    running = sum(f.reading_key == "lesson_running" for f in lessons)
    still = (
        f" {count(running, 'lesson')} still running: limits valid at every look (normal mixture, Robbins 1970), no "
        "verdict." if running else ""
    )  # fmt: skip
    return (
        "A lesson is judged by two steps (changes of level), of posture and of strike, in models that also contain a "
        "linear trend; both tests are counted in Holm's family. The aim of a lesson is the target range of its "
        "posture, from study.toml. By the means before and after, the posture moved past the aim if it went from one "
        "side of the range to the other, and away from it if it began in the range and ended outside, or began outside "
        "and did not come closer to it. A step is found if its adjusted p value is below "
        f"{ALPHA:g} and, where there are enough swings for the sign-flip test, its unadjusted p value is too. The "
        "reading follows from the first rule that applies. (1) Too small to matter: the 90 % interval of the step of "
        "the strike lies between minus and plus the smallest effect. (2) The step of the strike has an adjusted p "
        f"value below {ALPHA:g}. If the sign-flip test does not support it, the answer is not settled, because "
        "methods disagree. Otherwise the strike changed: with a step of the posture away from its aim or past it "
        "(changed, away from or past the aim), opposite to the expected sign (changed against expectation), without "
        "a step of the posture (only the strike changed), with no expected sign or no aim (direction not judged), or "
        "in all other cases changed as expected. (3) In a model without a trend, the step of the strike has a p "
        f"value below {ALPHA:g}, adjusted by the same factor as that of the model with the trend, and its 90 % "
        "interval does not lie between minus and plus the smallest effect: not settled, because drift alone could "
        "explain the difference. (4) Otherwise: not settled. After rules 1 and 4, a step of the posture, if one was "
        "found, is stated as well. With one before-after series it cannot be excluded that something else changed at "
        f"the same time.{still}"
    )


def _draws() -> str:
    drawn = inspect.signature(wild_bootstrap).parameters
    return (
        f"The wild cluster bootstrap imposes the null hypothesis. With {FEWEST_FOR_SIGNS} to "
        f"{MOST_FOR_ALL_PATTERNS} golfers it takes all patterns of signs, otherwise {drawn['samples'].default:,} "
        f"random draws (with Webb's six weights below {FEWEST_FOR_SIGNS} golfers), seed {drawn['seed'].default}."
    )
