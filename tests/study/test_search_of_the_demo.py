"""The searches of the demo study: what they find, and what other swings make of it, beside the demo's truth."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from swinglab import columns
from swinglab.answers import ScreenAnswer
from swinglab.answers.measurement_methods import measured_ways
from swinglab.answers.screen_table import screen_table
from swinglab.answers.specification import specification_curve
from swinglab.controls.screening import found_in
from swinglab.records import Finding, FoundIn, Hunch
from swinglab.report import write_report
from swinglab.report.robustness import robustness_of, robustness_sentence
from swinglab.report.screen_words import coach_table, posture_words
from swinglab.report.screens import shown_screens
from swinglab.report.specifications import specification_sentences
from swinglab.study import Results, Study, answer_study, load_or_measure, open_study, search_study

TILT, DELIVERY, OUTCOME = "thorax_lateral_flexion_deg", "shaft_horizontal_down", "attack_angle_deg"
AT_DELIVERY = columns.event_column_name(TILT, DELIVERY)
AT_IMPACT = columns.event_column_name(TILT, "impact")
PELVIS_BACK = columns.event_column_name("pelvis_axial_rotation_deg", "lead_arm_horizontal_back")


@pytest.fixture(scope="module")
def demo(measured_demo: Path) -> tuple[Study, Results]:
    study = open_study(measured_demo)
    return study, load_or_measure(study)


@pytest.fixture(scope="module")
def searched(demo: tuple[Study, Results]) -> tuple[ScreenAnswer, ScreenAnswer]:
    """Eight golfers; the first 50 swings of G07's day in November."""
    golfers, own = search_study(*demo)
    return golfers, own


def judged(
    demo: tuple[Study, Results], column: str, sign: float, found: FoundIn, golfer: str | None
) -> Finding:
    """The judged line of a found posture, by the study's own path."""
    study, results = demo
    c = columns.column(column)
    hunch = Hunch(
        "found by looking", OUTCOME, c.quantity, c.event, "golfer" if golfer else "within",
        "positive" if sign > 0 else "negative", smallest_effect=0.5, golfer=golfer, found_in=found,
    )  # fmt: skip
    alone = replace(study, hunches=(hunch,), comparisons=(), lessons=())
    return next(f for f in answer_study(alone, results) if f.role == "default")


def true_slope(folder: Path, event: str, swings: pd.Series) -> tuple[float, float]:
    """Slope of the true attack angle on the true tilt (per 10 deg) and its p, order in the session beside it."""
    posture = pd.read_csv(folder / "truth" / "truth_posture.csv")
    own = posture[(posture["quantity"] == TILT) & (posture["event"] == event)].set_index("swing")["value"]
    strike = pd.read_csv(folder / "truth" / "truth_strike.csv").set_index("swing")[OUTCOME]
    order = pd.read_csv(folder / "swings.csv").set_index("swing")["order"]
    x = np.column_stack([own[swings] / 10, order[swings]])
    fit = sm.OLS(strike[swings].to_numpy(), sm.add_constant(x)).fit()
    return float(fit.params[1]), float(fit.pvalues[1])


def rows_of(answer: ScreenAnswer) -> pd.DataFrame:
    assert answer.found is not None
    return answer.found.table.assign(group=answer.groups).set_index("column")


def test_the_tilt_at_delivery_is_found_within_golfers_and_its_company_is_named(
    demo: tuple[Study, Results], searched: tuple
) -> None:
    """Truth: made. The tilt is what the demo's strike follows; the pelvis turn going back does nothing."""
    answer, rows = searched[0], rows_of(searched[0])
    assert len(rows) > 500
    assert rows.loc[AT_DELIVERY, "p_adjusted"] < 0.05 and rows.loc[AT_DELIVERY, "estimate"] > 0
    assert rows.loc[PELVIS_BACK, "p_adjusted"] > 0.5
    company = rows.index[rows["group"] == rows.loc[AT_DELIVERY, "group"]]
    assert len(company) > 1
    alike = answer.found.correlation.loc[company, company].abs().to_numpy()
    assert alike.min() >= 0.8
    shown = coach_table(screen_table([answer], demo[0].errors), order="adjusted p", only_found=True)
    words = {posture_words(name) for name in company}
    (row,) = [one for one in shown.to_dict("records") if one["posture"] in words]
    assert any(word in row["moves together with"] for word in words)
    assert posture_words(PELVIS_BACK) not in " ".join(shown["posture"] + shown["moves together with"])


