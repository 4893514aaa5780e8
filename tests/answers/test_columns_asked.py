"""A question takes its own columns of the swing table: a copy of all postures of 10,000 swings is 0.14 GB."""

from __future__ import annotations

import pandas as pd

from swinglab import columns
from swinglab.answers.selection import columns_asked
from swinglab.records import Comparison, Hunch, Lesson

POSTURES = [
    name
    for quantity in ("thorax_lateral_flexion_deg", "thorax_flexion_deg", "pelvis_axial_rotation_deg")
    for event in ("address", "impact")
    for name in (
        columns.event_column_name(quantity, event),
        columns.error_column_name(columns.event_column_name(quantity, event)),
    )
]
OTHERS = [
    "swing",
    "golfer",
    "group",
    "club",
    "phase",
    "attack_angle_deg",
    "attack_angle_se_deg",
    "my_own_column",
]
TABLE = pd.DataFrame({name: [1.0] for name in [*OTHERS, *POSTURES]})


def kept(question: Hunch | Comparison | Lesson) -> set[str]:
    """Postures, without event and error, that are left for a question."""
    made = columns_asked(TABLE, question)
    assert [name for name in made.columns if name in OTHERS] == OTHERS
    shown = [columns.column(name) for name in made.columns if columns.is_column(name)]
    return {column.quantity for column in shown if column.kind == "posture"}


def test_each_question_keeps_the_postures_that_it_names() -> None:
    """Truth: made. Posture, covariate and condition stay, by quantity or by column; all else of the table stays."""
    tilt, bend, turn = "thorax_lateral_flexion_deg", "thorax_flexion_deg", "pelvis_axial_rotation_deg"
    hunch = Hunch("a", "attack_angle_deg", tilt, "impact")
    assert kept(hunch) == {tilt}
    assert kept(Hunch("a", "attack_angle_deg", tilt, "impact", adjust=(bend,))) == {tilt, bend}
    where = {columns.event_column_name(turn, "address"): {"from": 0.0}}
    assert set(columns_asked(TABLE, Hunch("a", "attack_angle_deg", tilt, "impact", where=where)).columns) > {
        *where
    }
    assert kept(Comparison("b", bend, "impact", "group")) == {bend}
    assert kept(Comparison("b", "attack_angle_deg", None, "group")) == set()
    assert kept(Lesson("c", "G01", "phase", turn, "impact", "attack_angle_deg")) == {turn}


def test_what_is_not_there_is_looked_for_among_all() -> None:
    """Truth: made. A name that the table does not have: nothing is taken away, so that near names can be offered."""
    unknown = Hunch(
        "a", "attack_angle_deg", "thorax_lateral_flexion_deg", "impact", adjust=("thorax_flexoin_deg",)
    )
    assert list(columns_asked(TABLE, unknown).columns) == list(TABLE.columns)
