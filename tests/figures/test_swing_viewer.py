"""What the swing viewer is given: points, bones, events, and the quantity drawn on the body."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from made_figures import EVENT_TIMES, made_events, made_posture, made_trial

from swinglab import columns
from swinglab.errors import BadRequest
from swinglab.figures.viewer import (
    bones,
    drawn_points,
    mark_on_body,
    pack_swings,
    swing_frames,
    viewer_element,
    viewer_head,
)


def numbers_of(frames: bytes) -> np.ndarray:
    return np.frombuffer(frames, "<f4")


def test_a_joint_with_two_markers_is_drawn_between_them() -> None:
    """Truth: made."""
    trial = made_trial()
    points = drawn_points(trial)
    middle = (trial.point("knee_lateral_left") + trial.point("knee_medial_left")) / 2
    np.testing.assert_allclose(points["knee_left"], middle)
    np.testing.assert_allclose(points["clubhead"], trial.point("clubhead"))


def test_bones_join_only_points_that_are_there_and_know_their_side() -> None:
    """Truth: made. Left is the lead side in every trial."""
    points = drawn_points(made_trial())
    joined = bones(points)
    assert {a for a, _, _ in joined} | {b for _, b, _ in joined} <= set(points)
    assert ("elbow_left", "wrist_left", "lead") in joined
    assert ("elbow_right", "wrist_right", "trail") in joined
    club = [(a, b) for a, b, part in joined if part == "club"]
    assert club == [("club_butt", "club_shaft_1"), ("club_shaft_1", "club_hosel"), ("club_hosel", "clubhead")]


def test_packed_numbers_come_back_where_the_description_says() -> None:
    """Truth: made. Two swings, the second with a quantity; float32, little-endian."""
    first, second = made_trial("a"), made_trial("b", hand="left", n_frames=500, phase=0.1)
    one = swing_frames(first, events=made_events(first))
    two = swing_frames(
        second, made_posture(second), made_events(second), quantity="thorax_lateral_flexion_deg"
    )
    layout, frames = pack_swings([one, two])
    numbers = numbers_of(frames)
    for given, described in zip((one, two), layout["swings"], strict=True):
        shape = (described["frames"], described["points"], 3)
        read = numbers[described["at"] : described["at"] + np.prod(shape)].reshape(shape)
        np.testing.assert_allclose(read, given.points_m, atol=1e-6)
    quantity = layout["swings"][1]["quantity"]
    assert numbers[quantity["at"]] == pytest.approx(20.0)
    assert quantity["label"] == "Thorax lateral flexion"
    assert layout["swings"][0]["quantity"] is None
    assert [e["name"] for e in layout["swings"][0]["events"]] == list(EVENT_TIMES)
    assert json.loads(json.dumps(layout, allow_nan=False)) == layout


def drawn_angle_deg(mark: object) -> np.ndarray:
    corner, one, other = mark.points
    a, b = one - corner, other - corner
    cosine = (a * b).sum(axis=1) / np.linalg.norm(a, axis=1) / np.linalg.norm(b, axis=1)
    return np.degrees(np.arccos(np.clip(cosine, -1, 1)))


@pytest.mark.parametrize("tilt", [-15.0, 5.0, 40.0])
def test_the_angle_drawn_for_side_bend_is_the_angle_measured(tilt: float) -> None:
    """Truth: made. A thorax tilted to the trail side by a known angle, drawn from the level to its side axis."""
    trial = made_trial()
    posture = made_posture(trial, tilt_deg=tilt)
    mark = mark_on_body("thorax_lateral_flexion_deg", drawn_points(trial, posture), trial, posture)
    assert mark.is_exact
    np.testing.assert_allclose(drawn_angle_deg(mark), abs(tilt), atol=1e-9)
    lower_on_trail_side = mark.points[2][:, 1] < mark.points[1][:, 1]
    assert lower_on_trail_side.all() == (tilt > 0)


def test_turn_and_bend_drawn_on_a_segment_turned_first_are_the_angles_of_that_order() -> None:
    """Truth: other (scipy). Turn, side bend and bend chosen at random, built in the order Y-X-Z."""
    from scipy.spatial.transform import Rotation

    from swinglab.conventions import GOLFER_AXES
    from swinglab.records import Posture

    trial = made_trial(n_frames=50)
    random = np.random.default_rng(4)
    angles = random.uniform([-100, -40, -60], [100, 40, 60], (50, 3))
    frames = GOLFER_AXES @ Rotation.from_euler("YXZ", angles, degrees=True).as_matrix()
    made = made_posture(trial)
    posture = Posture(
        made.swing, made.golfer, made.hand, made.kind, made.time_s, made.quantities, made.values,
        made.standard_errors, methods={}, rotations={"thorax": frames}, centres_m=dict(made.centres_m),
    )  # fmt: skip
    for i, motion in enumerate(("axial_rotation", "lateral_flexion", "flexion")):
        mark = mark_on_body(f"thorax_{motion}_deg", drawn_points(trial, posture), trial, posture)
        np.testing.assert_allclose(drawn_angle_deg(mark), abs(angles[:, i]), atol=1e-6)


def test_a_shift_is_drawn_from_where_the_part_stood_at_address() -> None:
    """Truth: made. Nothing at address; afterwards the length along the target line alone."""
    trial = made_trial()
    posture, events = made_posture(trial), made_events(trial)
    mark = mark_on_body(
        "thorax_centre_toward_target_cm", drawn_points(trial, posture), trial, posture, events
    )
    begin, end = mark.points
    address = round(EVENT_TIMES["address"] * trial.rate_hz)
    np.testing.assert_allclose(begin[address], end[address])
    moved = np.asarray(posture.centres_m["thorax"])
    np.testing.assert_allclose((end - begin)[:, 0], moved[:, 0] - moved[address, 0])
    np.testing.assert_allclose((end - begin)[:, 1:], 0.0)


def test_every_posture_quantity_is_drawn_or_left_out_without_a_fault() -> None:
    """Truth: made. What is drawn has one point a frame and no more than three of them."""
    trial = made_trial(n_frames=450)
    posture, events = made_posture(trial), made_events(trial)
    points = drawn_points(trial, posture)
    drawn = 0
    for quantity in columns.QUANTITIES:
        mark = mark_on_body(quantity, points, trial, posture, events)
        if mark is not None:
            drawn += 1
            assert len(mark.points) == {"angle": 3, "distance": 2}[mark.kind]
            assert all(p.shape == (450, 3) for p in mark.points)
    assert drawn > 30


def test_what_the_viewer_cannot_show_is_said() -> None:
    """Truth: made."""
    trial = made_trial()
    with pytest.raises(BadRequest, match="one or 2 swings, but 3"):
        pack_swings([swing_frames(trial)] * 3)
    with pytest.raises(BadRequest, match="the argument posture is missing"):
        swing_frames(trial, quantity="thorax_lateral_flexion_deg")
    with pytest.raises(BadRequest, match="similar names: thorax_lateral_flexion_deg"):
        swing_frames(trial, made_posture(trial), quantity="thorax_lateral_flexon_deg")


def test_a_page_holds_no_address_and_cannot_be_broken_by_a_name() -> None:
    """Truth: made. A title that would end the script element stays data."""
    trial = made_trial()
    page = viewer_element([swing_frames(trial, title="</script><b>x</b>")]) + viewer_head()
    # A saved SVG names its namespace and a clip of its own; neither is fetched.
    head = viewer_head().replace("http://www.w3.org/2000/svg", "").replace("url(#", "")
    assert not re.search(r"https?:|src=|href=|url\(|import ", head)
    assert "<b>x" not in page
    described = re.search(r'class="layout">(.*?)</script>', page).group(1)
    assert json.loads(described)["swings"][0]["title"] == "</script><b>x</b>"
