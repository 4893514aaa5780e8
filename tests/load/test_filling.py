"""Gaps: what is filled and how well, what is left open, and that every filled sample is flagged."""

from __future__ import annotations

import numpy as np
import pytest
from load.made_swing import CONTACT_S, as_captured, truth

from swinglab.load import load_trial
from swinglab.load.gaps import fill_gaps, find_gaps
from swinglab.records import Setup, Trial

RATE = 240.0


def trial_with_gaps(
    gaps: dict[str, list[tuple[float, float]]], **given: float
) -> tuple[Trial, dict[str, np.ndarray]]:
    """The made swing with stretches (start_s, end_s) of landmarks taken out, and what was there."""
    points = truth(RATE)
    holed = {name: path.copy() for name, path in points.items()}
    time = np.arange(len(points["c7"])) / RATE
    for name, stretches in gaps.items():
        for start, end in stretches:
            holed[name][(time >= start) & (time < end)] = np.nan
    setup = Setup(up="+Y", target="+X", longest_gap_s=0.05, **given)
    return load_trial(as_captured(holed), setup, swing="s", golfer="g"), points


def error_mm(trial: Trial, points: dict[str, np.ndarray], name: str) -> float:
    """Largest distance of filled samples from the truth, before smoothing plays a part."""
    filled, flags, _ = fill_gaps(trial.landmarks, trial.raw_m, trial.rate_hz, trial.contact_time_s, 0.05)
    k = trial.landmarks.index(name)
    np.testing.assert_array_equal(flags[:, k], trial.filled[:, k])
    return 1000 * float(np.max(np.linalg.norm(filled[flags[:, k], k] - points[name][flags[:, k]], axis=1)))


def test_short_gaps_are_filled_by_a_spline() -> None:
    """Truth: made. Body and club, up to 0.05 s: to 0.2 mm in slow parts, 5 mm of a club at 30 m/s."""
    trial, points = trial_with_gaps({"c7": [(0.8, 0.849)], "clubhead": [(0.9, 0.94), (1.47, 1.485)]})
    assert trial.filled[:, trial.landmarks.index("c7")].sum() == 12
    assert error_mm(trial, points, "c7") < 0.2
    assert error_mm(trial, points, "clubhead") < 5
    assert [w for w in trial.warnings if "filled by a spline: " in w and "(longest gap 0.050 s)" in w]


def test_long_gaps_are_carried_by_the_segment() -> None:
    """Truth: made. A marker of a rigid trunk comes back to the last digits, over half a second of turning."""
    trial, points = trial_with_gaps({"jugular_notch": [(0.6, 1.1)], "asis_left": [(1.6, 1.9)]})
    for name in ("jugular_notch", "asis_left"):
        assert trial.filled[:, trial.landmarks.index(name)].sum() > 70
        assert error_mm(trial, points, name) < 1e-9
    assert [w for w in trial.warnings if "filled from the segment's other markers" in w]


def test_noise_and_soft_tissue_leave_no_step_at_the_edges() -> None:
    """Truth: made. A marker that slides on its segment: the filled path joins both ends of the gap."""
    points = truth(RATE)
    slide = np.linspace(0, 0.02, len(points["c7"]))[:, None] * [0, 1, 0]
    moved = points["c7"] + slide
    holed = moved.copy()
    holed[150:270] = np.nan
    setup = Setup(up="+Y", target="+X")
    trial = load_trial(as_captured({**points, "c7": holed}), setup, swing="s", golfer="g")
    filled, flags, _ = fill_gaps(trial.landmarks, trial.raw_m, RATE, trial.contact_time_s, 0.05)
    k = trial.landmarks.index("c7")
    assert flags[150:270, k].all()
    assert np.max(np.linalg.norm(filled[150:270, k] - moved[150:270], axis=1)) < 0.002
    steps = np.linalg.norm(np.diff(filled[:, k], axis=0), axis=1)
    assert steps[[149, 269]].max() < 1.5 * np.linalg.norm(np.diff(moved, axis=0), axis=1).max()


