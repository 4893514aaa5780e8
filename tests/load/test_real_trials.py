"""Real captures as trials, their landmarks mapped by hand: a swing named by channel, a serve, a stick shot."""

from __future__ import annotations

import numpy as np
import pytest
from captures import capture_path

from swinglab.load import describe_capture, load_trial, read_capture
from swinglab.records import Capture, Setup, Trial
from swinglab.segments import measure_posture

#: Found by looking at the points at address: X is up, whatever the file's SCREEN parameters say.
CHANNELS = {
    "shoulder_left": "103", "shoulder_right": "153", "elbow_left": "104", "elbow_right": "154", "wrist_left": "114",
    "wrist_right": "163", "hip_left": "132", "hip_right": "142", "knee_left": "130", "knee_right": "143",
    "ankle_left": "125", "ankle_right": "148", "clubhead": "801", "club_hosel": "807", "club_shaft_1": "808",
    "club_butt": "804",
}  # fmt: skip
SERVE = {"jugular_notch": "CLAV", "xiphoid": "STRN", "t8": "T10", "c7": "C7"} | {
    f"{name}_{side}": f"{side[0].upper()}{label}"
    for side in ("left", "right")
    for name, label in (
        ("acromion", "SHO"),
        ("asis", "ASI"),
        ("psis", "PSI"),
        ("hand", "FIN"),
        ("ankle_lateral", "ANK"),
    )
}


def level_direction(capture: Capture, label: str, up: int) -> tuple[tuple[float, ...], int]:
    """Where a point heads when it is fastest, made level, and that frame."""
    path = capture.points_m[:, capture.labels.index(label)]
    velocity = np.gradient(path, axis=0)
    fastest = int(np.linalg.norm(velocity, axis=1).argmax())
    heading = velocity[fastest].copy()
    heading[up] = 0
    return tuple(heading / np.linalg.norm(heading)), fastest


@pytest.mark.parametrize("name", ["unlabelled_swing.c3d", "unlabelled_swing_bad_parameters.c3d"])
def test_the_swing_named_by_channels(name) -> None:
    """Truth: other (a real swing, c3d.org sample 13). At air: no contact; a golfer's turns and club speed."""
    capture = read_capture(capture_path(name))
    target, fastest = level_direction(capture, "Channel801", 0)
    landmarks = {key: (f"Channel{label}",) for key, label in CHANNELS.items()}
    setup = Setup(up="+X", target=target, landmarks=landmarks, ground=-60.0)
    trial = load_trial(capture, setup, swing="air", golfer="G")
    assert (trial.kind, trial.ball_method, trial.contact_time_s) == (
        "joint_centres",
        "ball_from_address",
        None,
    )
    assert [w for w in trial.warnings if "smoothed before" in w]
    head = trial.point("clubhead")
    speed = np.linalg.norm(np.gradient(head, axis=0), axis=1) * trial.rate_hz
    assert 20 < speed[20:].max() < 30
    assert head[fastest, 1] == pytest.approx(head[fastest - 15 : fastest + 15, 1].min(), abs=0.05)
    # A right-hander faces +Z: the hands hang on the ball's side of the hips.
    assert trial.point("wrist_left")[60, 2] > trial.point("hip_left")[60, 2]
    turn = measure_posture(trial).curve("thorax_axial_rotation_deg")
    top = turn[fastest - 70 : fastest].min()
    assert -120 < top < -70, "a full turn of the shoulders away from the target"
    assert 0 < turn[fastest] < 60, "and open when the club is fastest"
    found = describe_capture(capture, setup)
    assert (found["landmarks_missing"], found["gaps"], found["labels_unused"]) == ("", 0, 13)


def serve(name: str) -> Trial:
    """A serve as a trial: Z is up, the target is where the hitting hand heads."""
    capture = read_capture(capture_path(name))
    target, _ = level_direction(capture, "Derrick:RFIN", 2)
    setup = Setup(up="+Z", target=target, landmarks={key: (label,) for key, label in SERVE.items()})
    return load_trial(capture, setup, swing="serve", golfer="P")


def test_a_serve_with_gaps_in_a_shoulder() -> None:
    """Truth: other (a real serve). Short gaps by a spline, near the truth; long ones of a shoulder stay open.

    A shoulder glides on the thorax: carried by it as a rigid body it came out 31 mm off.
    """
    whole, gappy = serve("racket_serve_full_body.c3d"), serve("racket_serve_with_gaps.c3d")
    k = gappy.landmarks.index("acromion_right")
    missing = ~np.isfinite(gappy.raw_m[:, k]).all(axis=1)
    assert missing.sum() == 145
    assert not gappy.filled[:, [j for j in range(len(gappy.landmarks)) if j != k]].any()
    assert [w for w in gappy.warnings if "no three other markers are visible on the same rigid segment" in w]
    error = np.linalg.norm(gappy.points_m[:, k] - whole.points_m[:, k], axis=1)
    assert not gappy.filled[:, k].any() or np.nanmax(error[gappy.filled[:, k]]) < 0.02
    assert [w for w in gappy.warnings if "the cut-off is at most 10 Hz" in w]
    head = whole.point("c7")[:, 1]
    assert 1.2 < np.median(head) < 1.6, "standing height of the neck: Z is up"


def test_markers_of_a_real_trunk_are_carried_by_its_others() -> None:
    """Truth: other (the same serve, half-second gaps cut into it). Mid-trunk and pelvis: within 1.5 cm, mostly mm."""
    capture = read_capture(capture_path("racket_serve_full_body.c3d"))
    target, _ = level_direction(capture, "Derrick:RFIN", 2)
    setup = Setup(up="+Z", target=target, landmarks={key: (label,) for key, label in SERVE.items()})
    whole = load_trial(capture, setup, swing="serve", golfer="P")
    for name in ("jugular_notch", "asis_left", "psis_right"):
        points = capture.points_m.copy()
        holes = [slice(first, first + 25) for first in (120, 300, 540, 700)]
        for hole in holes:
            points[hole, capture.labels.index(f"Derrick:{SERVE[name]}")] = np.nan
        holed = Capture(capture.file, capture.labels, points, capture.rate_hz, unit=capture.unit)
        trial = load_trial(holed, setup, swing="serve", golfer="P")
        k = trial.landmarks.index(name)
        assert trial.filled[:, k].sum() == 100
        error = np.linalg.norm(trial.points_m[:, k] - whole.points_m[:, k], axis=1)[trial.filled[:, k]]
        assert np.sqrt(np.mean(error**2)) < 0.015, f"{name}: {1000 * np.sqrt(np.mean(error**2)):.1f} mm"


def test_the_stick_shot_as_a_trial() -> None:
    """Truth: other (a real stick shot). Prefixes left out, the puck at rest as ball, contact by the stick's speed."""
    capture = read_capture(capture_path("stick_shot_full_body.c3d"))
    landmarks = {
        "jugular_notch": ("CLAV",),
        "clubhead": ("Stick:9",),
        "ball": ("Puck1", "Puck2"),
        "asis_left": ("LASI",),
    }
    trial = load_trial(capture, Setup(landmarks=landmarks), swing="shot", golfer="P")
    assert trial.ball_method == "marker"
    rest = trial.point("ball", raw=True)[:150]
    np.testing.assert_allclose(rest[:, [0, 2]], 0, atol=1e-3)
    assert [w for w in trial.warnings if "the ball was moved" in w]
    assert trial.contact_time_s == pytest.approx(1.1, abs=0.02)
    assert {"pelvis", "thorax"} == set(trial.cutoff_hz)
