"""Standard errors against what noise really does, and what must change nothing at all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal
from scipy.spatial.transform import Rotation
from segments.made_body import STANDING, in_study_frame, make_events, make_trial, moving

from swinglab.columns import QUANTITIES
from swinglab.conventions import GOLFER_AXES, SEGMENT_LANDMARKS, mirrored_name
from swinglab.segments import measure_at, measure_posture
from swinglab.segments.at_events import SHAFT
from swinglab.signals import smooth, white_noise_passed

POSED = {
    name: Rotation.from_euler("YXZ", [-35, 15, -30], degrees=True).apply(xyz)
    for name, xyz in STANDING.items()
}
#: At the posed body the arms hang along the trunk: what is near singular there is not near normal.
SHAKEN = ("plane_of_elevation", "shoulder_internal_rotation")


def test_standard_errors_match_the_scatter_of_noise() -> None:
    """Truth: made. 4000 frames of one posture with noise of 0.5 to 2 mm: ratio of scatter to prediction."""
    rng = np.random.default_rng(5)
    points = in_study_frame(POSED)
    noise = rng.uniform(0.0005, 0.002, len(points))
    noisy = {n: xyz + rng.normal(0, s, (4000, 3)) for (n, xyz), s in zip(points.items(), noise, strict=True)}
    posture = measure_posture(make_trial(noisy, noise_m=noise))
    for k, name in enumerate(posture.quantities):
        if not any(word in name for word in SHAKEN):
            scatter, predicted = posture.values[:, k].std(), posture.standard_errors[:, k].mean()
            assert 0.93 < scatter / predicted < 1.07, (name, scatter, predicted)


def test_standard_errors_match_the_scatter_of_noise_that_markers_share() -> None:
    """Truth: made. 4000 frames of one posture, six tenths of the noise's variance common to all body markers."""
    rng, share = np.random.default_rng(7), 0.6
    points = in_study_frame(POSED)
    cutoffs = dict.fromkeys(SEGMENT_LANDMARKS, 100.0)  # more than 0.4 of the rate: a filter that passes all
    body = {name for own in SEGMENT_LANDMARKS.values() for name in own}
    common = rng.normal(0, 0.001 * np.sqrt(share), (4000, 3))
    noisy = {
        name: xyz
        + rng.normal(0, 0.001 * np.sqrt(1 - share if name in body else 1.0), (4000, 3))
        + common * (name in body)
        for name, xyz in points.items()
    }
    trial = make_trial(noisy, noise_m=0.001, cutoff_hz=cutoffs, rate_hz=200.0)
    together, apart = (measure_posture(t) for t in (replace(trial, common_noise=share), trial))
    off = []
    for i, name in enumerate(together.quantities):
        if any(word in name for word in SHAKEN):
            continue
        scatter = together.values[:, i].std()
        ratio = scatter / together.standard_errors[:, i].mean()
        assert 0.93 < ratio < 1.07, (name, ratio)
        off.append(scatter / apart.standard_errors[:, i].mean())
    assert max(off) > 1.5 and min(off) < 0.7


def test_deformation_adds_to_the_noise_of_its_landmark_as_a_square() -> None:
    """Truth: made. 0.03 mm of noise and 0.04 mm of deformation are 0.05 mm."""
    trial = moving(40, noise_m=0.00003)
    both = measure_posture(replace(trial, deformation_m=np.full(len(trial.landmarks), 0.00004)))
    noise = measure_posture(trial)
    np.testing.assert_allclose(both.standard_errors, 5 / 3 * noise.standard_errors, rtol=0.02)
    unknown = measure_posture(replace(trial, deformation_m=np.full(len(trial.landmarks), np.nan)))
    np.testing.assert_array_equal(unknown.standard_errors, noise.standard_errors)


