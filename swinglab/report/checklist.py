"""Reporting checklist of a sports-science journal, filled in where the kit knows the answer.

The thirty topics follow CHAMP (Mansournia et al. 2021) in our own short words; their wording and order are
from memory and belong to be checked against the published list. What only the author can know stays open.
"""

from __future__ import annotations

from typing import NamedTuple

from swinglab.records import Finding
from swinglab.report.wording import count
from swinglab.study import Results, Study

OPEN = "for the author"
#: Readings that leave a question open.
UNSETTLED = ("not_settled", "methods_disagree", "lesson_drift", "lesson_posture_only")


class Item(NamedTuple):
    """One item of the reporting checklist.

    It has the number in the list ("" for an additional item), the topic in words, and what this study states on it.
    """

    number: str
    topic: str
    answer: str


def checklist(study: Study, results: Results, findings: tuple[Finding, ...]) -> list[Item]:
    """Return all items of the reporting checklist, filled in for one study."""
    facts = _facts(study, results, findings)
    listed = [Item(str(i), topic, facts.get(key, OPEN)) for i, (topic, key) in enumerate(_TOPICS, start=1)]
    given = {**study.ethics, **study.participants}
    return [*listed, *(Item("", topic, given.get(key, OPEN)) for topic, key in _BEYOND)]


_TOPICS = (
    ("aim, design and population described", "aim"),
    ("outcomes, exposures and covariates, and how they were measured", "measures"),
    ("design fit for the question", ""),
    ("sample size stated and justified", "size"),
    ("departures from the design declared", "left_out"),
    ("agreement with a published protocol", ""),
    ("statistical methods described in full", "methods"),
    ("methods valid, assumptions stated", "assumptions"),
    ("effects and interactions assessed rightly", "slopes"),
    ("correlation and association tests used rightly", "clustered"),
    ("continuous predictors kept continuous", "continuous"),
    ("no impossible values in intervals", "intervals"),
    ("arms of a trial compared at the start (trials only)", "trial"),
    ("confounding assessed and adjusted for", "adjusted"),
    ("no extrapolation beyond the data", "range"),
    ("missing data handled", "missing"),
    ("data described", "described"),
    ("estimates with intervals beside p values", "estimates"),
    ("intervals for contrasts, not only for each group", "contrasts"),
    ("no selective reporting", "named"),
    ("sensible and consistent precision; p values given, not ranges", "precision"),
    ("numbers enough for a later synthesis", "tables"),
    ("figures and tables readable", "figures"),
    ("a large p value read as undecided, not as no effect", "undecided"),
    ("intervals instead of power computed after the fact", "power"),
    ("measures of association read rightly", "units"),
    ("association distinguished from cause", "cause"),
    ("named questions distinguished from exploration", "explored"),
    ("limits of the method discussed", "limits"),
    ("conclusions within the data and the population", "population"),
)
_BEYOND = (
    ("ethics approval, with its number", "approval"),
    ("informed consent", "consent"),
    ("minors: consent of a parent or guardian, and the player's assent", "guardian"),
    ("how golfers were found (their age, sex, stature, mass and handicap: Table 1)", "recruitment"),
    ("funding and interests", ""),
    ("where data and code can be had", ""),
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
        "size": f"{count(golfers, 'golfer')}, {count(swings, 'swing')}; unsettled questions say what would narrow "
        "them; the justification is for the author",
        "left_out": f"{count(gone, 'swing')} left out in whole or in part, reasons in left_out.csv",
        "methods": "methods text, with versions in run.json",
        "assumptions": "warnings are shown with each answer; the supplementary methods rest on other assumptions",
        "slopes": "slopes may differ between golfers in the default model; between and within are separated",
        "clustered": "swings are never pooled as if independent",
        "continuous": "postures are used as measured, never cut into classes",
        "intervals": "intervals are on the outcome's own scale; positions and angles have no bound nearby",
        "trial": "no random allocation is known to the kit",
        "adjusted": f"adjusted for {', '.join(adjusted)}" if adjusted else "no covariate was named",
        "range": "slopes are given per 10 units of posture; compare with the spread in the figure",
        "missing": "a swing lacking a value is dropped from that question and counted there",
        "described": "every swing is drawn; swing_table.csv holds all values",
        "estimates": "every line has estimate, interval, df and p",
        "contrasts": "differences between groups carry the interval",
        "named": f"{count(len(study.questions), 'question')} in study.toml, all reported, p adjusted by Holm",
        "precision": "three significant digits; p to three decimals",
        "tables": "findings.csv, strike.csv and posture.csv",
        "figures": "colour is never the only sign; each figure has words beside it",
        "undecided": f"{unsettled} of the study's questions read as not settled",
        "power": "no power is computed from the observed effect",
        "units": "effects in the units of the outcome, per 10 units of posture",
        "cause": "the report claims no cause",
        "limits": "standard errors cover noise and timing; placement and soft tissue as far as [errors] states it",
        "population": "under 6 golfers no claim is made about golfers in general",
    }
