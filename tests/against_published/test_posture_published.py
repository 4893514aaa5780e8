"""Posture against the published definitions; each case carries its source in references/published."""

from __future__ import annotations

import re

import numpy as np
import pytest
from published import FOLDER, cases
from scipy.spatial.transform import Rotation
from segments.made_body import STANDING, in_study_frame, make_trial, standing

from swinglab.conventions import GOLFER_AXES
from swinglab.segments import hip_centres, measure_posture
from swinglab.segments.mass import SEGMENTS
from swinglab.simulate.body import Body

by_name = lambda case: case["name"]  # noqa: E731
MOTIONS = ("axial_rotation", "lateral_flexion", "flexion")


@pytest.mark.parametrize("case", cases("posture.toml"), ids=by_name)
@pytest.mark.parametrize("part", ["pelvis", "thorax"])
def test_four_postures_in_both_orders(case: dict, part: str) -> None:
    """Truth: published. A segment turned, bent sideways and forward gives the table's numbers in both orders."""
    given = case["given"]
    upright = measure_posture(standing())
    level = Rotation.from_matrix(GOLFER_AXES.T @ upright.rotations[part][0])
    wanted = Rotation.from_euler("YXZ", [given["turn"], given["side"], -given["flexion"]], degrees=True)
    move = wanted * level.inv()
    posture = measure_posture(make_trial(in_study_frame({n: move.apply(p) for n, p in STANDING.items()})))
    for suffix, key in (("", "turn_first"), ("_isb", "isb")):
        found = [posture.curve(f"{part}_{motion}{suffix}_deg")[0] for motion in MOTIONS]
        assert found == pytest.approx(case["expected"][key], abs=case["tolerance"])


@pytest.mark.parametrize("case", cases("hip_centres.toml"), ids=by_name)
def test_hip_centres(case: dict) -> None:
    """Truth: published. Each regression at one pelvis, and the body's hips at that place in its pelvis."""
    width, depth, leg = (
        case["given"][f"{k}_mm"] / 1000 for k in ("pelvis_width", "pelvis_depth", "leg_length")
    )
    found = 1000 * hip_centres(width, depth, leg, method=case["name"])
    assert found == pytest.approx(case["expected"]["hip_mm"], abs=case["tolerance"])
    # A body with this pelvis and, by way of straight legs, this leg length.
    points = dict(STANDING)
    for side, sign in (("right", 1), ("left", -1)):
        points[f"asis_{side}"] = np.array([0.05, 1.0, sign * width / 2])
        points[f"psis_{side}"] = np.array([0.05 - depth, 1.0, sign * 0.04])
        for k, joint in ((0.4, "knee"), (0.9, "ankle")):
            for end, z in (("lateral", 0.04), ("medial", -0.04)):
                points[f"{joint}_{end}_{side}"] = points[f"asis_{side}"] + (0, -k * leg / 0.9, sign * z)
        # The leg length runs to the medial malleolus by way of the knee centre.
        points[f"ankle_medial_{side}"] = points[f"asis_{side}"] + (0, -leg, 0)
    posture = measure_posture(make_trial(in_study_frame(points)), hip_method=case["name"])
    middle = (posture.centres_m["hip_right"] + posture.centres_m["hip_left"])[0] / 2
    hip = posture.rotations["pelvis"][0].T @ (posture.centres_m["hip_right"][0] - middle)
    assert 1000 * abs(hip[2]) == pytest.approx(case["expected"]["hip_mm"][2], abs=case["tolerance"])
    asis = in_study_frame({"m": (points["asis_right"] + points["asis_left"]) / 2})["m"]
    local = 1000 * posture.rotations["pelvis"][0].T @ (posture.centres_m["hip_right"][0] - asis)
    assert local == pytest.approx(case["expected"]["hip_mm"], abs=case["tolerance"])
    left = 1000 * posture.rotations["pelvis"][0].T @ (posture.centres_m["hip_left"][0] - asis)
    assert left == pytest.approx(np.array(case["expected"]["hip_mm"]) * (1, 1, -1), abs=case["tolerance"])