@pytest.mark.parametrize("rate_hz", [60.0, 120.0, 240.0, 500.0])
@pytest.mark.parametrize("lost_mps", [0.9, 2.7])
def test_what_smoothing_takes_at_impact_enters_the_error_of_the_hands(
    rate_hz: float, lost_mps: float
) -> None:
    """Truth: made. Both elbows and wrists lose speed at once; smoothed at 12 Hz, their height is up to 0.9 cm off."""
    t = np.arange(int(rate_hz)) / rate_hz - 0.5003
    path = np.outer(-lost_mps * np.maximum(t, 0.0), [1.0, 0.0, 0.0])
    moved = ("elbow", "wrist", "hand")
    exact = {name: xyz + path * name.startswith(moved) for name, xyz in in_study_frame(STANDING).items()}
    smoothed = {name: smooth(xyz.T, rate_hz, 12.0).T for name, xyz in exact.items()}
    settings = {"rate_hz": rate_hz, "noise_m": 3e-4, "cutoff_hz": dict.fromkeys(SEGMENT_LANDMARKS, 12.0)}
    still, seen = (
        measure_posture(replace(make_trial(points, **settings), contact_time_s=0.5003))
        for points in (exact, smoothed)
    )
    name = "hands_ahead_of_ball_cm"
    column, frame = seen.quantities.index(name), int(np.argmin(np.abs(t)))
    error = seen.curve(name)[frame] - still.curve(name)[frame]
    assert 0.7 < abs(error) / seen.standard_errors[frame, column] < 1.45
    assert seen.standard_errors[frame // 2, column] < 0.05
    assert seen.noise_errors is not None and seen.noise_errors[frame, column] < 0.05


def test_the_shaft_between_frames_averages_their_noise() -> None:
    """Truth: made. The club is not smoothed: half-way between frames its noise is 0.8 of a frame's, by a cubic."""
    rng = np.random.default_rng(4)
    points = in_study_frame(STANDING)
    noisy = {name: xyz + rng.normal(0, 0.001, (4000, 3)) for name, xyz in points.items()}
    posture = measure_posture(make_trial(noisy, noise_m=0.001))
    read = []
    for frame in range(100, 3900, 5):
        table = measure_at(posture, make_events({"address": (frame + 0.5) / 240}))
        table = table[(table["event"] == "address") & (table["quantity"] == SHAFT)]
        read.append(table[["value", "standard_error"]].to_numpy()[0])
    value, error = np.array(read).T
    assert value.std() / error.mean() == pytest.approx(1.0, abs=0.08)
    assert error.mean() < 0.85 * posture.standard_errors[:, posture.quantities.index(SHAFT)].mean()


def test_a_still_shaft_has_no_error_of_timing() -> None:
    """Truth: made. Noise makes a rate between frames where nothing moves; 3 ms of it would double the variance."""
    rng = np.random.default_rng(6)
    points = in_study_frame(STANDING)
    noisy = {name: xyz + rng.normal(0, 0.001, (4000, 3)) for name, xyz in points.items()}
    posture = measure_posture(make_trial(noisy, noise_m=0.001))
    value, error = [], []
    for frame in range(100, 3900, 13):
        off = rng.normal(0, 0.003)
        table = measure_at(posture, make_events({"address": frame / 240 + off}, error_s=0.003))
        row = table[(table["event"] == "address") & (table["quantity"] == SHAFT)].iloc[0]
        value.append(row["value"])
        error.append(row["standard_error"])
    assert 0.8 < np.std(value) / np.mean(error) < 1.05


def test_smoothing_leaves_the_part_of_noise_that_the_filter_passes() -> None:
    """Truth: other (scipy's filtfilt on white noise); the rule of thumb of the docstring holds too."""
    rng = np.random.default_rng(1)
    for rate, cutoff in ((240.0, 12.0), (500.0, 15.0), (100.0, 12.0)):
        design = rate / np.pi * np.arctan(np.tan(np.pi * cutoff / rate) / 0.80224)
        b, a = signal.butter(2, design / (rate / 2))
        left = signal.filtfilt(b, a, rng.normal(0, 1, 200_000)).std()
        assert np.sqrt(white_noise_passed(rate, cutoff)) == pytest.approx(left, rel=0.03)
        assert np.sqrt(white_noise_passed(rate, cutoff)) == pytest.approx(
            np.sqrt(2.08 * cutoff / rate), rel=0.08
        )
    assert white_noise_passed(100.0, 60.0) == 1.0


def test_errors_shrink_with_the_cutoff_of_each_segment() -> None:
    """Truth: made. A smoothed pelvis beside an unsmoothed thorax: only the pelvis's errors shrink."""
    trial = moving(60, noise_m=0.001)
    smoothed = make_trial(
        {n: trial.point(n) for n in trial.landmarks}, noise_m=0.001, cutoff_hz={"pelvis": 12.0}
    )
    whole, less = measure_posture(trial), measure_posture(smoothed)
    ratio = less.standard_errors[0] / whole.standard_errors[0]
    place = {name: k for k, name in enumerate(whole.quantities)}
    assert ratio[place["pelvis_flexion_deg"]] == pytest.approx(
        np.sqrt(white_noise_passed(240.0, 12.0)), rel=0.01
    )
    assert ratio[place["thorax_flexion_deg"]] == pytest.approx(1.0)


def test_unknown_noise_leaves_the_error_unknown_where_it_matters_alone() -> None:
    """Truth: made. NaN noise of one ASIS: no error for the pelvis, all errors for the head; a warning says so."""
    points = in_study_frame(STANDING)
    noise = [np.nan if name == "asis_left" else 0.001 for name in points]
    posture = measure_posture(make_trial(points, noise_m=noise))
    place = {name: k for k, name in enumerate(posture.quantities)}
    assert np.isnan(posture.standard_errors[:, place["pelvis_flexion_deg"]]).all()
    assert np.isfinite(posture.standard_errors[:, place["head_centre_up_cm"]]).all()
    assert any("asis_left" in warning for warning in posture.warnings)


def test_values_read_at_events_scatter_as_their_errors_say() -> None:
    """Truth: made. 120 noisy, smoothed copies of one moving swing, events with timing error: 0.8 to 1.25."""
    rng = np.random.default_rng(9)
    clean = moving(160, seed=3)
    segments = dict.fromkeys(SEGMENT_LANDMARKS, 12.0)
    members = {name for landmarks in SEGMENT_LANDMARKS.values() for name in landmarks}
    body = np.array([name in members for name in clean.landmarks])
    design = 240 / np.pi * np.arctan(np.tan(np.pi * 12 / 240) / 0.80224)
    sos = signal.butter(2, design / 120, output="sos")

    def trial(noise: float):
        xyz = clean.points_m + rng.normal(0, noise, clean.points_m.shape) if noise else clean.points_m.copy()
        xyz[:, body] = signal.sosfiltfilt(sos, xyz[:, body], axis=0)
        names = dict(zip(clean.landmarks, np.moveaxis(xyz, 1, 0), strict=True))
        return make_trial(names, noise_m=0.001, cutoff_hz=segments)

    times = {"address": 0.2, "top": 0.31, "impact": 0.402}
    truth = measure_at(measure_posture(trial(0.0)), make_events(times))
    found, predicted = [], []
    for _ in range(120):
        off = {name: t + rng.normal(0, 0.002) for name, t in times.items()}
        table = measure_at(measure_posture(trial(0.001)), make_events(off, error_s=0.002))
        found.append(table["value"].to_numpy() - truth["value"].to_numpy())
        predicted.append(table["standard_error"].to_numpy())
    rms = np.sqrt(np.mean(np.square(found), axis=0))
    mean = np.mean(predicted, axis=0)
    keep = truth["value"].notna() & (mean > 0) & ~truth["quantity"].str.contains("|".join(SHAKEN))
    keep &= ~truth["quantity"].str.contains("lean_direction")
    ratio = (rms / np.where(mean > 0, mean, 1))[keep]
    assert keep.sum() > 150
    outside = truth.loc[keep, ["event", "quantity"]][(ratio < 0.8) | (ratio > 1.25)]
    assert outside.empty, outside.assign(ratio=ratio[(ratio < 0.8) | (ratio > 1.25)])


# --- what changes nothing ----------------------------------------------------------------------------------

angles = st.floats(-60, 60)


def joint_angles(points: dict[str, np.ndarray]) -> dict[str, float]:
    """Quantities that hang on no frame outside the body."""
    posture = measure_posture(make_trial(points))
    inner = (
        "trunk_",
        "neck_",
        "lead_",
        "trail_elbow",
        "trail_knee",
        "trail_hip",
        "trail_shoulder",
        "elbow_spacing",
    )
    keep = [name for name in posture.quantities if name.startswith(inner)]
    return {name: posture.curve(name)[0] for name in keep}


@settings(max_examples=25, deadline=None)
@given(angles, angles, angles, st.tuples(*[st.floats(-3, 3)] * 3))
def test_a_rigid_motion_of_the_body_changes_no_joint_angle(a: float, b: float, c: float, shift) -> None:
    """Truth: made (hypothesis)."""
    points = in_study_frame(POSED)
    rotation = Rotation.from_euler("XYZ", [a, b, c], degrees=True)
    before, after = (
        joint_angles(points),
        joint_angles({n: rotation.apply(p) + shift for n, p in points.items()}),
    )
    assert after == pytest.approx(before, abs=1e-8)


@settings(max_examples=25, deadline=None)
@given(angles)
def test_a_turn_about_vertical_adds_to_axial_rotation_alone(turn: float) -> None:
    """Truth: made (hypothesis). Turn-first order: side bend and forward bend do not see the turn."""
    points = in_study_frame(POSED)
    rotation = Rotation.from_euler("Y", turn, degrees=True)
    before, after = (
        measure_posture(make_trial(p)) for p in (points, {n: rotation.apply(p) for n, p in points.items()})
    )
    for part in ("pelvis", "thorax"):
        for motion, change in (("axial_rotation", turn), ("lateral_flexion", 0), ("flexion", 0), ("lean", 0)):
            name = f"{part}_{motion}_deg"
            assert after.curve(name)[0] - before.curve(name)[0] == pytest.approx(change, abs=1e-8)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_a_mirrored_body_swaps_lead_and_trail(seed: int) -> None:
    """Truth: made (hypothesis). Mirrored across the plane square to the target line, with sides exchanged."""
    rng = np.random.default_rng(seed)
    points = {n: xyz + rng.normal(0, 0.01, 3) for n, xyz in in_study_frame(POSED).items()}
    mirror = {mirrored_name(n): xyz * (-1, 1, 1) for n, xyz in points.items()}
    before, after = measure_posture(make_trial(points)), measure_posture(make_trial(mirror))
    for name in before.quantities:
        motion, value = QUANTITIES[name].motion, before.curve(name)[0]
        if name.startswith("trail_") and name.replace("trail", "lead", 1) in after.quantities:
            assert after.curve(name.replace("trail", "lead", 1))[0] == pytest.approx(value, abs=1e-8), name
        elif name.startswith(("pelvis_", "thorax_", "trunk_")) and name.endswith("_deg"):
            flips = motion.startswith(("axial", "lateral", "spin", "separation", "lean_direction"))
            assert after.curve(name)[0] == pytest.approx(-value if flips else value, abs=1e-8), name


def test_the_golfers_axes_are_those_of_the_house() -> None:
    """Truth: made. X to the ball, Y up, Z to the trail side, seen in the study frame."""
    assert np.array_equal(GOLFER_AXES @ [1, 0, 0], [0, 0, 1]) and np.array_equal(
        GOLFER_AXES @ [0, 0, 1], [-1, 0, 0]
    )
