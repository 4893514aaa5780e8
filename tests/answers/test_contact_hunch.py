"""A hunch on contact in words: counted in steps, with the ordered and the yes-or-no model beside it."""

from __future__ import annotations

import numpy as np
import pytest
from made_questions import TILT, contact_table
from scipy import stats

from swinglab.answers import judge, relate_posture_to_strike
from swinglab.records import Errors, Hunch
from swinglab.statistics import fit_ordinal_mixed, split_within_between

HUNCH = Hunch("tilt", "contact", "thorax_lateral_flexion_deg", "impact", expect="positive")


def test_contact_is_judged_in_steps_with_log_odds_beside() -> None:
    """Truth: other. The score is 0, 1, 2; the ordered line is fit_ordinal_mixed on deviation and mean."""
    table = contact_table()
    found = judge(relate_posture_to_strike(table, HUNCH, errors=Errors()), [HUNCH])
    assert found[0].role == "default" and found[0].unit == "steps (fat, clean, thin)"
    assert found[0].reading_key == "borne_out"
    (ordered,) = [f for f in found if f.unit == "log odds of a thinner strike"]
    deviation, mean = split_within_between(table.assign(**{TILT: table[TILT] / 10}), TILT)
    fit = fit_ordinal_mixed(table.assign(deviation=deviation, mean=mean), "contact", ["deviation", "mean"])
    line = fit.coefficients.loc["deviation"]
    assert ordered.estimate == pytest.approx(line["estimate"], rel=1e-6)
    assert ordered.p == pytest.approx(2 * stats.t.sf(abs(line["golfer_t"]), 9), rel=1e-6)
    assert ordered.method_key == "cumulative_logit" and ordered.role == "beside"
    assert sum(f.unit == "log odds of a clean strike" for f in found) == 1


def test_posture_error_stretches_the_log_odds_too() -> None:
    """Truth: made. With an error of 2 deg a swing both lines grow by the same share, p stays."""
    table = contact_table()
    plain = relate_posture_to_strike(table, HUNCH, errors=Errors(soft_tissue_deg=0.0))
    noisy = relate_posture_to_strike(table, HUNCH, errors=Errors(soft_tissue_deg=2.0))
    before, after = (next(f for f in lines if f.unit.endswith("thinner strike")) for lines in (plain, noisy))
    deviation, _ = split_within_between(table, TILT)
    spread = (deviation**2).sum() / (len(table) - 10)
    assert after.estimate / before.estimate == pytest.approx(1 / (1 - 4.0 / spread))
    assert after.p == before.p and "corrected for measurement error" in after.method


def test_one_golfer_and_few_golfers_have_steps_alone() -> None:
    """Truth: made. Three golfers are shown one by one, in steps; without any thin strike the line says why."""
    found = relate_posture_to_strike(contact_table(3), HUNCH, errors=Errors())
    assert [f.level for f in found[1:]] == ["golfer"] * 3
    assert all(f.unit == "steps (fat, clean, thin)" and np.isfinite(f.estimate) for f in found[1:])
    table = contact_table()
    table["contact"] = np.where(table[TILT] > table[TILT].median(), "clean", "fat")
    lines = relate_posture_to_strike(table, HUNCH, errors=Errors())
    assert any("perfectly" in " ".join(f.warnings) for f in lines if f.unit.startswith("log odds"))


def test_p_and_interval_of_the_ordered_line_agree() -> None:
    """Truth: made. In 20 sets with a weak slope the 95 % interval leaves out 0 just where p is below .05."""
    for seed in range(20):
        lines = relate_posture_to_strike(contact_table(slope=0.08, seed=seed), HUNCH, errors=Errors())
        (ordered,) = [f for f in lines if f.unit == "log odds of a thinner strike"]
        assert (ordered.p < 0.05) == (ordered.ci_low > 0 or ordered.ci_high < 0)


def test_uncertain_contacts_are_counted_as_such() -> None:
    """Truth: made. Three contacts not known well enough: left out under their own name, not as missing values."""
    table = contact_table()
    table.loc[:2, "contact"] = "uncertain"
    first = relate_posture_to_strike(table, HUNCH, errors=Errors())[0]
    assert any("3 swings with uncertain contact" in w for w in first.warnings)
    assert "swings_dropped" not in first.warning_keys
