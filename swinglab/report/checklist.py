"""Reporting checklist of a sports-science journal, filled in where the answer is known from the study.

The thirty topics follow the CHAMP checklist (Mansournia et al. 2021) in our own short words. Their wording and order
are from memory and have to be compared with the published list. What only the author can know is marked `OPEN`.
"""

from __future__ import annotations

from typing import NamedTuple

from swinglab.records import Finding
from swinglab.report.wording import count
from swinglab.study import Results, Study

OPEN = "for the author"
#: Keys of readings that leave a question unsettled.
UNSETTLED = ("not_settled", "methods_disagree", "lesson_drift", "lesson_posture_only")


class Item(NamedTuple):
    """One item of the reporting checklist.

    It has the number in the list ("" for an additional item), the topic in words, and what this study states on it.
    """

    number: str
    topic: str
    answer: str


def checklist(study: Study, results: Results, findings: tuple[Finding, ...]) -> list[Item]:
    """Return all items of the reporting checklist, filled in for a study.

    They are the topics of the CHAMP checklist (Mansournia et al. 2021), then additional items.
    """
    facts = _facts(study, results, findings)
    listed = [Item(str(i), topic, facts.get(key, OPEN)) for i, (topic, key) in enumerate(_TOPICS, start=1)]
    given = {**study.ethics, **study.participants}
    return [*listed, *(Item("", topic, given.get(key, OPEN)) for topic, key in _BEYOND)]


_TOPICS = (
    ("aim, design and population described", "aim"),
    ("outcomes, exposures and covariates, and how they were measured", "measures"),
    ("design fit for the question", ""),
    ("sample size stated and justified", "size"),
    ("departures from the planned design declared", "left_out"),
    ("agreement with a published protocol", ""),
    ("statistical methods described in full", "methods"),
    ("methods valid, assumptions stated", "assumptions"),
    ("effects and interactions assessed correctly", "slopes"),
    ("correlation and association tests used correctly", "clustered"),
    ("continuous predictors kept continuous", "continuous"),
    ("no impossible values in intervals", "intervals"),
    ("groups of a trial compared at baseline (trials only)", "trial"),
    ("confounding assessed and adjusted for", "adjusted"),
    ("no extrapolation beyond the data", "range"),
    ("missing data handled", "missing"),
    ("data described", "described"),
    ("estimates with intervals beside p values", "estimates"),
    ("intervals for contrasts, not only for each group", "contrasts"),
    ("no selective reporting", "named"),
    ("sensible and consistent precision; p values given, not ranges", "precision"),
    ("enough numbers for a later meta-analysis", "tables"),
    ("figures and tables readable", "figures"),
    ("a large p value interpreted as undecided, not as no effect", "undecided"),
    ("intervals instead of power computed from the results", "power"),
    ("measures of association interpreted correctly", "units"),
    ("association distinguished from cause", "cause"),
    ("questions stated beforehand distinguished from exploration", "explored"),
    ("limits of the method discussed", "limits"),
    ("conclusions within the data and the population", "population"),
)
_BEYOND = (
    ("ethics approval, with its number", "approval"),
    ("informed consent", "consent"),
    ("minors: consent of a parent or guardian, and the player's assent", "guardian"),
    ("how golfers were recruited (their age, sex, stature, mass and handicap: Table 1)", "recruitment"),
    ("funding and interests", ""),
    ("where data and code are available", ""),
)


def _facts(study: Study, results: Results, findings: tuple[Finding, ...]) -> dict[str, str]:
    table = results.swings
    golfers, swings = table["golfer"].nunique(), len(table)
    adjusted = sorted({name for q in study.questions for name in getattr(q, "adjust", ())})
    unsettled = sum(f.reading_key in UNSETTLED for f in findings if f.role == "default")
    gone = results.left_out["swing"].nunique()
    return {
        "aim": f"question in study.toml: {study.question}" if study.question else OPEN,
        "measures": "defined in the code book and the methods text",
        "size": f"{count(golfers, 'golfer')}, {count(swings, 'swing')}; answers that are not settled state "
        "how many would settle them; the justification is for the author",
        "left_out": f"{count(gone, 'swing')} left out in whole or in part; the reasons are in left_out.csv",
        "methods": "methods text, with versions in run.json",
        "assumptions": "warnings are shown with each answer; supplementary methods make other assumptions",
        "slopes": "slopes may differ between golfers in the primary model; within and between golfers are separated",
        "clustered": "swings of a golfer are never treated as independent",
        "continuous": "postures are used as measured, never cut into classes",
        "intervals": "intervals are in the unit of the outcome; angles and positions are far from any natural bound",
        "trial": "study.toml has no key for a random allocation",
        "adjusted": f"adjusted for {', '.join(adjusted)}"
        if adjusted
        else "no covariate is named in study.toml",
        "range": "slopes are given per 10 units of posture; compare with the spread in the figure",
        "missing": "a swing without a needed value is left out of that question; their number is given",
        "described": "every swing is drawn; swing_table.csv holds all values",
        "estimates": "every line has estimate, interval, df and p",
        "contrasts": "the interval of a comparison is that of the difference between the groups",
        "named": f"{count(len(study.questions), 'question')} in study.toml, all reported; p values adjusted (Holm)",
        "precision": "three significant digits; p to three decimals",
        "tables": "findings.csv, strike.csv and posture.csv",
        "figures": "colour is never the only distinction; each figure has a caption",
        "undecided": f"answers reported as not settled: {unsettled}",
        "power": "no power is computed from the observed effect",
        "units": "effects in the units of the outcome, per 10 units of posture",
        "cause": "the report claims no cause",
        "limits": "standard errors cover noise and timing; placement and soft tissue only if [errors] gives them",
        "population": "with fewer than 6 golfers, no claim is made about golfers in general",
    }
