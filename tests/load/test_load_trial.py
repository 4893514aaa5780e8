"""From a capture's axes to the study frame: landmarks, axes, hands, ball, contact, events."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from load.made_swing import CONTACT_S, as_captured, truth
from scipy.spatial.transform import Rotation

from swinglab.conventions import BALL_RADIUS_M
from swinglab.errors import BadRequest, MissingInput
from swinglab.load import load_trial
from swinglab.records import Capture, FileEvent, Setup, Trial

Y_UP = Setup(up="+Y", target="+X", hand="right")
Z_UP = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])
LEFT_TO_TARGET = np.array([[0, -1.0, 0], [0, 0, 1], [-1, 0, 0]])


def loaded(capture: Capture, setup: Setup = Y_UP) -> Trial:
    """A trial with names that do not matter."""
    return load_trial(capture, setup, swing="s1", golfer="G01")


def raw(trial: Trial, name: str) -> np.ndarray:
    """(n, 3) of a landmark before smoothing."""
    return trial.point(name, raw=True)


# --- axes, hand, origin ------------------------------------------------------------------------------------


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize(
    ("axes", "up", "target"),
    [
        (np.eye(3), "+Y", "+X"),
        (Z_UP, "+Z", "+X"),
        (LEFT_TO_TARGET, "+Z", "-Y"),
        (Rotation.from_euler("xyz", [20, 130, -40], degrees=True).as_matrix(), None, None),
    ],
)
def test_any_laboratory_gives_the_same_study_frame(hand, axes, up, target) -> None:
    """Truth: made. Axis names and vectors, a raised turf, a ball off the origin, both hands: exact to 1e-9 m."""
    points = truth()
    capture = as_captured(points, hand=hand, axes=axes, ground_m=0.25, shift_m=(1.5, -0.7))
    setup = Setup(up=up or tuple(axes[1]), target=target or tuple(axes[0]), hand=hand, ground=250.0)
    trial = loaded(capture, setup)
    for name, path in points.items():
        np.testing.assert_allclose(raw(trial, name), path, atol=1e-9, err_msg=name)
    np.testing.assert_allclose(trial.ball_m, [0, BALL_RADIUS_M, 0], atol=1e-12)
    assert (trial.ball_method, trial.kind, trial.hand) == ("marker", "markers", hand)


def test_a_target_that_is_not_level_is_levelled() -> None:
    """Truth: made. Only the target's horizontal direction counts."""
    capture = as_captured(truth())
    tilted = loaded(capture, replace(Y_UP, target=(1.0, 0.4, 0.0)))
    np.testing.assert_allclose(tilted.raw_m, loaded(capture).raw_m, atol=1e-12)


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"target": "-Y"}, r"\[lab\] in study.toml: the axes up \(\+Y\) and target \(-Y\) are parallel"),
        ({"up": "Z"}, r"up under \[lab\] in study.toml: 'Z' is not an axis. Do: set it to one of \+X"),
        (
            {"target": (0.0, 0.0, 0.0)},
            r"target under \[lab\] in study.toml: \(0.0, 0.0, 0.0\) is not a direction",
        ),
        ({"hand": "both"}, "hand must be right or left"),
        (
            {"landmarks": {"elbo_left": ("x",)}},
            r"not landmarks of swinglab: elbo_left \(similar names: elbow",
        ),
    ],
)
def test_a_setup_that_makes_no_sense(change, what) -> None:
    """Truth: made."""
    with pytest.raises(BadRequest, match=what):
        loaded(as_captured(truth()), replace(Y_UP, **change))


# --- landmarks ---------------------------------------------------------------------------------------------


def test_labels_prefixes_means_and_strangers() -> None:
    """Truth: made. Own names need no entry, prefixes none where unambiguous, several labels give their mean."""
    points = truth()
    capture = as_captured(points, prefix="Max:")
    labels = [label.replace("Max:c7", "Max:CERV").replace("Max:t8", "Stick:1") for label in capture.labels]
    capture = replace(capture, labels=tuple(labels))
    setup = replace(Y_UP, landmarks={"c7": ("CERV",), "sacrum": ("psis_left", "Max:psis_right")})
    trial = loaded(capture, setup)
    assert "t8" not in trial.landmarks
    np.testing.assert_allclose(raw(trial, "c7"), points["c7"], atol=1e-12)
    middle = (points["psis_left"] + points["psis_right"]) / 2
    np.testing.assert_allclose(raw(trial, "sacrum"), middle, atol=1e-12)


