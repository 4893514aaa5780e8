"""The made golfer's body: published segment lengths, ISB frames that give the driving angles back."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from swinglab import simulate
from swinglab.errors import BadRequest
from swinglab.simulate.body import CLUBS, Body


@pytest.fixture(scope="module")
def swing():
    golfer = simulate.make_golfer(stature_m=1.81)
    return simulate.make_swing(golfer, {"thorax_lateral_flexion_deg": 3.0}, rate_hz=100)


def unit(v):
    return v / np.linalg.norm(v, axis=-1, keepdims=True)


def test_segments_are_drillis_and_contini():
    """published: Drillis & Contini (1966) as in Winter (2009) Fig 4.1, fractions of stature [seen]."""
    body = Body(1.80)
    expected = {"upper_arm": 0.186, "forearm": 0.146, "thigh": 0.245, "shank": 0.246, "ankle_height": 0.039,
                "foot": 0.152}  # fmt: skip
    for name, fraction in expected.items():
        assert getattr(body, name) == pytest.approx(fraction * 1.80), name


def test_hips_lie_where_harrington_predicts_them():
    """published: Harrington et al. (2007), multi-variable regression in mm from mid-ASIS [seen]."""
    body = Body(1.80)
    points = body.pelvis_points()
    middle = (points["asis_right"] + points["asis_left"]) / 2
    width = 1000 * np.linalg.norm(points["asis_right"] - points["asis_left"])
    depth = 1000 * np.linalg.norm(middle - (points["psis_right"] + points["psis_left"]) / 2)
    leg = 1000 * (0.245 + 0.246 + 0.05) * 1.80
    hip = 1000 * (points["hip_right"] - middle)
    expected = [-0.24 * depth - 9.9, -0.16 * width - 0.04 * leg - 7.1, 0.28 * depth + 0.16 * width + 7.9]
    assert hip == pytest.approx(expected, abs=0.01)


def test_isb_frames_from_the_markers_give_the_driving_angles_back(swing):
    """published: pelvis of Wu et al. (2002), thorax of Wu et al. (2005), built here with numpy and scipy."""
    p = swing.exact
    axes = {}
    z = unit(p["asis_right"] - p["asis_left"])
    forward = (p["asis_right"] + p["asis_left"]) / 2 - (p["psis_right"] + p["psis_left"]) / 2
    y = unit(np.cross(z, forward))
    axes["pelvis"] = np.stack([np.cross(y, z), y, z], axis=2)
    upper, lower = (p["jugular_notch"] + p["c7"]) / 2, (p["xiphoid"] + p["t8"]) / 2
    y = unit(upper - lower)
    z = unit(np.cross(p["jugular_notch"] - p["c7"], y))
    axes["thorax"] = np.stack([np.cross(y, z), y, z], axis=2)
    golfer = np.array([[0, 0, -1], [0, 1, 0], [1, 0, 0]])  # columns: to the ball, up, to the trail side
    for part, rotation in axes.items():
        angles = Rotation.from_matrix(golfer.T @ rotation).as_euler("YXZ", degrees=True)
        for k, (motion, sign) in enumerate((("axial_rotation", 1), ("lateral_flexion", 1), ("flexion", -1))):
            driven = swing.true_curves[f"{part}_{motion}_deg"]
            assert sign * angles[:, k] == pytest.approx(driven, abs=1e-6), (part, motion)


def test_limbs_keep_their_lengths_and_feet_stay_on_the_turf(swing):
    """made: every limb is as long as the body says at every frame; the lead foot never moves."""
    p, body = swing.exact, swing.golfer.body
    for side in ("left", "right"):
        for a, b, length in (("shoulder", "elbow", body.upper_arm), ("elbow", "wrist", body.forearm),
                             ("hip", "knee", body.thigh), ("knee", "ankle", body.shank)):  # fmt: skip
            found = np.linalg.norm(p[f"{a}_{side}"] - p[f"{b}_{side}"], axis=1)
            assert found == pytest.approx(length, abs=1e-6), (side, a, b)
    for name in ("heel_left", "toe_left", "toe_right"):
        assert np.ptp(p[name], axis=0).max() < 1e-12
    assert p["heel_right"][:, 1].min() > 0.02
    # The hands hold the club: middle of lead and trail hand on the shaft, a hand's breadth apart.
    shaft = unit(p["club_hosel"] - p["club_butt"])
    for side in ("left", "right"):
        toward = p[f"hand_{side}"] - p["club_butt"]
        off = toward - np.sum(toward * shaft, axis=1, keepdims=True) * shaft
        assert np.linalg.norm(off, axis=1).max() < 0.02


def test_clubs_are_of_the_length_sold():
    """published: 5-iron 38 in, 7-iron 37 in, 8-iron 36.5 in, in half-inch steps [seen]."""
    for name, inches in (("5 iron", 38.0), ("7 iron", 37.0), ("8 iron", 36.5)):
        assert CLUBS[name].length_m == pytest.approx(0.0254 * inches, abs=0.0006)


def test_the_face_lies_off_the_shaft_line(swing):
    """made: the face centre stands 3 to 6 cm off the shaft's line."""
    p = swing.exact
    shaft = unit(p["club_hosel"] - p["club_butt"])
    toward = p["clubhead"] - p["club_butt"]
    off = np.linalg.norm(toward - np.sum(toward * shaft, axis=1, keepdims=True) * shaft, axis=1)
    assert off.min() > 0.03 and off.max() < 0.06


@pytest.mark.parametrize(
    ("parameters", "words"),
    [
        ({"stature": 1.8}, "similar names: stature_m"),
        ({"club": "9 wood"}, "choose one of 5 iron"),
        ({"hand": "both"}, "right or left"),
        ({"stature_m": 180.0}, "give the stature in metres"),
        ({"aim": simulate.Aim(clubhead_speed_mps=15.0)}, "closer to the defaults"),
    ],
)
def test_bad_golfers_are_refused_in_words(parameters, words):
    """made: an unknown name, a wrong unit, an impossible aim."""
    with pytest.raises(BadRequest) as error:
        simulate.make_golfer(**parameters)
    assert words in str(error.value)
