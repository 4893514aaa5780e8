"""Tables made into designs."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from made_swings import golf_swings

from swinglab.errors import BadTable
from swinglab.statistics import build_design, split_within_between


def test_text_is_coded_against_its_first_level() -> None:
    """Truth: made. Sorted order for text, declared order for categories, levels that occur only."""
    table = pd.DataFrame(
        {"golfer": list("ABCD"), "sex": ["male", "female", "male", "male"], "y": [1.0, 2.0, 3.0, 5.0]}
    )
    plain = build_design(table, "y", ["sex"])
    assert plain.names == ("intercept", "sex[male]")
    np.testing.assert_array_equal(plain.x[:, 1], [1, 0, 1, 1])
    declared = table.assign(sex=pd.Categorical(table["sex"], ["other", "male", "female"]))
    assert build_design(declared, "y", ["sex"]).names == ("intercept", "sex[female]")
    assert plain.parts["sex"] == ("sex[male]",)


def test_rows_with_a_missing_value_are_dropped_and_counted() -> None:
    """Truth: made. A missing outcome, predictor, golfer or slope drops the row; an unused column does not."""
    table = golf_swings(4, 5)
    table.loc[0, "angle"] = np.nan
    table.loc[1, "tilt"] = np.nan
    table.loc[2, "golfer"] = None
    table.loc[3, "speed"] = np.nan
    design = build_design(table, "angle", ["tilt"])
    assert (design.dropped, design.n_rows) == (3, 17)
    assert design.index.tolist() == [3, *range(4, 20)]
    assert build_design(table, "angle", ["tilt"], also=["speed"]).dropped == 4


@pytest.mark.parametrize(
    ("change", "predictors", "words"),
    [
        ({}, ["tillt"], "similar names: tilt"),
        ({"tilt": 3.0}, ["tilt"], "predictor tilt is the same in every complete row"),
        ({"sex": "male"}, ["sex"], "predictor sex is the same in every complete row"),
        ({}, ["tilt", "tilt"], "predictor tilt is given twice"),
        ({}, ["angle"], "angle is both outcome and predictor"),
        ({}, ["golfer"], "golfer names the golfer and cannot be a predictor"),
        ({"angle": "steep"}, ["tilt"], "outcome angle is not numeric"),
        ({"golfer": "G01"}, ["tilt"], "has 1 golfer, but 2 are needed"),
        ({"angle": np.nan}, ["tilt"], "no row has values in all of"),
        ({"speed": np.inf}, ["speed"], "predictor speed contains an infinite value"),
    ],
)
def test_a_table_that_cannot_carry_the_question_is_refused_in_words(change, predictors, words) -> None:
    """Truth: made. Each fault by itself, planted in a good table."""
    with pytest.raises(BadTable) as caught:
        build_design(golf_swings(4, 6).assign(**change), "angle", predictors)
    assert words in str(caught.value)


def test_kinds_of_columns_do_not_matter() -> None:
    """Truth: made. Nullable numbers, categories of golfers, truth values and a repeated index give the same design."""
    table = golf_swings(4, 6)
    plain = build_design(table, "angle", ["tilt", "sex"])
    nullable = table.assign(tilt=table["tilt"].astype("Float64"), golfer=table["golfer"].astype("category"))
    other = build_design(nullable.set_index(np.zeros(len(table))), "angle", ["tilt", "sex"])
    np.testing.assert_array_equal(plain.x, other.x)
    np.testing.assert_array_equal(plain.codes, other.codes)
    assert build_design(table.assign(high=table["tilt"] > 20), "angle", ["high"]).names == (
        "intercept",
        "high",
    )
    with pytest.raises(BadTable, match="the table has no rows"):
        build_design(table.iloc[:0], "angle", ["tilt"])


def test_all_faults_come_at_once() -> None:
    """Truth: made. Two constant predictors and a single golfer stand in one message."""
    table = golf_swings(4, 6).assign(golfer="G01", tilt=1.0, speed=2.0)
    with pytest.raises(BadTable) as caught:
        build_design(table, "angle", ["tilt", "speed"])
    for word in ("tilt", "speed", "1 golfer"):
        assert word in str(caught.value)


def test_predictors_that_fix_one_another_are_named() -> None:
    """Truth: made. A sum of two others is named with both; a copy in other units with the original."""
    table = golf_swings(6, 6)
    table["sum"] = table["tilt"] + table["speed"]
    with pytest.raises(BadTable, match="a linear combination of") as caught:
        build_design(table, "angle", ["tilt", "speed", "sum"])
    assert sum(name in str(caught.value) for name in ("tilt", "speed", "sum")) == 3
    table["radians"] = np.radians(table["tilt"])
    with pytest.raises(BadTable, match="a linear combination of"):
        build_design(table, "angle", ["tilt", "radians"])


def test_split_gives_deviation_and_mean() -> None:
    """Truth: made. Deviations sum to 0 in every golfer, and both parts give the column back."""
    table = golf_swings(5, 7, unequal=True)
    table.index = table.index[::-1]
    table.loc[table.index[3], "tilt"] = np.nan
    deviation, mean = split_within_between(table, "tilt", golfer="golfer")
    assert deviation.index.equals(table.index)
    np.testing.assert_allclose(deviation + mean, table["tilt"])
    np.testing.assert_allclose(deviation.groupby(table["golfer"]).sum(), 0, atol=1e-12)
    assert mean.groupby(table["golfer"]).nunique().eq(1).all()
    with pytest.raises(BadTable, match="sex is not numeric"):
        split_within_between(table, "sex", golfer="golfer")
