"""Real captures: plausible angles, with reasons where a marker is missing; truth: other."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal
from scipy.spatial.transform import Rotation
from segments.real_bodies import FILES, real_trial

from swinglab.segments import measure_posture


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
