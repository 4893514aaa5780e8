"""Posture of made swings against the posture that made them; truth: made, here throughout."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from swinglab.columns import SWINGS
from swinglab.conventions import EVENTS
from swinglab.load import load_trial, read_capture
from swinglab.records import Event, Events, Setup, Trial
from swinglab.segments import measure_at, measure_posture, measure_swing
from swinglab.simulate import Lab, Swing, make_golfer, make_swing
from swinglab.simulate.capture import write_c3d
from swinglab.simulate.limbs import place_landmarks
from swinglab.simulate.linkage import move

GOLFERS = ({"name": "G01"}, {"name": "G02", "hand": "left", "stature_m": 1.68, "club": "8 iron"})
LABS = (Lab(), Lab(up="+Y", target="-Z", ground_mm=120.0, ball_mm=(400.0, -250.0)))
#: Degrees by which an angle may be off, by what its name begins with; centimetres for positions.
TRUNK, LIMBS, CENTIMETRES = 0.3, 0.7, 0.15


@pytest.fixture(scope="module", params=[0, 1], ids=["right-handed", "left-handed"])
def swing(request) -> Swing:
    """A noise-free swing at 240 Hz."""
    return make_swing(make_golfer(**GOLFERS[request.param]), seed=request.param + 1, rate_hz=240.0)


def true_events(swing: Swing) -> Events:
    """The swing's own events, without error."""
    found = tuple(Event(name, swing.true_events[name], 0.0, "true") for name in EVENTS)
    return Events(swing.name, swing.golfer.name, swing.rate_hz, found)


def loaded(swing: Swing, folder, lab: Lab) -> Trial:
    """Written as an integer C3D in the laboratory's axes, read again, smoothed."""
    path = write_c3d(swing, folder / "swing.c3d", lab)
    setup = Setup(
        up=lab.up, target=lab.target, ground=lab.ground_mm, hand=swing.hand, soled_at_address=True,
        reference_behind_face_cm=0.0,
    )  # fmt: skip
    return load_trial(read_capture(path), setup, swing=swing.name, golfer=swing.golfer.name)


def true_wrist(swing: Swing, times: list[float]) -> tuple[np.ndarray, np.ndarray]:
    """Flexion and ulnar deviation of the lead wrist from the exact points at exact times (Wu et al. 2005)."""
    at_s = np.array(times) + swing.start_s
    points = place_landmarks(swing.mover, move(swing.mover, at_s), at_s)
    at = {n: xyz * [1, 1, -1] for n, xyz in points.items()}
    elbow = (at["elbow_lateral_left"] + at["elbow_medial_left"]) / 2
    wrist = (at["wrist_radial_left"] + at["wrist_ulnar_left"]) / 2
    right = at["wrist_radial_left"] - at["wrist_ulnar_left"]

    def frame(y: np.ndarray) -> np.ndarray:
        y = y / np.linalg.norm(y, axis=1, keepdims=True)
        x = np.cross(y, right)
        x /= np.linalg.norm(x, axis=1, keepdims=True)
        return np.stack([x, y, np.cross(x, y)], axis=-1)

    forearm, hand = frame(elbow - at["wrist_ulnar_left"]), frame(wrist - at["hand_left"])
    z, x, _ = Rotation.from_matrix(np.swapaxes(forearm, 1, 2) @ hand).as_euler("ZXY", degrees=True).T
    return z, x


def worst(table, swing: Swing) -> dict[str, float]:
    """Largest difference from the truth over the events, by quantity."""
    truth = swing.true_posture()
    off: dict[str, float] = {}
    for row in table.itertuples():
        expected = truth.get(row.event, {}).get(row.quantity)
        if expected is not None:
            off[row.quantity] = max(off.get(row.quantity, 0.0), abs(row.value - expected))
    found = {n: swing.true_events[n] for n in EVENTS if np.isfinite(swing.true_events[n])}
    for name, expected in zip(
        ("flexion", "ulnar_deviation"), true_wrist(swing, list(found.values())), strict=True
    ):
        rows = table[table["quantity"] == f"lead_wrist_{name}_deg"].set_index("event")["value"]
        off[f"lead_wrist_{name}_deg"] = float(np.abs(rows[list(found)].to_numpy() - expected).max())
    return off


