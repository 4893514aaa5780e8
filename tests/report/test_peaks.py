"""When each part turns fastest: times with intervals and the probability of the order, in figures and in words."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import scipy.stats

from swinglab.columns import error_column_name
from swinglab.errors import BadTable
from swinglab.figures import draw_golfer_peaks, draw_swing_peaks
from swinglab.figures.peaks import PARTS, half_width, time_column
from swinglab.report.peaks import golfer_peaks, swing_peaks

TIMES = {"pelvis": -0.08, "thorax": -0.06, "lead_arm": -0.04, "club": -0.002}


def _swings(golfers: int = 3, each: int = 4) -> pd.DataFrame:
    """Swings whose peaks come in the order of TIMES, with known errors; the second golfer is 10 ms later."""
    rows = []
    for golfer in range(golfers):
        for swing in range(each):
            row = {
                "swing": f"g{golfer}_{swing}",
                "golfer": f"g{golfer}",
                "peak_order_probability": 0.5 + 0.1 * golfer,
            }
            for part, time in TIMES.items():
                row[time_column(part)] = time + 0.01 * golfer + 0.001 * swing
                row[error_column_name(time_column(part))] = 0.004
                row[f"{part}_peak_axial_speed_dps"] = 500.0
            rows.append(row)
    return pd.DataFrame(rows)


def _intervals(ax) -> list[np.ndarray]:
    return [
        line.get_xdata() for line in ax.lines if len(line.get_xdata()) == 2 and line.get_linestyle() == "-"
    ][1:]


def test_a_swings_peaks_are_dots_with_intervals_of_their_errors() -> None:
    """Truth: other (scipy's normal interval). Four dots, four intervals, no curve."""
    ax = draw_swing_peaks(_swings().iloc[0])
    dots = [float(line.get_xdata()[0]) for line in ax.lines if line.get_marker() == "o"]
    assert dots == pytest.approx([1000 * TIMES[part] for part in PARTS])
    expected = [scipy.stats.norm.interval(0.95, dot, 4.0) for dot in dots]
    assert np.allclose(_intervals(ax), expected)
    assert max(len(line.get_xdata()) for line in ax.lines) == 2


def test_golfers_means_have_intervals_of_their_own_swings() -> None:
    """Truth: other (scipy's t interval)."""
    table = _swings()
    ax = draw_golfer_peaks(table)
    own = 1000 * table[table["golfer"] == "g0"][time_column("pelvis")]
    low, high = scipy.stats.t.interval(0.95, len(own) - 1, own.mean(), own.std(ddof=1) / np.sqrt(len(own)))
    assert any(np.allclose(line, [low, high]) for line in _intervals(ax))
    means = 1000 * table.groupby("golfer")[time_column("club")].mean()
    low, high = scipy.stats.t.interval(0.95, 2, means.mean(), scipy.stats.sem(means))
    assert any(np.allclose(line, [low, high]) for line in _intervals(ax))
    assert np.isnan(half_width(np.nan, 1))


def test_swings_without_a_peak_do_not_narrow_the_interval_of_a_mean() -> None:
    """Truth: other (scipy's t interval). Before, swings without a peak were counted in the number of values."""
    table = _swings(each=20)
    name = time_column("pelvis")
    table.loc[table.groupby("golfer").cumcount() >= 4, name] = np.nan
    own = 1000 * table[table["golfer"] == "g0"][name].dropna()
    expected = scipy.stats.t.interval(0.95, 3, own.mean(), scipy.stats.sem(own))
    assert any(np.allclose(line, expected) for line in _intervals(draw_golfer_peaks(table)))


def test_many_golfers_are_drawn_without_intervals_of_their_own() -> None:
    """Truth: made."""
    assert len(_intervals(draw_golfer_peaks(_swings(golfers=30, each=2)))) == len(PARTS)


@pytest.mark.parametrize(("given", "words"), [(0.0, "below 0.01"), (0.996, "above 0.99"), (0.25, "0.25")])
def test_no_probability_is_printed_as_certain(given: float, words: str) -> None:
    """Truth: made. A share of drawn errors of 0 or 1 is no certainty, of one swing and of golfers alike."""
    swings = _swings().assign(peak_order_probability=given)
    assert f"lead arm, club is {words}." in swing_peaks(swings.iloc[0]).caption
    ((_, drawn),) = golfer_peaks(swings)
    assert f"lead arm, club is {words} on average" in drawn.caption


def test_the_words_give_the_probability_of_the_order() -> None:
    """Truth: made."""
    swing = swing_peaks(_swings().iloc[0])
    assert swing is not None
    assert "lead arm, club is 0.50." in swing.caption
    assert "pelvis −80.0, thorax −60.0, lead arm −40.0, club −2.0 (ms)" in swing.alt
    ((name, drawn),) = golfer_peaks(_swings())
    assert name == "peak_times"
    assert "0.60 on average over 3 golfers (from 0.50 to 0.70 by golfer)" in drawn.caption


def test_unknown_errors_are_said_and_missing_peaks_draw_nothing() -> None:
    """Truth: made."""
    swing = _swings().iloc[0].copy()
    swing["peak_order_probability"] = np.nan
    shown = swing_peaks(swing)
    assert shown is not None
    assert "cannot be given" in shown.caption
    bare = _swings()[["swing", "golfer"]]
    assert swing_peaks(bare.iloc[0]) is None
    assert golfer_peaks(bare) == []
    with pytest.raises(BadTable, match="no swing has a peak"):
        draw_golfer_peaks(bare)
