"""Tables as people have them: other column types, indexes and names give the same answer or a plain error."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from made_swings import golf_swings

from swinglab import statistics as st
from swinglab.errors import BadTable, SwinglabError

BASE = golf_swings(10, 8, unequal=True).assign(
    tilt=lambda t: t["tilt"].round(),
    contact=lambda t: pd.cut(t["angle"], [-99, -4.5, -2.5, 99], labels=["fat", "clean", "thin"]).astype(str),
    clean=lambda t: (t["angle"] + t["speed"] % 1 > -3.5).astype(int),
    club=lambda t: np.where(t["order"] % 2 == 0, "wedge", "iron"),
)
ASKED: dict[str, Callable[[pd.DataFrame], object]] = {
    "mixed": lambda t: st.fit_mixed(t, "angle", ["tilt", "sex"], slopes="tilt").coefficients,
    "clustered": lambda t: st.fit_cluster_robust(t, "angle", ["tilt", "sex"]).coefficients,
    "joint": lambda t: st.fit_cluster_robust(t, "angle", ["tilt", "club"]).joint_test(["tilt", "club"]).p,
    "means": lambda t: st.fit_golfer_means(t, "angle", "tilt").coefficients,
    "groups": lambda t: st.compare_means(t, "angle", between="sex").means,
    "paired": lambda t: st.compare_paired(t, "angle", between="club").t,
    "adjusted": lambda t: st.compare_adjusted(t, "angle", covariate="speed", between="club").adjusted_means,
    "reliability": lambda t: st.reliability(t, "angle").icc,
    "ordered": lambda t: st.fit_ordinal_mixed(t, "contact", "tilt").coefficients["estimate"],
    "binary": lambda t: st.fit_binary(t, "clean", "tilt").coefficients["p"],
    "wild": lambda t: st.wild_bootstrap(t, "angle", "tilt", term="tilt").p,
    "influence": lambda t: st.influence(t, "angle", "tilt", term="tilt")["p"],
    "devices": lambda t: st.agreement_by_golfer(t, "tilt", "speed").sd,
}  # fmt: skip


def numbers(answer: object) -> np.ndarray:
    """All numbers of an answer."""
    if isinstance(answer, pd.DataFrame):
        return answer.select_dtypes("number").to_numpy(float).ravel()
    return np.ravel(np.asarray(answer, float))


def with_objects(table: pd.DataFrame) -> pd.DataFrame:
    """Every column of Python objects, and a last row with nothing in it."""
    return pd.concat([table.astype(object), pd.DataFrame([dict.fromkeys(table)], dtype=object)])


GIVEN: dict[str, Callable[[pd.DataFrame], pd.DataFrame]] = {
    "index that repeats": lambda t: t.set_index(np.zeros(len(t), dtype=int)),
    "index named as columns": lambda t: t.set_index(["golfer", "sex"], drop=False),
    "pandas' own types": lambda t: t.convert_dtypes(),
    "objects and an empty row": with_objects,
    "golfers as numbers": lambda t: t.assign(golfer=t["golfer"].str[1:].astype(int)),
    "truth values for words": lambda t: t.assign(sex=t["sex"] == "male", club=t["club"] == "wedge"),
    "categories, some unused": lambda t: t.assign(
        **{n: pd.Categorical(t[n], [*sorted(t[n].unique()), "zz"]) for n in ("golfer", "sex", "club")}
    ),
}


@pytest.mark.parametrize("given", GIVEN)
def test_the_form_of_a_table_changes_no_answer(given: str) -> None:
    """Truth: made. The same swings in another form."""
    table = GIVEN[given](BASE)
    for asked, ask in ASKED.items():
        np.testing.assert_allclose(numbers(ask(table)), numbers(ask(BASE)), rtol=1e-7, err_msg=asked)


def test_column_names_may_be_anything_but_doubled() -> None:
    """Truth: made. Spaces, other scripts and numbers as names; two columns of one name are refused."""
    named = BASE.rename(columns={"tilt": "Neigung im Rückschwung (°)", "contact": 7})
    fit = st.fit_mixed(named, "angle", "Neigung im Rückschwung (°)")
    np.testing.assert_allclose(fit.coefficients, st.fit_mixed(BASE, "angle", "tilt").coefficients)
    assert len(st.fit_ordinal_mixed(named, 7, ["speed"]).coefficients) == 1
    doubled = pd.concat([BASE, BASE[["angle"]]], axis=1)
    with pytest.raises(BadTable, match="have the same name: angle"):
        st.fit_mixed(doubled, "angle", "tilt")
    with pytest.raises(BadTable, match="DataFrame, but it is a dict"):
        st.reliability(BASE.to_dict("list"), "angle")


BAD = {
    "one value": BASE.assign(angle=3.3),
    "golfers alone": BASE.assign(angle=pd.factorize(BASE["golfer"])[0] / 3),
    "golfers' own lines": BASE.assign(angle=pd.factorize(BASE["golfer"])[0] * BASE["tilt"] / 7),
    "predicted without error": BASE.assign(angle=2 * BASE["tilt"] + 1),
    "one golfer": BASE[BASE["golfer"] == "G00"],
    "two golfers": BASE[BASE["golfer"].isin(["G00", "G01"])],
    "no row": BASE.iloc[:0],
    "one swing each": BASE.drop_duplicates("golfer"),
    "infinite": BASE.assign(angle=np.where(BASE.index == 3, np.inf, BASE["angle"])),
    "too large to square": BASE.assign(angle=BASE["angle"] * 1e200),
    "times": BASE.assign(tilt=pd.Timestamp("2026-01-01") + pd.to_timedelta(BASE["tilt"], "D")),
    "complex": BASE.assign(tilt=BASE["tilt"] + 1j),
    "lists": BASE.assign(tilt=[[1]] * len(BASE)),
    "words among numbers": BASE.assign(tilt=BASE["tilt"].astype(object).where(BASE.index != 3, "lost")),
    "no golfers": BASE.assign(golfer=None),
}


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_answered_is_said(name: str) -> None:
    """Truth: made. A table that cannot carry a question gets numbers or the project's own error, no other."""
    refused = 0
    for ask in ASKED.values():
        try:
            assert numbers(ask(BAD[name])).size > 0
        except SwinglabError as fault:
            refused += len(str(fault)) > 20
    assert refused >= 1


def test_outcomes_without_error_are_refused_by_every_method() -> None:
    """Truth: made. Rounding is no error: a constant outcome, and one that the predictor fixes."""
    for name, methods in {
        "one value": (
            "mixed",
            "clustered",
            "joint",
            "means",
            "groups",
            "paired",
            "adjusted",
            "reliability",
            "wild",
        ),
        "predicted without error": ("mixed", "clustered", "joint", "means", "wild"),
        "golfers' own lines": ("mixed",),
    }.items():
        for asked in methods:
            with pytest.raises(BadTable):
                ASKED[asked](BAD[name])


def test_values_in_lists_may_miss_and_must_be_numbers() -> None:
    """Truth: made. pandas' missing value among numbers; words are refused."""
    a, b = [1.0, 2.0, pd.NA, 4.0, 5.5], [1.5, 2.0, 3.0, 3.5, 5.0]
    assert st.agreement(a, b).n == 4
    with pytest.raises(BadTable, match="a must be numeric"):
        st.agreement(["x", "y", "z"], [1, 2, 3])
