"""Real captures: plausible, told where a marker is missing, and scattering as their errors say; truth: other."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal
from scipy.spatial.transform import Rotation
from segments.real_bodies import FILES, real_trial

from swinglab.segments import measure_posture

#: Standing still, degrees: a judgement; these are offsets of the frames, not posture.
STANDING = {"pelvis_flexion_deg": (-5, 20), "thorax_flexion_deg": (-15, 15), "trunk_flexion_deg": (-25, 5)}
#: What is measured above this frequency while standing still is noise, nearly.
MOTION_BELOW_HZ = 5.0


def test_standing_still_is_near_upright_and_square() -> None:
    """Pelvis, thorax and trunk within the judged bounds; no turn, no side bend to speak of."""
    posture = measure_posture(real_trial("static_full_body.c3d"))
    for name, (low, high) in STANDING.items():
        assert low < posture.curve(name).min() and posture.curve(name).max() < high, name
    for name in ("pelvis_lateral_flexion_deg", "thorax_lateral_flexion_deg", "thorax_axial_rotation_deg"):
        assert np.abs(posture.curve(name)).max() < 8.0
    stature = posture.curve("head_centre_up_cm").mean() / 0.936  # eye height, Drillis & Contini (1966)
    assert 150 < stature < 200
    assert 0.5 < posture.curve("pelvis_centre_up_cm").mean() / stature < 0.6
    assert posture.missing["trail_elbow_flexion_deg"] == "no elbow_medial_right"
    assert posture.missing["lead_elbow_flexion_deg"] == "no elbow_medial_left"
    assert posture.methods["thorax_flexion_deg"] == "thorax by Wu 2005, t10 for t8"


def scatter_over_error() -> dict[str, float]:
    """Scatter above 5 Hz of each quantity over its predicted error, the removed part of white noise put back."""
    trial = real_trial("static_full_body.c3d", unsmoothed=True)
    posture = measure_posture(trial)
    nyquist = trial.rate_hz / 2
    sos = signal.butter(4, MOTION_BELOW_HZ / nyquist, "highpass", output="sos")
    left = signal.sosfiltfilt(sos, posture.values, axis=0)[20:-20].std(axis=0)
    ratio = left / posture.standard_errors.mean(axis=0) / np.sqrt(1 - MOTION_BELOW_HZ / nyquist)
    return dict(zip(posture.quantities, ratio, strict=True))


def test_scatter_of_a_still_body_matches_the_predicted_errors() -> None:
    """Bends of pelvis and trunk and heights within about 30 %; the file's noise is 0.012 mm.

    Sway goes on above 5 Hz: it turns and shifts all markers together, so that axial rotation and level
    positions scatter more than noise alone; heights and the bends of one segment in another do not.
    """
    ratio = scatter_over_error()
    for name in ("pelvis_flexion_deg", "pelvis_lateral_flexion_deg", "trunk_flexion_deg",
                 "trunk_lateral_flexion_deg", "thorax_lean_deg", "pelvis_centre_up_cm", "thorax_centre_up_cm",
                 "head_centre_up_cm", "trail_heel_height_cm", "stance_width_cm"):  # fmt: skip
        assert 0.7 < ratio[name] < 1.3, (name, ratio[name])
    assert min(ratio.values()) > 0.7


def pelvis_thorax_here(trial) -> dict[str, np.ndarray]:
    """Turn-first angles of pelvis and thorax, built here with numpy and scipy."""
    p = {name: trial.point(name) for name in trial.landmarks}
    back = p["sacrum"] if "sacrum" in p else (p["psis_left"] + p["psis_right"]) / 2
    z = p["asis_right"] - p["asis_left"]
    y = np.cross(z, (p["asis_left"] + p["asis_right"]) / 2 - back)
    pelvis = (np.cross(y, z), y, z)
    y = p["jugular_notch"] + p["c7"] - p["xiphoid"] - p["t8"]
    z = np.cross(p["jugular_notch"] - p["c7"], y)
    thorax = (np.cross(y, z), y, z)
    found = {}
    for part, axes in (("pelvis", pelvis), ("thorax", thorax)):
        frame = np.stack([a / np.linalg.norm(a, axis=1, keepdims=True) for a in axes], axis=2)
        golfer = frame[:, [2, 1, 0]] * [[1], [1], [-1]]
        whole = np.isfinite(golfer).all(axis=(1, 2))
        angles = np.full((len(golfer), 3), np.nan)
        angles[whole] = Rotation.from_matrix(golfer[whole]).as_euler("YXZ", degrees=True)
        turn, side, extension = angles.T
        found |= {f"{part}_axial_rotation_deg": turn, f"{part}_lateral_flexion_deg": side,
                  f"{part}_flexion_deg": -extension}  # fmt: skip
    return found


@pytest.mark.parametrize("file", FILES)
def test_pelvis_and_thorax_match_a_construction_of_this_test(file: str) -> None:
    """Every frame of every capture to 1e-9 deg, whatever its labels, unit and axes."""
    trial = real_trial(file)
    posture = measure_posture(trial)
    for name, expected in pelvis_thorax_here(trial).items():
        off = (posture.curve(name) - expected + 180) % 360 - 180
        assert np.array_equal(np.isnan(off), np.isnan(expected))
        assert np.nanmax(np.abs(off)) < 1e-9, name


def test_a_whole_body_with_isb_landmarks_has_all_limbs() -> None:
    """Running and jumping: joints in the range of a living body, the missing head said, the sacrum named."""
    posture = measure_posture(real_trial("isb_landmarks_basketball.c3d"))
    for side in ("lead", "trail"):
        for joint, low, high in (("knee", -20, 140), ("elbow", -15, 150), ("hip", -70, 110)):
            curve = posture.curve(f"{side}_{joint}_flexion_deg")
            assert low < np.nanmin(curve) and np.nanmax(curve) < high
    assert posture.methods["pelvis_flexion_deg"] == "pelvis by Wu 2002, sacrum for psis"
    assert posture.methods["thorax_flexion_deg"] == "thorax by Wu 2005"
    assert "head_front_left" in posture.missing["neck_flexion_deg"]
    assert "head_front_left" in posture.missing["body_centre_of_mass_up_cm"]


def test_a_serve_turns_back_and_through_five_times() -> None:
    """A right-hander's serves: trunk closed by 80 to 100 deg, then open by 60 to 90, tilted away from the racket."""
    posture = measure_posture(real_trial("racket_serve_full_body.c3d"))
    turn = posture.curve("thorax_axial_rotation_deg")
    assert -105 < turn.min() < -80 and 60 < turn.max() < 95
    peaks, _ = signal.find_peaks(turn, height=50, distance=100)
    assert len(peaks) == 5
    assert np.abs(posture.curve("pelvis_thorax_separation_deg")).max() < 60
    assert posture.curve("thorax_lateral_flexion_deg").min() < -30
    gaps = measure_posture(real_trial("racket_serve_with_gaps.c3d"))
    there = np.isfinite(gaps.curve("thorax_axial_rotation_deg"))
    assert np.abs(gaps.curve("thorax_axial_rotation_deg") - turn)[there].max() < 1.0


def test_a_stick_shot_straightens_and_turns() -> None:
    """The player rises from a deep bend: thorax flexion from about 70 to about 0 deg, neck held up."""
    posture = measure_posture(real_trial("stick_shot_full_body.c3d"))
    bend = posture.curve("thorax_flexion_deg")
    assert 60 < bend[:50].mean() < 75 and -5 < bend[-50:].mean() < 10
    assert posture.curve("neck_flexion_deg")[:400].max() < 0  # looking up from a bent trunk
    assert 0.5 < posture.curve("stance_width_cm")[0] / 100 < 0.65
