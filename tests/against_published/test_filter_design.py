"""Two passes of a Butterworth filter against references/published/filters.toml."""

from __future__ import annotations

import pytest
from published import cases

from swinglab.signals.filters import DUAL_PASS, design_frequency, gain

CASES = {case["name"]: case for case in cases("filters.toml")}


@pytest.mark.parametrize("name", [name for name in CASES if name.startswith("design")])
def test_design_frequency_and_gain_at_the_cut_off(name) -> None:
    """Truth: published (Winter 2009, p. 69; on the pre-warped frequency)."""
    case = CASES[name]
    rate, cutoff = case["given"]["rate_hz"], case["given"]["cutoff_hz"]
    assert design_frequency(rate, cutoff) == pytest.approx(
        case["expected"]["design_hz"], abs=case["tolerance"]
    )
    at_cutoff = float(gain(rate, cutoff, cutoff))
    assert at_cutoff == pytest.approx(case["expected"]["gain_at_cutoff"], abs=case["tolerance"])


def test_correction_for_two_passes() -> None:
    """Truth: published (Winter 2009, p. 69; Robertson et al., p. 288)."""
    case = CASES["dual-pass correction"]
    assert pytest.approx(case["expected"]["correction"], abs=case["tolerance"]) == DUAL_PASS
