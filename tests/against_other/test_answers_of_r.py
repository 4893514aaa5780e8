"""Every method beside R's answers on small made sets, kept in answers_of_r.json by tests/calibration/against_r.py."""

from __future__ import annotations

import json

import pandas as pd
import pytest
from calibration import against_r

KEPT = json.loads(against_r.FROZEN.read_text(encoding="utf-8"))
ASKED = sorted({one["job"]["ask"] for one in KEPT["kept"]})
#: Largest difference allowed, relative to a number's size (estimates: to their standard error). R finds its mixed and
#: ordered optima, the curvature for df and the noncentral limits by search, to about these digits.
TOLERANCE = {
    "mixed": 2e-4,
    "ordered_outcome": 2e-3,
    "series": 2e-5,
    "one_way": 1e-6,
    "two_groups": 2e-6,
    "yes_or_no": 1e-5,
}
EXACT = 1e-8
#: By name: flat near a boundary, estimated by another rule, or a number that R's search leaves at its own digits.
LOOSE = {"session_variance": 2e-2, "random_covariance": 2e-3, "random_variance": 2e-2, "alpha": 5e-2,
         "hedges_g_low": 2e-4, "hedges_g_high": 2e-4, "criterion": 1e-6, "log_likelihood": 1e-5}  # fmt: skip


def table_of(job: dict) -> pd.DataFrame:
    """The made table of a job, made again from its seed."""
    if not job["data"]:
        return pd.DataFrame()
    kind = job["data"].split("_")[0]
    if kind == "golf":
        return against_r.standardised(against_r.golf_set(job["seed"], small=True))
    if kind == "series":
        return against_r.series_jobs(job["seed"])[0]
    table = against_r.vector_jobs(job["seed"])[int(kind.removeprefix("vectors"))][0]
    assert table is not None
    return table


def test_the_made_sets_are_those_that_r_saw() -> None:
    """Truth: kept. Sums of the tables, so that a changed generator is not taken for a changed method."""
    jobs = {one["job"]["data"]: one["job"] for one in KEPT["kept"] if one["job"]["data"]}
    for name, job in jobs.items():
        total = table_of(job).select_dtypes("number").abs().sum().sum()
        assert total == pytest.approx(KEPT["sums"][name], rel=1e-7), name


@pytest.mark.parametrize("ask", ASKED)
def test_answers_equal_those_of_r(ask: str) -> None:
    """Truth: other. R with lme4, lmerTest, nlme, ordinal, clubSandwich, geepack, effectsize, emmeans, psych."""
    compared = 0
    for one in KEPT["kept"]:
        job, theirs = one["job"], one["answer"]
        if job["ask"] != ask:
            continue
        ours = against_r.answer_of_ours(job, table_of(job))
        assert "refused" not in ours, (job["id"], ours)
        if ask == "mixed":  # the lower criterion is the better optimum
            assert ours["criterion"] <= theirs["criterion"] + 1e-7, job["id"]
            if ours["criterion"] < theirs["criterion"] - 1e-4:
                continue
        if ask == "series" and ours["log_likelihood"] > theirs["log_likelihood"] + 1e-6:
            continue
        for name in ours.keys() & theirs.keys():
            if _comparable(theirs[name]):
                off = against_r.difference(name, ours[name], theirs[name], theirs)
                assert off <= LOOSE.get(name, TOLERANCE.get(ask, EXACT)), (
                    job["id"],
                    job.get("predictors"),
                    name,
                    off,
                )
                compared += 1
    assert compared >= 6


def _comparable(value: object) -> bool:
    """Whether R gave a number: a fit at a variance of 0 has no standard errors there."""
    return value is not None and not (
        isinstance(value, list) and ("NA" in value or "NaN" in value or None in value)
    )
