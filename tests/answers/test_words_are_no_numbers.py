"""Words of findings are for people: replaced by others, every number and every key of findings.csv stays."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from made_questions import contact_table, group_table, lesson_table
from made_swing_table import EVENT, POSTURE, swing_table

from swinglab import finding_words
from swinglab.answers import compare_before_after, compare_groups, judge, relate_posture_to_strike
from swinglab.finding_words import Note
from swinglab.records import Comparison, Errors, Hunch, Lesson, findings_table

CONTACT = Hunch("contact", "contact", "thorax_lateral_flexion_deg", "impact", expect="positive")
GROUPS = Comparison("groups", "thorax_flexion_deg", "impact", "group", smallest_effect=3.0)
LESSON = Lesson(
    "lesson", "G07", "phase", "thorax_flexion_deg", "impact", "low_point_ahead_cm", smallest_effect=1.0,
    expect="positive", target=(0.0, 4.0), planned_swings=25,
)  # fmt: skip
WORDS = ["method", "reading", "warnings"]


def answered() -> pd.DataFrame:
    """Findings of every kind of question, several to an unsettled or refused end."""
    errors = Errors(soft_tissue_deg=0.5)
    hunch = Hunch("within", "attack_angle_deg", POSTURE, EVENT, "within", "positive", (), 0.5)
    between = replace(hunch, name="between", level="between")
    alone = replace(hunch, name="alone", level="golfer", golfer="G001")
    contact, groups, lesson = CONTACT, GROUPS, LESSON
    running = replace(lesson, name="running", planned_swings=60)
    table = swing_table(8, 12)
    disputed = replace(hunch, name="disputed", expect="either", smallest_effect=float("nan"))
    lines = (
        *(f for q in (hunch, between, alone) for f in relate_posture_to_strike(table, q, errors=errors)),
        *relate_posture_to_strike(contact_table(), contact, errors=errors),
        *compare_groups(group_table(difference=0.0), groups, errors=errors),
        *(
            f
            for q in (lesson, running)
            for f in compare_before_after(lesson_table(later=True), q, errors=errors)
        ),
    )
    # The judged line finds a relation that no companion supports.
    lines += tuple(
        replace(f, p=0.001 if f.role == "default" else 0.9)
        for f in relate_posture_to_strike(table, disputed, errors=errors)
    )
    return findings_table(judge(lines, [hunch, between, alone, contact, groups, lesson, running, disputed]))


def test_other_words_leave_numbers_and_keys(monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: made. Every text is replaced by one with other words; all other columns are equal to the last digit."""
    before = answered()
    assert "methods_disagree" in set(before["reading_key"])
    for name in ("METHODS", "ADDED", "READINGS", "SETTLES", "WARNINGS"):
        table = getattr(finding_words, name)
        for key in table:
            monkeypatch.setitem(table, key, f"zzz {len(key)}")
    after = answered()
    pd.testing.assert_frame_equal(before.drop(columns=WORDS), after.drop(columns=WORDS))
    assert (after["reading"].str.startswith("zzz") == (before["reading"] != "")).all()
    assert (after["method"] != before["method"]).mean() > 0.5


def test_every_key_has_words_and_keys_differ() -> None:
    """Truth: made. No key stands in two tables; a note without its facts is an error, not an empty text."""
    keys = [*finding_words.METHODS, *finding_words.READINGS, *finding_words.WARNINGS]
    assert len(set(keys)) == len(keys)
    with pytest.raises(KeyError):
        Note("rows_dropped")
    with pytest.raises(StopIteration):
        Note("no such key")