def test_every_missing_label_is_named_with_near_names() -> None:
    """Truth: made. The words of the style: how many of how many, which, what the file has."""
    setup = replace(Y_UP, landmarks={"c7": ("C_7",), "t8": ("acromion_lef", "c7"), "xiphoid": ("xiphoid",)})
    with pytest.raises(MissingInput) as caught:
        loaded(as_captured(truth()), setup)
    assert str(caught.value) == (
        "made.c3d: 2 of 3 landmarks are missing: C_7 (for c7; similar names: c7), acromion_lef (for t8; similar names: "
        "acromion_left, acromion_right). Do: correct them under [landmarks] in study.toml."
    )


def test_an_ambiguous_label_is_not_guessed() -> None:
    """Truth: made. Two subjects with one label each."""
    points = truth()
    capture = as_captured(
        {"A:clubhead": points["clubhead"], "B:clubhead": points["clubhead"], "c7": points["c7"]}
    )
    assert "clubhead" not in loaded(capture).landmarks
    with pytest.raises(MissingInput, match="clubhead"):
        loaded(capture, replace(Y_UP, landmarks={"clubhead": ("clubhead",)}))
    named = loaded(capture, replace(Y_UP, landmarks={"clubhead": ("B:clubhead",)}))
    assert "clubhead" in named.landmarks


def test_a_capture_without_a_landmark_is_told_its_labels() -> None:
    """Truth: made."""
    capture = as_captured({"Channel103": truth()["c7"]})
    with pytest.raises(MissingInput, match="the name of a landmark; the labels are Channel103"):
        loaded(capture)


def test_joint_centres_are_told_from_markers() -> None:
    """Truth: made. Heels and toes stand in both kinds of file."""
    points = truth()
    centres = {
        "hip_left": points["asis_left"],
        "hip_right": points["asis_right"],
        "toe_left": points["toe_left"],
    }
    assert loaded(as_captured(centres)).kind == "joint_centres"
    assert loaded(as_captured(points)).kind == "markers"


# --- ball and contact --------------------------------------------------------------------------------------


def test_the_marker_on_top_of_the_ball_lies_a_radius_higher() -> None:
    """Truth: made. With a tee the measured height stands; on the turf it is one radius."""
    points = truth()
    points["ball"] = points["ball"] + [0, 0.03 + BALL_RADIUS_M, 0]
    teed = loaded(as_captured(points), replace(Y_UP, ball_marker="top", teed=True))
    np.testing.assert_allclose(teed.ball_m, [0, 0.03 + BALL_RADIUS_M, 0], atol=1e-12)
    turf = loaded(as_captured(points), replace(Y_UP, ball_marker="top"))
    np.testing.assert_allclose(turf.ball_m, [0, BALL_RADIUS_M, 0], atol=1e-12)
    assert [w for w in turf.warnings if "above the turf" in w]


def test_the_ball_where_the_study_says() -> None:
    """Truth: made. In the capture's axes and unit."""
    points = truth()
    del points["ball"]
    capture = as_captured(points, axes=Z_UP, shift_m=(0.4, 0.2), unit="cm")
    setup = Setup(up="+Z", target="+X", ball_position=tuple(np.array([0.4, BALL_RADIUS_M, 0.2]) @ Z_UP * 100))
    trial = loaded(capture, setup)
    assert (trial.ball_method, trial.ball_se_m) == ("study", 0.0)
    np.testing.assert_allclose(raw(trial, "clubhead"), points["clubhead"], atol=1e-9)


@pytest.mark.parametrize("noise", [0.0, 0.001])
def test_the_ball_from_the_club_at_address(noise) -> None:
    """Truth: made. One radius target-side of the clubhead at rest, plus what the reference lies behind the face."""
    points = truth()
    del points["ball"]
    trial = loaded(as_captured(points, shift_m=(0.7, 0.1), noise_m=noise))
    assert (trial.ball_method, trial.ball_se_m) == ("ball_from_address", 0.015)
    np.testing.assert_allclose(
        raw(trial, "clubhead")[:100].mean(axis=0), [-BALL_RADIUS_M, 0.02, 0], atol=5e-4
    )
    behind = loaded(as_captured(points), replace(Y_UP, reference_behind_face_cm=2.0))
    np.testing.assert_allclose(raw(behind, "clubhead")[0], [-BALL_RADIUS_M - 0.02, 0.02, 0], atol=1e-9)


