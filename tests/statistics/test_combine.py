"""Slopes of several studies combined."""

from __future__ import annotations

import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import optimize, stats
from statsmodels.stats.meta_analysis import combine_effects

from swinglab.errors import BadTable
from swinglab.figures.forest_of_studies import draw_studies
from swinglab.statistics import combine_studies
from swinglab.statistics.combine import combine_estimates
from tests.made_swing_table import COLUMN, swing_table


def studies(slopes=(0.2, 0.2, 0.2), **how) -> dict[str, pd.DataFrame]:
    made = {}
    for k, slope in enumerate(slopes):
        table = swing_table(within=slope, seed=k + 1, **how)
        table["golfer"] = f"{k}-" + table["golfer"]
        made[f"study {k}"] = table
    return made


def test_second_stage_is_that_of_another_program() -> None:
    """Truth: other. statsmodels' Paule-Mandel random effects with its t limits scaled as Hartung and Knapp do."""
    rng = np.random.default_rng(1)
    y, se = rng.normal(1.0, 1.0, 8), rng.uniform(0.2, 0.5, 8)
    found = combine_estimates(pd.DataFrame({"estimate": y, "standard_error": se}))
    other = combine_effects(y, se**2, method_re="iterated", use_t=True, atol=1e-12, maxiter=1000)
    assert found.between_sd**2 == pytest.approx(other.tau2, rel=1e-5)
    assert found.estimate == pytest.approx(other.mean_effect_re, rel=1e-6)
    assert found.standard_error == pytest.approx(other.sd_eff_w_re_hksj, rel=1e-5)
    assert found.q == pytest.approx(other.q)


def test_limits_are_never_narrower_than_the_plain_ones() -> None:
    """Truth: other. Three studies that happen to agree: normal-theory error, t with 2 df."""
    found = combine_estimates(
        pd.DataFrame({"estimate": [1.0, 1.01, 0.99], "standard_error": [0.3, 0.3, 0.3]})
    )
    assert found.between_sd == 0.0
    assert found.standard_error == pytest.approx(0.3 / np.sqrt(3))
    assert found.ci_high - found.estimate == pytest.approx(stats.t.ppf(0.975, 2) * 0.3 / np.sqrt(3))


def test_between_variance_makes_the_weighted_squares_right() -> None:
    """Truth: other. The defining equation solved by another root finder."""
    y, v = np.array([0.0, 1.0, 3.0, 2.0]), np.array([0.1, 0.2, 0.1, 0.3])
    found = combine_estimates(pd.DataFrame({"estimate": y, "standard_error": np.sqrt(v)}))

    def off(tau2: float) -> float:
        w = 1 / (v + tau2)
        return float(w @ (y - w @ y / w.sum()) ** 2) - 3

    assert found.between_sd**2 == pytest.approx(optimize.bisect(off, 0, 50, xtol=1e-12), rel=1e-6)


def test_studies_with_one_slope_are_combined_and_drawn() -> None:
    """Truth: made. 2 deg for 10 deg in every study; the picture has a mark for each and one for all."""
    found = combine_studies(studies(golfers=10), "attack_angle_deg", COLUMN)
    assert found.ci_low < 2.0 < found.ci_high and found.prediction_low < found.ci_low
    assert found.table["weight"].sum() == pytest.approx(1.0)
    axes = draw_studies(
        found.table, estimate=found.estimate, interval=(found.ci_low, found.ci_high),
        prediction=(found.prediction_low, found.prediction_high), unit="deg",
    )  # fmt: skip
    assert [t.get_text() for t in axes.get_yticklabels()][-2:] == ["combined", "prediction for a new study"]


def test_what_cannot_be_combined_is_refused() -> None:
    """Truth: made."""
    one = studies(golfers=6)
    with pytest.raises(BadTable, match="2 studies or more, not 1"):
        combine_studies({"a": one["study 0"]}, "attack_angle_deg", COLUMN)
    with pytest.raises(BadTable, match="not independent"):
        combine_studies({"a": one["study 0"], "b": one["study 0"]}, "attack_angle_deg", COLUMN)
    with pytest.raises(BadTable, match="two are needed"):
        combine_studies(studies(golfers=1), "attack_angle_deg", COLUMN)


def test_the_documented_call_runs_and_draws(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: made. The lines of references/study_folder.md, on two simulated studies in place of folders."""
    page = (Path(__file__).parents[2] / "references" / "study_folder.md").read_text(encoding="utf-8")
    code = re.search(r"```python\n(.*?)```", page.split("## Several studies together")[1], re.DOTALL)
    given = dict(zip(("winter_study", "spring_study"), studies(golfers=8).values(), strict=False))
    monkeypatch.setattr("swinglab.study.open_study", lambda folder: folder)
    monkeypatch.setattr("swinglab.study.measure_study", lambda study: SimpleNamespace(swings=given[study]))
    monkeypatch.chdir(tmp_path)
    names: dict = {}
    exec(code.group(1), names)  # the project's own page
    assert names["together"].ci_low < 2.0 < names["together"].ci_high
    assert (tmp_path / "studies_together.png").stat().st_size > 5_000