def test_golfers_without_part_in_the_search_confirm_the_tilt(
    demo: tuple[Study, Results], searched: tuple
) -> None:
    """Truth: made. Slopes of the truth's table are .17 to .24 deg for one deg of tilt in every golfer."""
    asked = searched[0].question
    line = judged(demo, AT_DELIVERY, 1.0, found_in(demo[1].swings, asked), None)
    assert line.reading_key == "confirmed" and line.n_golfers == 6
    sensitivity = pd.read_csv(demo[0].folder / "truth" / "truth_sensitivity.csv")
    own = sensitivity.query("level == 'within' and outcome == @OUTCOME and posture == @TILT")
    others = own[~own["golfer"].isin(asked.where["golfer"])]
    assert line.ci_low < 10 * others["slope"].mean() < line.ci_high
    pelvis = judged(demo, PELVIS_BACK, 1.0, found_in(demo[1].swings, asked), None)
    assert pelvis.reading_key not in ("confirmed", "held_again")


def test_one_golfer_searched_in_part_of_a_day_reads_repeated_on_the_rest(
    demo: tuple[Study, Results], searched: tuple
) -> None:
    """Truth: made. G07's leading tilt of the first 50 swings of November, on the last 30: the true slope is there."""
    answer = searched[1]
    rows = rows_of(answer)
    tilts = rows[[columns.column(name).quantity == TILT for name in rows.index]]
    leading = (tilts["estimate"] / tilts["standard_error"]).idxmax()
    assert leading == AT_IMPACT and rows.loc[leading, "p_adjusted"] < 0.01
    found = found_in(demo[1].swings, answer.question)
    line = judged(demo, leading, rows.loc[leading, "estimate"], found, "G07")
    assert line.n_swings == 30 and line.reading_key == "repeated"
    assert line.reading.startswith("repeated") and "not confirmed" in line.reading
    _, p = true_slope(demo[0].folder, "impact", rest_of_november(demo, found))
    assert p < 0.05
    repeated = [
        judged(demo, name, row["estimate"], found, "G07").reading_key == "repeated"
        for name, row in rows[rows["p_adjusted"] < 0.05].iterrows()
    ]
    assert np.mean(repeated) > 0.6


def test_what_the_rest_of_the_day_cannot_show_reads_not_settled(
    demo: tuple[Study, Results], searched: tuple
) -> None:
    """Truth: made. At delivery the tilt of the last 30 swings varies by 1.1 deg: even without noise no slope shows."""
    found = found_in(demo[1].swings, searched[1].question)
    assert rows_of(searched[1]).loc[AT_DELIVERY, "p_adjusted"] < 0.05
    line = judged(demo, AT_DELIVERY, 1.0, found, "G07")
    _, p = true_slope(demo[0].folder, DELIVERY, rest_of_november(demo, found))
    assert p > 0.2 and line.reading_key == "not_settled" and "swings" in line.reading


def test_a_look_of_eight_swings_reads_not_settled_with_the_swings_needed(demo: tuple[Study, Results]) -> None:
    """Truth: made. In February even the true values give no slope that differs from 0."""
    table = demo[1].swings
    november = FoundIn(sessions=("G07-nov",))
    february = table.loc[table["session"] == "G07-feb", "swing"]
    for column, event in ((AT_DELIVERY, DELIVERY), (AT_IMPACT, "impact")):
        line = judged(demo, column, 1.0, november, "G07")
        assert line.n_swings == 8 and line.reading_key == "not_settled"
        number = int(line.reading.split("about ")[1].split(" swings")[0])
        assert number > 8 and "probability" in line.reading
        assert true_slope(demo[0].folder, event, february)[1] > 0.05


def rest_of_november(demo: tuple[Study, Results], found: FoundIn) -> pd.Series:
    table = demo[1].swings
    own = table[(table["session"] == "G07-nov") & table[OUTCOME].notna()]
    return own.loc[~own["swing"].isin(found.swings), "swing"]


