"""Strikes of real captures; skipped where the captures are absent. Truth: other (what the frames themselves show)."""

from __future__ import annotations

import numpy as np
from captures import capture_path

from swinglab.events import find_events
from swinglab.load import load_trial, read_capture
from swinglab.records import Capture, Setup, Trial
from swinglab.segments import measure_posture
from swinglab.strike import measure_strike

#: The stick's lowest marker stands for the clubhead; the shot snaps a puck that it already touches.
STICK = {"clubhead": "Stick:9", "club_shaft_1": "Stick:1", "club_shaft_2": "Stick:4"} | {
    f"{name}_{side}": f"Reed:{side[0].upper()}{label}"
    for side in ("left", "right")
    for name, label in (("asis", "ASI"), ("psis", "PSI"), ("acromion", "SHO"), ("elbow_lateral", "ELB"),
                        ("wrist_radial", "WRA"), ("wrist_ulnar", "WRB"), ("heel", "HEE"), ("toe", "TOE"))
} | {"jugular_notch": "Reed:CLAV", "xiphoid": "Reed:STRN", "c7": "Reed:C7", "t8": "Reed:T10"}  # fmt: skip
#: The channels of the unlabelled swing, named by hand from where they are and how they move.
SWING = {
    "shoulder_left": "103", "shoulder_right": "153", "elbow_left": "104", "elbow_right": "154", "wrist_left": "114",
    "wrist_right": "163", "hip_left": "132", "hip_right": "142", "knee_left": "130", "knee_right": "143",
    "ankle_left": "125", "ankle_right": "148", "clubhead": "801", "club_hosel": "807", "club_shaft_1": "808",
    "club_butt": "804",
}  # fmt: skip


def path_of(capture: Capture, label: str) -> np.ndarray:
    return capture.points_m[:, capture.labels.index(label)]


def measured(trial: Trial):
    """The strike by the whole line from the trial on."""
    return measure_strike(trial, find_events(trial, measure_posture(trial)))


def test_the_blade_of_a_stick_is_lowest_near_the_puck() -> None:
    """The puck is where blade and puck were together in frame 252, a hundredth after the blade's lowest frames."""
    capture = read_capture(capture_path("stick_shot_full_body.c3d"))
    blade = path_of(capture, "Stick:9")
    puck = (path_of(capture, "Puck:Puck1") + path_of(capture, "Puck:Puck2"))[252] / 2
    setup = Setup(
        landmarks={name: (label,) for name, label in STICK.items()}, ball_position=tuple(1000 * puck),
        target=tuple((blade[254] - blade[248]) * [1, 1, 0]), reference_behind_face_cm=0.0,
    )  # fmt: skip
    trial = load_trial(capture, setup, swing="shot", golfer="P")
    strike = measured(trial)
    head = trial.point("clubhead", raw=True)
    lowest = 100 * head[200 + int(np.argmin(head[200:300, 1])), 0]
    steps = np.linalg.norm(np.diff(head[249:254], axis=0), axis=1) * 240
    assert abs(strike.values["low_point_ahead_cm"] - lowest) < 10.0
    assert -35.0 < strike.values["low_point_ahead_cm"] < 10.0
    assert steps.min() < strike.values["clubhead_speed_mps"] < steps.max() + 1.5
    assert abs(strike.values["attack_angle_deg"]) < 5.0
    # No height without a sole on the ground at address, no plane without a shaft that came from above.
    assert "soled_at_address" in strike.missing["low_point_height_cm"]
    assert "shaft_horizontal_down is missing" in strike.missing["arc_plane_inclination_deg"]


def test_the_unlabelled_swing_struck_nothing() -> None:
    """A swing at air: its arc bottoms out well above the address, as its frames do; no strike is claimed."""
    capture = read_capture(capture_path("unlabelled_swing.c3d"))
    path = path_of(capture, "Channel801")
    velocity = np.gradient(path, axis=0)
    heading = velocity[np.linalg.norm(velocity, axis=1).argmax()] * [0, 1, 1]
    landmarks = {name: (f"Channel{label}",) for name, label in SWING.items()}
    setup = Setup(up="+X", target=tuple(heading), landmarks=landmarks, ground=-60.0, soled_at_address=True)
    trial = load_trial(capture, setup, swing="air", golfer="G")
    strike = measured(trial)
    head = trial.point("clubhead", raw=True)
    seen = 100 * (head[280:360, 1].min() - np.median(head[100:130, 1]))
    assert 15.0 < strike.values["low_point_height_cm"] < 20.0
    assert seen - 1.5 < strike.values["low_point_height_cm"] <= seen + 0.2  # the arc dips between two frames
    assert strike.contact == "" and strike.contact_probabilities == {}
    for name in ("clubhead_speed_mps", "attack_angle_deg", "club_path_in_to_out_deg", "turf_entry_ahead_cm"):
        assert np.isnan(strike.values[name]) and "no strike" in strike.missing[name]
