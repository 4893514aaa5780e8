"""A body that stands still: a real capture's posture and its scatter, and made ones whose noise is known."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from scipy import signal
from segments.real_bodies import real_trial

from swinglab.records import Trial
from swinglab.segments import measure_posture

#: Standing still, degrees: a judgement; these are offsets of the frames, not posture.
UPRIGHT = {"pelvis_flexion_deg": (-5, 20), "thorax_flexion_deg": (-15, 15), "trunk_flexion_deg": (-25, 5)}
#: What is slower than this while standing still is sway, which is posture.
MOTION_BELOW_HZ = 5.0
#: Frames at either end that the filters' starts reach.
ENDS = 20


def test_standing_still_is_near_upright_and_square() -> None:
    """Pelvis, thorax and trunk within the judged bounds; no turn, no side bend to speak of."""
    posture = measure_posture(real_trial("static_full_body.c3d"))
    for name, (low, high) in UPRIGHT.items():
        assert low < posture.curve(name).min() and posture.curve(name).max() < high, name
    for name in ("pelvis_lateral_flexion_deg", "thorax_lateral_flexion_deg", "thorax_axial_rotation_deg"):
        assert np.abs(posture.curve(name)).max() < 8.0
    stature = posture.curve("head_centre_up_cm").mean() / 0.936  # eye height, Drillis & Contini (1966)
    assert 150 < stature < 200
    assert 0.5 < posture.curve("pelvis_centre_up_cm").mean() / stature < 0.6
    for side in ("lead", "trail"):  # lateral markers alone
        assert 0 <= posture.curve(f"{side}_knee_flexion_deg").mean() < 20
        assert 0 <= posture.curve(f"{side}_elbow_flexion_deg").mean() < 45
        assert "long axis" in posture.missing[f"{side}_hip_internal_rotation_deg"]
    assert posture.methods["thorax_flexion_deg"] == "thorax by Wu 2005, t10 for t8"


# --- scatter of the real capture ---------------------------------------------------------------------------


@cache
def static_trial() -> Trial:
    """The static capture as it is in the file, loaded as any swing is."""
    return real_trial("static_full_body.c3d")


def test_scatter_of_the_static_capture_is_near_the_errors_of_white_noise() -> None:
    """Truth: other (scatter above 5 Hz, by scipy). Tremor is not white: trunk only."""
    trial = replace(static_trial(), deformation_m=None)
    posture = measure_posture(trial)
    sos = signal.butter(4, MOTION_BELOW_HZ / (trial.rate_hz / 2), "highpass", output="sos")
    scatter = signal.sosfiltfilt(sos, posture.values, axis=0)[ENDS:-ENDS].std(axis=0)
    ratio = scatter / posture.standard_errors.mean(axis=0)
    assert len(ratio) == 57
    trunk = [
        k for k, name in enumerate(posture.quantities) if name.startswith(("pelvis_", "thorax_", "trunk_"))
    ]
    assert 0.6 < np.median(ratio[trunk]) < 1.4


def test_its_two_frames_of_spikes_are_left_out_with_a_warning() -> None:
    """Eighteen of thirty, most of the left side's among them, by tenths of a millimetre, and come back."""
    (warning,) = [words for words in static_trial().warnings if "jump" in words]
    assert "frames 34, 270)" in warning and "treated as missing" in warning
    raw = static_trial().raw_m
    assert np.isnan(raw[[33, 269]]).any() and np.isfinite(np.delete(raw, [33, 269], axis=0)).all()
