"""Ethics, participants and Table 1 of the methods text: what is known is filled in, what is not says so."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from swinglab.records import Validation
from swinglab.report.checklist import checklist
from swinglab.report.methods import methods_text
from swinglab.report.participants import (
    ETHICS,
    PARTICIPANTS,
    TO_COMPLETE,
    ethics_text,
    markdown,
    participants_text,
    table_1,
)
from swinglab.study import setting_keys

OWN_CAPTURES = "not on captures of this laboratory"


def test_the_text_takes_every_key_of_the_settings() -> None:
    """Truth: made. No key of [ethics] or [participants] is read and then dropped."""
    assert set(ETHICS) == set(setting_keys.SECTIONS["ethics"])
    assert set(PARTICIPANTS) == set(setting_keys.SECTIONS["participants"])


@pytest.mark.parametrize("given", [{}, {"approval": "board 7, number 12."}])
def test_what_is_not_given_is_to_be_completed(answered: tuple, given: dict) -> None:
    """Truth: made."""
    study = replace(answered[0], ethics=given)
    text = ethics_text(study)
    assert text.count(TO_COMPLETE) == len(ETHICS) - len(given)
    assert ("Ethics approval: board 7, number 12. Informed consent: [to" in text) == bool(given)


def test_lines_of_a_text_open_no_heading(answered: tuple) -> None:
    """Truth: made. A table, a heading and a template in a text of several lines stay words of one sentence."""
    study, results, findings, _ = answered
    given = {"recruitment": "| a | b |\n## heading\r\n{{ 7*7 }} $\\frac{$ <b>" + "long " * 2_000}
    text = methods_text(replace(study, participants=given), results, findings)
    assert "## heading {{ 7*7 }} $\\frac{$ <b>long long" in text and "\n## heading" not in text


def test_what_is_given_stands_in_text_and_checklist(answered: tuple) -> None:
    """Truth: made."""
    study, results, findings, _ = answered
    given = {key: f"words of {key}" for key in PARTICIPANTS}
    study = replace(study, participants=given, ethics={"approval": "number 12"})
    text = methods_text(study, results, findings)
    assert all(f": words of {key}." in text for key in PARTICIPANTS)
    assert "## Ethics" in text and TO_COMPLETE not in participants_text(study, results)
    answers = {item.answer for item in checklist(study, results, findings)}
    assert {"number 12", "words of recruitment"} <= answers


def test_table_1_is_computed_from_golfers_with_swings(answered: tuple) -> None:
    """Truth: other. Mean, SD, ends and counts by numpy; a golfer without a measured swing does not count."""
    study, results, *_ = answered
    stature = [1.66, 1.69, 1.72, 1.75, 1.78, np.nan]
    golfers = study.golfers.assign(stature_m=stature, sex=["male", "female", "male", "male", "", "male"])
    golfers = pd.concat([golfers, golfers.iloc[[0]].assign(golfer="G99", stature_m=2.5)], ignore_index=True)
    table = table_1(replace(study, golfers=golfers), results).set_index("")
    assert list(table.columns) == ["<learners>", "skilled", "all"]
    assert list(table.loc["golfers"]) == ["3", "3", "6"]
    assert table.loc["stature, m", "skilled"] == f"1.69 ({np.std(stature[:3], ddof=1):.2f}), 1.66 to 1.72"
    assert table.loc["stature, m", "<learners>"].endswith("1.75 to 1.78; 1 not known")
    assert table.loc["sex", "all"] == "1 female, 4 male; 1 not known"
    assert table.loc["hand", "skilled"] == "1 left, 2 right"
    assert table.loc["measured swings per golfer", "all"] == "3.0 (0.0), 3 to 3"
    assert list(table.index[table["all"] == TO_COMPLETE]) == ["age", "handicap"]


def test_a_bar_in_a_name_does_not_break_the_table() -> None:
    """Truth: made."""
    text = markdown(pd.DataFrame([["a|b", "2"]], columns=["", "all"]))
    assert text.splitlines() == ["|  | all |", "| --- | --- |", "| a\\|b | 2 |"]


def test_the_text_says_against_what_the_kit_was_checked(answered: tuple) -> None:
    """Truth: made. Own captures count only where `validate` could estimate something from them."""
    study, results, findings, _ = answered
    assert OWN_CAPTURES in methods_text(study, results, findings)
    asked = replace(study, validation=Validation())
    assert OWN_CAPTURES in methods_text(asked, results, findings)  # nothing to estimate from
    own = results.swings["attack_angle_deg"] + np.linspace(-0.5, 0.5, len(results.swings))
    device = replace(results, swings=results.swings.assign(measured_attack_angle_deg=own))
    text = methods_text(asked, device, findings)
    assert OWN_CAPTURES not in text and "were estimated from its own captures" in text