def check(off: dict[str, float]) -> None:
    """Every quantity within its bound; NaN is not within it."""
    assert len(off) > 35
    for name, value in off.items():
        if name == "shaft_forward_lean_deg":
            bound = LIMBS
        elif name.endswith("_cm"):
            bound = CENTIMETRES
        else:
            bound = TRUNK if name.startswith(("pelvis", "thorax", "trunk")) else LIMBS
        assert value < bound, (name, value)


def test_exact_points_give_the_driving_posture(swing: Swing) -> None:
    """Pelvis and trunk within 0.3 deg, elbows, wrists and knees within 0.7 deg, places within 1.5 mm."""
    off = worst(measure_at(measure_posture(swing.trial()), true_events(swing)), swing)
    check(off)
    trunk = [
        value
        for name, value in off.items()
        if name.startswith(("pelvis", "thorax", "trunk")) and "deg" in name
    ]
    assert max(trunk) < 0.01


@pytest.mark.parametrize("lab", LABS, ids=["z-up", "y-up"])
def test_a_file_in_any_laboratorys_axes_gives_it_too(swing: Swing, lab: Lab, tmp_path) -> None:
    """The same bounds by way of a C3D file, its steps of 0.05 mm, gaps-and-smoothing, two axis conventions."""
    check(worst(measure_at(measure_posture(loaded(swing, tmp_path, lab)), true_events(swing)), swing))


def test_axes_unit_and_hand_change_nothing(tmp_path) -> None:
    """One swing in two laboratories, and as its mirror image: the same table but for the files' steps."""
    right, left = (
        make_swing(make_golfer(name="G", hand=hand), seed=4, rate_hz=240.0) for hand in ("right", "left")
    )
    tables = [
        measure_at(measure_posture(loaded(swing, tmp_path, lab)), true_events(swing)).set_index(
            ["event", "quantity"]
        )
        for swing, lab in ((right, LABS[0]), (right, LABS[1]), (left, LABS[0]))
    ]
    keep = ~tables[0].index.get_level_values("quantity").str.contains("lean_direction|shoulder")
    for other in tables[1:]:
        assert np.abs(other["value"] - tables[0]["value"])[keep].max() < 0.15
        assert (other["frame_method"] == tables[0]["frame_method"]).all()


def test_pose_tables_keep_what_they_show(swing: Swing) -> None:
    """Joint centres: turn and side bend of the pelvis as driven; elbows and knees of the three centres."""
    posture = measure_posture(swing.trial(kind="joint_centres"))
    table = measure_at(posture, true_events(swing)).set_index(["event", "quantity"])["value"]
    truth = swing.true_posture()
    for event, row in truth.items():
        for name in ("pelvis_axial_rotation_deg", "pelvis_lateral_flexion_deg"):
            assert table[event, name] == pytest.approx(row[name], abs=0.3)
        for side in ("lead", "trail"):
            assert table[event, f"{side}_knee_flexion_deg"] == pytest.approx(
                row[f"{side}_knee_flexion_deg"], abs=0.1
            )
        for name in ("toward_target", "up", "toward_ball"):
            assert table[event, f"pelvis_centre_{name}_cm"] == pytest.approx(
                row[f"pelvis_centre_{name}_cm"], abs=0.1
            )
    assert np.isnan(table["impact", "pelvis_flexion_deg"])


def test_timing_and_peaks_of_the_swing(swing: Swing) -> None:
    """Times from the true events; peak separation as the driving curves have it; turning speeds in range."""
    found = measure_swing(measure_posture(swing.trial()), true_events(swing), swing.trial())
    at = swing.true_events
    assert found["backswing_time_s"] == pytest.approx(at["top"] - at["takeaway"])
    assert found["downswing_time_s"] == pytest.approx(at["impact"] - at["top"])
    t, curve = swing.time_s, swing.true_curves["pelvis_thorax_separation_deg"]
    window = (t >= at["takeaway"]) & (t <= at["impact"])
    assert found["pelvis_thorax_peak_separation_deg"] == pytest.approx(curve[window].max(), abs=0.05)
    for name, c in SWINGS.items():
        assert c.low <= found[name] <= c.high, (name, found[name])
