"""The statistics part of the methods text: questions, models, supplementary methods, rules, errors, seeds and draws."""

from __future__ import annotations

import inspect
from collections.abc import Mapping, Sequence

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
        (len(study.hunches), "hunch", "hunches", "is a posture related to an outcome of the strike?"),
        (
            len(study.comparisons),
            "comparison",
            "comparisons",
            "does a quantity differ between groups of golfers?",
        ),
        (len(study.lessons), "lesson", "lessons", "did posture and strike of one golfer change?"),
    )
    asked = "; ".join(f"{n} {one if n == 1 else many} ({words})" for n, one, many, words in kinds if n)
    named = {question.name: question for question in study.questions}
    listed = "\n".join(_question(f, named.get(f.name)) for f in default)
    methods = (
        "\n\nThe measurement method of a swing is the combination of its kind of capture and the ways in which segment "
        "frames, arm, ball and impact were determined, as far as the quantities of the question depend on them. Where "
        'the line of a question above says "adjusted for measurement method", the swings were measured by several '
        "methods, and the model has an indicator variable for each method but one. Within golfers, such a term is "
        "needed only if the method differed between swings of the same golfer, session, club and shot. Lessons, "
        "comparisons of the same golfers in both groups, and comparisons with fewer than "
        f"{FEWEST_GOLFERS} golfers, or fewer than {FEWEST_IN_A_GROUP} in a group, have no such term."
        if any("several_ways" in f.warning_keys for f in default) else ""
    )  # fmt: skip
    levels = (
        "Within golfers means that swings of the same golfer are compared; between golfers means that golfers are "
        "compared by their means. "
        if any(f.level in ("within", "between") for f in default) else ""
    )  # fmt: skip
    return (
        f"The study asks {count(len(default), 'question')}, stated in study.toml: {asked}. {levels}Each "
        "line below gives a question's name, quantities, level, primary method (REML: restricted maximum "
        "likelihood; df: degrees of freedom), data, and, from study.toml, aim, expected sign and smallest effect.\n\n"
        f"{listed}{methods}"
    )


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
        f"smallest effect that matters {finding.smallest_effect:g} {unit_words(finding.unit)}{per}"
        if known
        else "no smallest effect that matters was stated"
    )
    if question is not None and question.where:
        facts.append("swings with " + "; ".join(f"{k} {_selected(v)}" for k, v in question.where.items()))
    return f"- {finding.name}: " + "; ".join(facts) + "."


def _selected(wanted: Mapping[str, float] | Sequence[object]) -> str:
    """Return one condition of `where` in words: a list of values, or the limits of a range."""
    if not isinstance(wanted, Mapping):
        return ", ".join(map(str, wanted))
    low, high = wanted.get("from"), wanted.get("to")
    if low is None:
        return "known" if high is None else f"up to {high:g}"
    return f"{low:g} or more" if high is None else f"{low:g} to {high:g}"


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
    lesson = (
        " It also counts in a lesson whose phases were recorded in different sessions: it is added to the standard "
        "error of the change of an angle." if study.lessons else ""
    )  # fmt: skip
    return (
        "Errors given for this set-up by the study ([errors] of study.toml), as standard deviations of an angle: "
        f"{', '.join(given)}. "
        f"{'In the primary results, an error that is not known is taken as 0. ' if unknown else ''}Slopes were "
        "corrected for the error of the posture by the method of moments for errors in variables (Fuller 1987): "
        "the slope was multiplied by s² / (s² − v), where s² is the observed variance of the posture at the level "
        "of the question and v the variance of its error at this level. The standard error of the slope includes "
        f"the uncertainty of s² (delta method). Where v is {100 * MOST_ERROR:g} % of s² or more, no correction was "
        "made, because the corrected slope would be too uncertain. Errors from noise, event timing and soft "
        "tissue differ from swing to swing; in a golfer's mean, their variance is divided by the golfer's number "
        "of swings. The error of landmark placement is constant within a session; it counts between golfers"
        f"{'' if study.lessons else ' only'}, and its variance is divided by the golfer's number of sessions.{lesson}"
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
        else "A linear drift over the order of swings in a session was removed from posture, covariates and strike. "
        f"Its slope was estimated separately for each golfer with at least {OWN_DRIFT_FROM} swings in known order (one "
        "slope for all of the golfer's sessions), and jointly for the other golfers. "
    )
    return (
        f"For questions within golfers, posture and covariates were centred on the {centred}; the strike was not, "
        "because the random intercepts of the model cover its differences between golfers and sessions. "
        f"{drift}The model has a common (fixed) intercept and slope, a random intercept and a random slope for "
        f"each golfer, which may be correlated with each other, and a random intercept for each {several} where "
        "golfers have several. It was fitted by restricted maximum likelihood (REML) with Satterthwaite degrees "
        "of freedom (Kuznetsova et al. 2017), at most one less than the number of golfers whose posture varies."
    )


def _between(keys: set[str]) -> str:
    welch = (
        "Two groups without covariates were compared by Welch's t test on golfer means (at least "
        f"{FEWEST_IN_A_GROUP} golfers in each). " if "welch" in keys else ""
    )  # fmt: skip
    return (
        f"{welch}{'Other questions' if welch else 'Questions'} between golfers were answered by regression on "
        "golfer means, in which each golfer counts once; the t statistic has G − p degrees of freedom, for G golfers "
        f"and p coefficients. With fewer than {FEWEST_GOLFERS} golfers, no claim is made about golfers in general."
    )


