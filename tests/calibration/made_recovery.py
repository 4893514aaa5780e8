"""Truth to files to results and back: made swings without noise, through capture files and every stage.

    python tests/calibration/made_recovery.py [swings of each golfer] [rate in Hz]

prints the table of errors (root mean square and largest) by quantity, for C3D and for pose tables, both hands,
two lab axis conventions.
"""

from __future__ import annotations

import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from swinglab import simulate
from swinglab.events import find_events
from swinglab.load import load_trial, read_capture
from swinglab.records import Setup
from swinglab.segments import measure_at, measure_posture
from swinglab.simulate.capture import write_c3d, write_pose_table
from swinglab.simulate.swing import as_kind
from swinglab.strike import measure_strike

LABS = (simulate.Lab(), simulate.Lab("+Y", "-Z", -400.0, (150.0, -90.0)))
ANGLES = tuple(f"{part}_{motion}_deg" for part in ("pelvis", "thorax")
               for motion in ("axial_rotation", "lateral_flexion", "flexion"))  # fmt: skip
STRIKES = ("clubhead_speed_mps", "attack_angle_deg", "club_path_in_to_out_deg", "low_point_ahead_cm",
           "low_point_height_cm", "arc_radius_m", "arc_plane_inclination_deg")  # fmt: skip


def golfers() -> list[simulate.Golfer]:
    """Four bodies, two of them left-handed, with other clubs, speeds and habits."""
    aim = simulate.Aim
    return [
        simulate.make_golfer(name="G01", stature_m=1.85, aim=aim(38.0, -5.0, 1.0)),
        simulate.make_golfer(name="G02", hand="left", stature_m=1.64, club="8 iron", aim=aim(30.0, -3.0, -2.0),
                             tempo=simulate.Tempo(downswing_s=0.31)),
        simulate.make_golfer(name="G03", stature_m=1.75, club="5 iron", aim=aim(36.0, -1.5, 0.5)),
        simulate.make_golfer(name="G04", hand="left", stature_m=1.80, club="9 iron", aim=aim(34.0, -6.0, 0.0)),
    ]  # fmt: skip


def made_swings(each: int, rate_hz: float, seed: int = 11) -> Iterator[simulate.Swing]:
    """So many varied swings of each golfer, one at a time."""
    for golfer in golfers():
        drawn = simulate.draw_offsets(np.random.default_rng(seed), each, simulate.SwingVariation())
        for k, offsets in enumerate(drawn):
            yield simulate.make_swing(
                golfer, offsets, seed=seed + k, rate_hz=rate_hz, name=f"{golfer.name}_{k}"
            )


def errors_of(swing: simulate.Swing, kind: str, lab: simulate.Lab, folder: Path) -> dict[str, float]:
    """Quantity -> measured less true, through a file; the largest over the events for posture angles."""
    swing = as_kind(swing, kind)
    path = folder / f"{swing.name}.{'c3d' if kind == 'markers' else 'csv'}"
    write_c3d(swing, path, lab) if kind == "markers" else write_pose_table(swing, path, lab)
    setup = Setup(lab.up, lab.target, lab.ground_mm, "mm", hand=swing.hand, soled_at_address=True,
                  reference_behind_face_cm=0.0)  # fmt: skip
    trial = load_trial(read_capture(path, unit="mm"), setup, swing=swing.name, golfer=swing.golfer.name)
    posture = measure_posture(trial)
    events = find_events(trial, posture)
    strike = measure_strike(trial, events)
    path.unlink()
    found = {f"{name} (ms)": 1e3 * (events.time_s(name) - t) for name, t in swing.true_events.items()}
    found |= {name: strike.values[name] - swing.true_strike[name] for name in STRIKES}
    if kind == "markers":
        at = measure_at(posture, events).set_index(["event", "quantity"])["value"]
        truth = swing.true_posture()
        for name in ANGLES:
            off = [at[event, name] - truth[event][name] for event in truth if (event, name) in at.index]
            found[name] = max(off, key=abs)
    return found


def recover(each: int, rate_hz: float, kind: str) -> dict[str, np.ndarray]:
    """Quantity -> (n,) errors over all made swings, every second one in the other lab."""
    gathered = defaultdict(list)
    with tempfile.TemporaryDirectory() as folder:
        for k, swing in enumerate(made_swings(each, rate_hz)):
            lab = replace(LABS[k % 2])
            for name, value in errors_of(swing, kind, lab, Path(folder)).items():
                gathered[name].append(value)
    return {name: np.array(values) for name, values in gathered.items()}


def main() -> None:
    each = int(sys.argv[1]) if len(sys.argv) > 1 else 25
    rate_hz = float(sys.argv[2]) if len(sys.argv) > 2 else 240.0
    for kind in ("markers", "joint_centres"):
        print(
            f"\n{4 * each} swings, {rate_hz:g} Hz, {kind}\n{'quantity':42s} {'rms':>8s} {'largest':>8s} missing"
        )
        for name, off in recover(each, rate_hz, kind).items():
            there = off[np.isfinite(off)]
            numbers = (np.sqrt(np.mean(there**2)), np.abs(there).max()) if len(there) else (np.nan, np.nan)
            print(f"{name:42s} {numbers[0]:8.3f} {numbers[1]:8.3f} {len(off) - len(there):7d}")


if __name__ == "__main__":
    main()