def test_without_ball_and_club_the_origin_lies_between_the_feet() -> None:
    """Truth: made. Else under the pelvis."""
    points = {name: path for name, path in truth().items() if name not in ("ball", "clubhead")}
    trial = loaded(as_captured(points))
    assert (trial.ball_m, trial.ball_method) == (None, "none")
    feet = [raw(trial, "ankle_lateral_left")[0], raw(trial, "toe_left")[0]]
    middle = (np.mean(feet, axis=0) + raw(trial, "ankle_lateral_right")[0]) / 2
    np.testing.assert_allclose(middle[[0, 2]], 0, atol=1e-12)
    no_feet = {name: path for name, path in points.items() if "sis" in name}
    pelvis = loaded(as_captured(no_feet))
    np.testing.assert_allclose(pelvis.raw_m[:60].mean(axis=(0, 1))[[0, 2]], 0, atol=1e-12)


def test_a_ball_that_is_moved_before_contact_is_told() -> None:
    """Truth: made. Its place is where it lay at rest."""
    points = truth()
    path = points["ball"].copy()
    time = np.arange(len(path)) / 240
    path[:, 0] += 0.3 * np.clip((time - 1.0) / 0.3, 0, 1)
    path[int(1.25 * 240) :] = np.nan
    trial = loaded(as_captured({**points, "ball": path}))
    assert trial.ball_method == "marker"
    assert [w for w in trial.warnings if "the ball was moved" in w]
    np.testing.assert_allclose(raw(trial, "ball")[:200], np.tile([0, BALL_RADIUS_M, 0], (200, 1)), atol=1e-4)


@pytest.mark.parametrize(("rate", "noise"), [(240.0, 0.0), (240.0, 0.002), (500.0, 0.001), (107.5, 0.0)])
def test_coarse_contact_is_found_to_a_frame(rate, noise) -> None:
    """Truth: made. By the drop of the club's speed; by the ball's motion where there is no club."""
    points = truth(rate)
    trial = loaded(as_captured(points, rate_hz=rate, noise_m=noise))
    assert trial.contact_time_s == pytest.approx(CONTACT_S - 0.0004, abs=1.01 / rate)
    del points["clubhead"]
    by_ball = loaded(as_captured(points, rate_hz=rate, noise_m=noise))
    assert by_ball.contact_time_s == pytest.approx(CONTACT_S - 0.0004, abs=1.5 / rate)
    del points["ball"]
    assert loaded(as_captured(points, rate_hz=rate, noise_m=noise)).contact_time_s is None


def test_contact_beside_a_gap_of_the_club() -> None:
    """Truth: made. Three frames of the club lost at contact: still to three frames."""
    points = truth()
    points["clubhead"][358:361] = np.nan
    trial = loaded(as_captured(points))
    assert trial.contact_time_s == pytest.approx(CONTACT_S, abs=3 / 240)


# --- events, noise, the record -----------------------------------------------------------------------------


def test_events_of_the_file() -> None:
    """Truth: made. The study's label, a label that is an event's name, others ignored; the first counts."""
    events = (
        FileEvent("BallHit", 1.5),
        FileEvent("top", 1.2),
        FileEvent("Foot Strike", 0.1),
        FileEvent("top", 1.9),
    )
    trial = loaded(as_captured(truth(), events=events), replace(Y_UP, events={"BallHit": "impact"}))
    assert dict(trial.file_events) == {"impact": 1.5, "top": 1.2}


@pytest.mark.parametrize("noise", [0.0003, 0.001, 0.003])
def test_noise_is_estimated_for_body_and_club(noise) -> None:
    """Truth: made. White noise of known size on every coordinate: within a sixth, landmark by landmark."""
    trial = loaded(as_captured(truth(), noise_m=noise, seed=3))
    body = [k for k, name in enumerate(trial.landmarks) if name != "ball"]
    np.testing.assert_allclose(trial.noise_m[body], noise, rtol=0.17)


def test_the_trial_carries_the_capture_and_leaves_it_alone() -> None:
    """Truth: made. Warnings go along, arrays are read-only, the capture's points are not touched."""
    capture = replace(as_captured(truth()), warnings=("made.c3d: a warning",))
    before = capture.points_m.copy()
    trial = loaded(capture)
    np.testing.assert_array_equal(capture.points_m, before)
    assert trial.warnings[0] == "made.c3d: a warning"
    assert not trial.points_m.flags.writeable
    assert (trial.swing, trial.golfer, trial.file, trial.rate_hz) == ("s1", "G01", "made.c3d", 240.0)