@pytest.mark.parametrize("case", cases("isb_frames.toml"), ids=by_name)
def test_frames_by_what_they_are_parallel_and_square_to(case: dict) -> None:
    """Truth: published. The recommendations' own words, checked one by one on a crooked set of landmarks."""
    given = {name: np.array(xyz, dtype=float) for name, xyz in case["given"]["landmarks"].items()}
    frame = measure_posture(make_trial({n: GOLFER_AXES @ xyz for n, xyz in given.items()})).rotations[
        case["name"]
    ][0]
    x, y, z = (GOLFER_AXES.T @ frame).T
    if case["name"] == "pelvis":
        given["mid_psis"] = (given["psis_left"] + given["psis_right"]) / 2
    else:
        given["mid_xiphoid_t8"] = (given["xiphoid"] + given["t8"]) / 2
        given["mid_notch_c7"] = (given["jugular_notch"] + given["c7"]) / 2
    expected, tolerance = case["expected"], case["tolerance"]
    axes = {"x": x, "y": y, "z": z}
    assert np.abs(np.array([x, y, z]) @ np.array([x, y, z]).T - np.eye(3)).max() < tolerance
    assert np.cross(x, y) == pytest.approx(z, abs=tolerance)
    for key, value in expected.items():
        if key.endswith("_parallel"):
            line = given[value[1]] - given[value[0]]
            assert np.cross(axes[key[0]], line / np.linalg.norm(line)) == pytest.approx(0, abs=tolerance)
        elif key.endswith("plane"):
            a, b, c = (given[name] for name in value)
            normal = np.cross(b - a, c - a) / np.linalg.norm(np.cross(b - a, c - a))
            inside = "in_plane" in key
            off = axes[key[0]] @ normal if inside else np.linalg.norm(np.cross(axes[key[0]], normal))
            assert off == pytest.approx(0, abs=tolerance)
        else:
            assert axes[{"forward": "x", "up": "y", "right": "z"}[key]] @ value > 0.8


@pytest.mark.parametrize("case", cases("body_segments.toml"), ids=by_name)
def test_body_segments(case: dict) -> None:
    """Truth: published. Masses and places as printed, their sum; the simulated golfer's lengths."""
    given, expected, tolerance = case["given"], dict(case["expected"]), case["tolerance"]
    if "stature_m" in given:
        body = Body(stature_m=given["stature_m"])
        found = {name: getattr(body, name) / given["stature_m"] for name in expected}
        assert found == pytest.approx(expected, abs=tolerance)
        return
    table = {name: getattr(segment, given["column"])[given["sex"]] for name, segment in SEGMENTS.items()}
    whole = expected.pop("whole_body", None)
    assert {name: table[name] for name in expected} == pytest.approx(expected, abs=tolerance)
    if whole is not None:
        total = sum(mass * (1 if name in ("head", "trunk") else 2) for name, mass in table.items())
        assert total == pytest.approx(whole, abs=tolerance)


def test_centre_of_mass_is_the_sum_of_the_segments() -> None:
    """Truth: published (de Leva 1996, both sexes averaged) on the standing body, summed here by hand."""
    posture = measure_posture(standing())
    at = {name: xyz[0] for name, xyz in posture.centres_m.items()}
    points = in_study_frame(STANDING)
    ends = {
        "upper_arm": ("shoulder", "elbow"), "forearm": ("elbow", "wrist"), "thigh": ("hip", "knee"),
        "shank": ("knee", "ankle"),
    }  # fmt: skip
    mean = {name: (np.mean(s.mass), np.mean(s.place)) for name, s in SEGMENTS.items()}
    hips = (at["hip_left"] + at["hip_right"]) / 2
    sternum = points["jugular_notch"]
    moment = mean["head"][0] * at["head_centre"]
    moment = moment + mean["trunk"][0] * (sternum + mean["trunk"][1] * (hips - sternum))
    total = mean["head"][0] + mean["trunk"][0]
    for side in ("left", "right"):
        pairs = [(n, at[f"{a}_{side}"], at[f"{b}_{side}"]) for n, (a, b) in ends.items()]
        pairs.append(("hand", at[f"wrist_{side}"], points[f"hand_{side}"]))
        pairs.append(("foot", points[f"heel_{side}"], points[f"toe_{side}"]))
        for name, first, other in pairs:
            mass, place = mean[name]
            moment, total = moment + mass * (first + place * (other - first)), total + mass
    assert at["body_centre_of_mass"] == pytest.approx(moment / total, abs=1e-9)
    # Standing, the centre of mass is near 55 % of stature (common practice, no source).
    assert 0.50 < at["body_centre_of_mass"][1] / 1.78 < 0.60


def test_shoulder_centre_lies_below_the_acromion() -> None:
    """Truth: published (Rab et al. 2002, from memory): 17 % of the distance of the acromia, along the thorax."""
    posture = measure_posture(standing())
    points = in_study_frame(STANDING)
    apart = np.linalg.norm(points["acromion_left"] - points["acromion_right"])
    drop = points["acromion_right"] - posture.centres_m["shoulder_right"][0]
    assert drop == pytest.approx(0.17 * apart * posture.rotations["thorax"][0][:, 1], abs=1e-12)


def test_every_key_that_the_package_cites_is_in_the_references() -> None:
    """Truth: other. Keys cited as [key]_ in swinglab's docstrings stand in references.bib."""
    folder = FOLDER.parent
    keys = set(re.findall(r"@\w+\{(\w+),", (folder / "references.bib").read_text(encoding="utf-8")))
    package = (folder.parent / "swinglab").rglob("*.py")
    cited = {
        key
        for path in package
        for key in re.findall(r"\[([a-z]+\d{4}[a-z]?)\]_", path.read_text(encoding="utf-8"))
    }
    assert cited and not cited - keys, sorted(cited - keys)
