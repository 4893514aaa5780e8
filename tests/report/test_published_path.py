"""From a table to the report's text: a published example from another field, and studies of few golfers."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import html5lib
import pandas as pd
import pytest
from published import cases
from reference_data import reference_table
from scipy import stats

from swinglab.answers import judge, relate_posture_to_strike
from swinglab.records import Errors, Finding, Hunch, findings_table
from swinglab.report import wording, write_report
from swinglab.report.answer_tables import answers_table
from swinglab.study import Results, Study, answer_study
from swinglab.study.csv_tables import write_table

STEP = 10.0  # answers are given per 10 units of posture, so a day is written as 10 units
SLEEP = Hunch("sleep", "Reaction", "thorax_lateral_flexion_deg", "impact", expect="positive")
PRINTED = next(case for case in cases("mixed_models.toml") if case["name"] == "sleep deprivation, as printed")


def sleep_answers(scale: float) -> tuple[Finding, ...]:
    """The sleep study as golfers (subjects) and swings (days): reaction in ms times scale, on days."""
    table = reference_table("sleepstudy.csv").rename(columns={"Subject": "golfer"})
    table["thorax_lateral_flexion_at_impact_deg"] = STEP * table["Days"]
    table["Reaction"] *= scale
    return judge(relate_posture_to_strike(table, SLEEP, errors=Errors(placement_deg=0.0)), [SLEEP])


@pytest.mark.parametrize(("scale", "unit"), [(1.0, 0.1), (1000.0, 1.0)], ids=["ms", "microseconds"])
def test_the_sleep_study_gives_its_published_figures(scale: float, unit: float) -> None:
    """Truth: published (Bates et al. 2015, section 1.2: slope 10.467, SE 1.546; df 17). Every digit that is printed."""
    row = answers_table(sleep_answers(scale)).iloc[0]
    slope, error, df = (PRINTED["expected"][name][1] for name in ("estimate", "standard_error", "df"))
    t = float(stats.t.ppf(0.975, df))
    printed = [row["Estimate"], *row["95 % interval"].strip("[]").split(", ")]
    for text, side in zip(printed, (0.0, -t, t), strict=True):
        assert len(text.partition(".")[2]) == (1 if unit == 0.1 else 0)
        # half a unit of the printed text, and half a unit of the published digits
        tolerance = 0.5 * unit + scale * 0.0005 * (1.0 + abs(side))
        assert float(text) == pytest.approx(scale * (slope + side * error), abs=tolerance)
    assert (row["df"], row["p"], row["Golfers"], row["Swings"]) == ("17.0", "p < .001", "18", "180")
    assert (row["Level"], row["Reading"].split(":")[0]) == ("within", "borne out")
    assert (
        row["Unit, per"] == "10 deg of thorax lateral flexion"
    )  # a reaction has no unit in the kit's columns
    assert row["Method"] == "random-slope mixed model by REML, Satterthwaite df"


def test_the_sleep_study_in_findings_csv(tmp_path: Path) -> None:
    """Truth: published (Bates et al. 2015): slope and standard error to the printed digits, t from the two."""
    path = tmp_path / "findings.csv"
    write_table(findings_table(sleep_answers(1.0)), path)
    line = pd.read_csv(path).iloc[0]
    assert (round(line["estimate"], 3), round(line["standard_error"], 3)) == (10.467, 1.546)
    assert round(line["estimate"] / line["standard_error"], 2) == PRINTED["expected"]["t"][1]
    assert line["level"] == "within" and line["role"] == "default"


def of_swings(results: Results, kept: pd.Series) -> Results:
    """The results of some swings alone."""
    names = set(results.swings["swing"][kept])
    return Results(**{
        name: table[table["swing"].isin(names)].reset_index(drop=True)
        for name in ("swings", "posture", "events", "strike", "left_out", "quality")
        for table in [getattr(results, name)]
    })  # fmt: skip


def page_of(study: Study, results: Results, out: Path) -> tuple[dict[str, Finding], str, str]:
    """Judged line by question, the page's text, and its reading sentences, from answering to the written page."""
    findings = answer_study(study, results)
    out.mkdir()
    page = write_report(study, results, findings, out).read_text(encoding="utf-8")
    html5lib.HTMLParser(strict=True).parse(page)
    text = "".join(html5lib.parse(page, namespaceHTMLElements=False).itertext()).replace("\u00a0", " ")
    return {f.name: f for f in findings if f.role == "default"}, text, (out / "methods.md").read_text("utf-8")


def test_under_six_golfers_each_is_shown_alone(answered: tuple, tmp_path: Path) -> None:
    """Truth: made. Three golfers: no claim about golfers in general, said in words, and the page stands."""
    study, results, _, _ = answered
    few = of_swings(results, results.swings["golfer"].isin(["G01", "G02", "G03"]))
    judged, text, methods = page_of(study, few, tmp_path / "few")
    tilt = judged[study.hunches[0].name]
    assert tilt.reading == "no claim: too few golfers" and tilt.n_golfers == 3
    assert math.isnan(tilt.estimate) and math.isnan(tilt.p_adjusted)
    said = (
        "3 golfers: each is shown alone, and no claim is made about golfers in general (this needs 6 or more)"
    )
    assert said in text and "no claim: too few golfers" in text
    assert "3 golfers" in methods
    groups = judged[study.comparisons[0].name]  # the three are of one group
    assert groups.reading == "not answered" and "has one group (skilled)" in text


def test_one_golfer_is_answered_for_that_player(answered: tuple, tmp_path: Path) -> None:
    """Truth: made (all 18 swings under one golfer's name). Worded for this player and these sessions."""
    study, results, _, _ = answered
    rows = results.swings.assign(golfer="G01", group="skilled", order=range(1, len(results.swings) + 1))
    judged, text, methods = page_of(study, replace(results, swings=rows), tmp_path / "one")
    tilt = judged[study.hunches[0].name]
    assert (tilt.level, tilt.n_golfers, tilt.n_swings) == ("golfer", 1, 18)
    assert "AR(1)" in tilt.method and tilt.ci_low < tilt.estimate < tilt.ci_high
    assert wording.sentence(tilt).startswith("For this player, in these sessions, 10 deg more")
    assert wording.sentence(tilt) in text
    assert "one golfer: the answer is for this player and these sessions, not for golfers in general" in text
    assert "1 golfer (Table 1) made 18 swings" in methods and "| skilled |" in methods
    assert "Within golfers" not in text and "Between golfers (" not in text