def test_two_markers_do_not_make_a_rigid_body() -> None:
    """Truth: made. Left open, flagged nowhere, with a warning."""
    trial, _ = trial_with_gaps({"toe_left": [(0.5, 0.7)], "xiphoid": [(0.5, 0.7)], "t8": [(0.5, 0.7)],
                                "c7": [(0.5, 0.7)], "jugular_notch": [(0.5, 0.7)]})  # fmt: skip
    for name in ("toe_left", "xiphoid", "c7"):
        k = trial.landmarks.index(name)
        assert np.isnan(trial.points_m[130:160, k]).all()
        assert not trial.filled[:, k].any()
    assert [w for w in trial.warnings if "not filled (too long" in w and "toe_left" in w]


def test_nothing_is_filled_across_contact() -> None:
    """Truth: made. Club or body, short or long; gaps beside contact are."""
    before, after = CONTACT_S - 0.1, CONTACT_S + 0.1
    trial, _ = trial_with_gaps(
        {
            "clubhead": [(CONTACT_S - 0.02, CONTACT_S + 0.01)],
            "c7": [(before, after)],
            "t8": [(before + 0.055, before + 0.09)],
        }
    )
    for name in ("clubhead", "c7"):
        assert not trial.filled[:, trial.landmarks.index(name)].any()
    assert trial.filled[:, trial.landmarks.index("t8")].any()
    assert [w for w in trial.warnings if "not filled (the gap contains contact)" in w]


def test_the_club_is_not_filled_from_the_other_side_of_contact() -> None:
    """Truth: made. A spline for the club just before contact uses samples before contact alone."""
    trial, points = trial_with_gaps({"clubhead": [(CONTACT_S - 0.03, CONTACT_S - 0.02)]})
    after = {name: path.copy() for name, path in points.items()}
    after["clubhead"][int(CONTACT_S * RATE) + 2 :] += [0.05, 0.05, 0]
    after["clubhead"][int((CONTACT_S - 0.03) * RATE) + 1 : int((CONTACT_S - 0.02) * RATE) + 1] = np.nan
    other = load_trial(as_captured(after), Setup(up="+Y", target="+X"), swing="s", golfer="g")
    k = trial.landmarks.index("clubhead")
    both = trial.filled[:, k] & other.filled[:, k]
    assert both.sum() >= 2
    np.testing.assert_allclose(trial.points_m[both, k], other.points_m[both, k], atol=1e-9)


def test_nothing_is_filled_beyond_the_ends() -> None:
    """Truth: made."""
    trial, _ = trial_with_gaps({"c7": [(0.0, 0.03), (2.05, 3.0)]})
    k = trial.landmarks.index("c7")
    assert not trial.filled[:, k].any()
    assert np.isnan(trial.points_m[:7, k]).all()
    assert np.isnan(trial.points_m[-5:, k]).all()
    assert np.isfinite(trial.points_m[10:480, k]).all()


def test_gaps_are_runs_between_two_samples() -> None:
    """Truth: made."""
    missing = np.array([[1, 0, 0, 1, 1, 0, 1, 0, 1, 1]], bool).T
    assert [(g.first, g.end, g.frames) for g in find_gaps(missing)] == [(3, 5, 2), (6, 7, 1)]
    assert find_gaps(np.zeros((5, 2), bool)) == []
    assert find_gaps(np.ones((5, 1), bool)) == []


@pytest.mark.parametrize("longest", [0.0, 0.2])
def test_the_study_sets_the_longest_gap(longest) -> None:
    """Truth: made."""
    points = truth(RATE)
    points["toe_left"][100:130] = np.nan
    setup = Setup(up="+Y", target="+X", longest_gap_s=longest)
    trial = load_trial(as_captured(points), setup, swing="s", golfer="g")
    assert trial.filled.any() == (longest > 0.125)