def _one_golfer() -> str:
    return (
        "Questions about one golfer were answered from the golfer's swings as a series in order of play: "
        "regression with first-order autoregressive errors, AR(1), and a linear trend, fitted by restricted "
        "maximum likelihood. p values and confidence limits are those of a mixture of t distributions, one for each "
        "possible value of the autocorrelation phi of the errors, weighted by the restricted likelihood of phi and a "
        f"weak prior, (1 + r phi)^-{PRIOR_POWER:g}, where r is the lag-one autocorrelation of the "
        "predictor. For the correction of a slope for measurement error, the variances of the posture and of its error "
        "were computed after prewhitening with the estimated autocorrelation."
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
        f"assumptions. By level of the question, these are:\n\n{listed}"
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
            f"{FEWEST_IN_A_GROUP} in a group. A question that the data cannot answer is marked as not answered."
        )
    if keys & {"found_only", "confirmed", "held_again", "repeated"}:
        more += (
            " A question that had been found by a search among many postures was tested only on swings that were not "
            "part of the search. If it is borne out, or a difference is found, the reading is: confirmed, in golfers "
            "who were not searched (for one golfer, in later sessions); found again, in other sessions of the searched "
            "golfers; or repeated, in other swings of the searched sessions. Without such swings the question is not "
            "confirmed and has no p value."
        )
    return (
        "Each answer to a hunch or a comparison has one conclusion, its reading, from the first rule that "
        "applies. (1) Too small to matter: the 90 % interval of the primary method lies between minus and plus "
        f"the smallest effect that matters (equivalence, two one-sided tests at the level {ALPHA:g}). (2) A "
        "relation or a difference: the p value of the primary method, adjusted by Holm's method (Holm 1979), is "
        f"below {ALPHA:g}. Where a sign was expected, the hunch is borne out by a relation of this sign and "
        "contradicted by one of the opposite sign. (3) Otherwise: not settled. Readings 1 and 2 also need the "
        "support of every supplementary method listed above that gives the required interval or p value. For 1, its "
        "80 % interval lies between minus and plus the smallest effect that matters; for 2, its estimate has the same "
        f"sign and its unadjusted p value is below {ALPHA:g}. Without this support the answer is not settled, "
        f"because methods disagree.{more} p values are adjusted within families of questions: {listed}. Rule 1 is "
        "not adjusted for the number of questions. All other intervals are 95 % confidence intervals. Where a "
        "question is not settled, the number of golfers or swings that would settle it was calculated for a power of "
        f"{CHANCE:g}, both for reading 1 if there is no effect and for reading 2 if the effect is the smallest that "
        "matters."
    )


def _lessons(default: list[Finding]) -> str:
    lessons = [f for f in default if f.kind == "lesson"]
    if not lessons:
        return ""
    running = sum(f.reading_key == "lesson_running" for f in lessons)
    still = (
        f" {count(running, 'lesson')} still running, with fewer swings than planned: no reading, and confidence limits "
        "that are valid however often the data are looked at (normal mixture, Robbins 1970)." if running else ""
    )  # fmt: skip
    return (
        "A lesson is judged by two steps. A step is the change of level from before to after the lesson, in a "
        "model that also contains a linear trend; one step is of the posture, one of the outcome (here called the "
        "strike). Both tests count in the family for Holm's method. The aim of a lesson is the target range of "
        "its posture, from study.toml. The means before and after show how the posture moved: past the aim, if it "
        "went from one side of the range to the other; away from the aim, if it began in the range and ended "
        "outside, or began outside and did not come closer. A step of the posture is found if its adjusted p "
        f"value is below {ALPHA:g} and the p value of the sign-flip test, where there are enough swings for this "
        f"test, is also below {ALPHA:g}. The reading follows from the first rule that applies. (1) Too small to "
        "matter: the 90 % interval of the step of the strike lies between minus and plus the smallest effect that "
        f"matters. (2) The step of the strike has an adjusted p value below {ALPHA:g}. If the sign-flip test does "
        "not support it, the answer is not settled, because methods disagree. If it does, the strike changed, and "
        "the first of these cases that applies is stated: the posture moved away from the aim or past it; the "
        "sign of the step is opposite to the expected one; no step of the posture was found, so only the strike "
        "changed; no sign was expected or no aim was given, so the direction is not judged; otherwise, changed as "
        f"expected. (3) In a model without a trend, the p value of the step of the strike, multiplied by the "
        "factor by which Holm's method increased the p value of the model with the trend, is below "
        f"{ALPHA:g}, and its 90 % interval does not lie between minus and plus the smallest effect that matters: not "
        "settled, because drift alone could explain the difference. (4) Otherwise: not settled. After rules 1 and 4, a "
        "step of the posture, if one was found, is stated as well. One series before and after a lesson cannot "
        f"exclude that something else changed at the same time.{still}"
    )


def _draws() -> str:
    drawn = inspect.signature(wild_bootstrap).parameters
    return (
        "In the wild cluster bootstrap, golfers are the clusters, and residuals are those under the null hypothesis. "
        f"With {FEWEST_FOR_SIGNS} to {MOST_FOR_ALL_PATTERNS} golfers it takes all patterns of signs, otherwise "
        f"{drawn['samples'].default:,} random draws (seed {drawn['seed'].default}). With fewer than {FEWEST_FOR_SIGNS} "
        "golfers the weights are drawn from Webb's six-point distribution (Webb 2023) instead of signs."
    )