def test_the_page_shows_a_search_with_its_table_and_its_parts(
    demo: tuple[Study, Results], searched: tuple
) -> None:
    """Truth: other. The found groups are counted from the screen's own table."""
    golfers, _ = shown_screens(searched, demo[0].errors)
    rows = rows_of(searched[0])
    hits = rows[rows["p_adjusted"] < 0.05]
    assert len(golfers.table) <= hits["group"].nunique()
    assert f"Found: {len(hits)} postures" in " ".join(golfers.sentences)
    assert len(golfers.drawn) == 3 and "screen_1_thorax" in [name for name, _ in golfers.drawn]


def test_robustness_values_are_those_of_plain_regressions(demo: tuple[Study, Results]) -> None:
    """Truth: other. statsmodels: golfers' means, cells as levels; none for a lesson and for one golfer."""
    study, results = demo
    within, between, _ = study.hunches
    rows = results.swings[["golfer", "session", "club", "order", OUTCOME, AT_DELIVERY]].dropna()
    levels = pd.get_dummies(rows["golfer"] + rows["session"] + rows["club"]).astype(float)
    whose = rows["golfer"].where(rows.groupby("golfer")[OUTCOME].transform("size") >= 8, "shared")
    drift = pd.get_dummies(whose, prefix="drift").astype(float).mul(rows["order"], axis=0)
    fit = sm.OLS(rows[OUTCOME], pd.concat([levels, drift], axis=1).assign(x=rows[AT_DELIVERY])).fit()
    found = robustness_of(results.swings, within)
    assert found is not None and found.t == pytest.approx(fit.tvalues["x"])
    assert f"explain {found.value:.0%} of the variation of each" in robustness_sentence(found, within)
    ways = measured_ways(results.swings, names=[within.posture, OUTCOME], event=within.event)
    rows = rows.assign(way=pd.factorize(pd.Series(ways, results.swings.index)[rows.index])[0])
    means = rows.groupby("golfer")[[OUTCOME, AT_DELIVERY, "way"]].mean()
    assert rows["way"].nunique() == 2
    fit = sm.OLS(means[OUTCOME], sm.add_constant(means[[AT_DELIVERY, "way"]])).fit()
    found = robustness_of(results.swings, between)
    assert found is not None and found.t == pytest.approx(fit.tvalues[AT_DELIVERY])
    (comparison,) = study.comparisons
    of = columns.event_column_name(comparison.of, comparison.event)
    ways = measured_ways(results.swings, names=[comparison.of], event=comparison.event)
    rows = results.swings[["golfer", "group", of]].assign(way=pd.factorize(ways)[0]).dropna()
    means = rows.groupby("golfer").agg({of: "mean", "group": "first", "way": "mean"})
    terms = means[["way"]].assign(group=(means["group"] == "skilled").astype(float))
    fit = sm.OLS(means[of], sm.add_constant(terms)).fit()
    found = robustness_of(results.swings, comparison)
    assert found is not None and found.t == pytest.approx(fit.tvalues["group"])
    assert robustness_of(results.swings, study.lessons[0]) is None
    assert robustness_of(results.swings, replace(within, level="golfer", golfer="G07")) is None


@pytest.mark.slow
def test_the_page_holds_searches_every_choice_and_robustness(
    demo: tuple[Study, Results], searched: tuple, tmp_path: Path
) -> None:
    """Truth: made. One figure of every choice for the hunch that has one; the table beside it; each once."""
    study, results = demo
    curve = specification_curve({"as measured here": results.swings}, study.hunches[0], errors=study.errors)
    findings = answer_study(study, results)
    page = write_report(study, results, findings, tmp_path, screens=searched, curves=[curve]).read_text(
        "utf-8"
    )
    assert page.count("<summary>The answer under every choice</summary>") == 1
    assert page.count('data-name="specifications_1"') == 1 and page.count('data-name="screen_1_') == 3
    names = [answer.question.name.replace("'", "&#39;") for answer in searched]
    assert all(f"<h3>{name[0].upper()}{name[1:]}</h3>" in page for name in names)
    assert page.count("A relation found by a search is not confirmed") == 1
    assert page.count("could be behind both posture and strike") >= 1
    table = pd.read_csv(tmp_path / "specifications.csv")
    assert list(table.columns)[-2:] == ["name", "correction"] and len(table) == len(curve.table)
    assert specification_sentences(curve)[0].startswith(
        f"{(table['correction'] == 'as measured').sum()} ways"
    )
    assert np.isfinite(curve.median_corrected) and curve.median < curve.median_corrected < 2 * curve.median
