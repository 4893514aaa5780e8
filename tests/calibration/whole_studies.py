"""Whole made studies, from captures to answers: how often the intervals cover the truth.

    python tests/calibration/whole_studies.py [studies] [first]

Each study: eight golfers of two groups, six swings each, written as C3D, measured and answered as a user's would
be. Truth of the within slope: the mean over its golfers of the finite difference through the whole body. Truth of
the group effect: the difference of the groups' population means, from all golfers of all studies of the run.
Prints a line a study and the two counts.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from simulated_studies import make_study

from swinglab import simulate, study
from swinglab.records import Finding
from swinglab.simulate.parameters import KNOTS, Habit
from swinglab.simulate.variation import SPREAD

GOLFERS, SWINGS = 8, 6
TILT, BEND, EVENT = "thorax_lateral_flexion_deg", "thorax_flexion_deg", "trail_arm_horizontal_through"
SETTINGS = f"""
[errors]
placement_deg = 1.0
soft_tissue_deg = 0.3
[[hunch]]
name = "within"
outcome = "attack_angle_deg"
posture = "{TILT}"
event = "shaft_horizontal_down"
[[comparison]]
name = "group"
of = "{BEND}"
event = "{EVENT}"
between = "group"
"""


def make_one(number: int) -> tuple[simulate.SimulatedStudy, float, dict[str, list[float]]]:
    """A study, the true within slope per 10 deg, and the golfers' true mean bends by group."""
    random = np.random.default_rng([2026, number])
    golfers, groups = [], {}
    for k in range(GOLFERS):
        group = "skilled" if k < GOLFERS // 2 else "learners"
        golfers.append(draw_golfer(random, f"G{k + 1:02d}", group))
        groups[golfers[-1].name] = {"group": group}
    # One deviation from delivery on, so that the slope on tilt at delivery is that of the finite difference.
    variation = simulate.SwingVariation(dict(SPREAD) | {TILT: 3.0}, shared=1.0)
    made = make_study(
        golfers, swings=SWINGS, variation=variation, rate_hz=200.0, seed=number, settings=SETTINGS,
        disturbance=simulate.Disturbance(noise_mm=0.4, placement_mm=3.0, soft_tissue_mm=1.0),
    )  # fmt: skip
    made = replace(made, golfers=groups)
    slopes = [simulate.true_sensitivity(g, TILT, outcomes=("attack_angle_deg",)) for g in golfers]
    bends: dict[str, list[float]] = {"skilled": [], "learners": []}
    for golfer in golfers:
        own = [s.swing.true_posture()[EVENT][BEND] for s in made.swings if s.swing.golfer is golfer]
        bends[groups[golfer.name]["group"]].append(float(np.mean(own)))
    return made, 10 * float(np.mean([slope["attack_angle_deg"] for slope in slopes])), bends


def draw_golfer(random: np.random.Generator, name: str, group: str) -> simulate.Golfer:
    """A golfer whose tilt at delivery and bend after impact differ from the next one's."""
    habit = Habit()
    late = {"delivery": 1.0, "impact": 1.0, "through": 0.6}
    after = {"through": 1.0, "finish": 0.6}
    tilt = random.normal(0.0, 2.5)
    bend = random.normal(-4.0 if group == "skilled" else 0.0, 2.5)
    changed = {
        TILT: tuple(np.add(getattr(habit, TILT), [tilt * late.get(knot, 0.0) for knot in KNOTS])),
        BEND: tuple(np.add(getattr(habit, BEND), [bend * after.get(knot, 0.0) for knot in KNOTS])),
    }
    return simulate.make_golfer(
        name=name, stature_m=float(random.normal(1.76, 0.05)), hand="left" if random.random() < 0.1 else "right",
        habit=replace(habit, **changed),
    )  # fmt: skip


def answer(made: simulate.SimulatedStudy) -> dict[str, Finding]:
    """The judged lines of a study written to files and taken through the whole line."""
    with tempfile.TemporaryDirectory() as folder:
        opened = study.open_study(simulate.write_study(Path(folder) / "study", made))
        findings = study.answer_study(opened, study.measure_study(opened, workers=1))
    return {f.name: f for f in findings if f.role == "default"}


def main(studies: int, first: int) -> None:
    """Run, print."""
    within, group, means = [], [], {"skilled": [], "learners": []}
    for number in range(first, first + studies):
        made, slope, bends = make_one(number)
        words = answer(made)
        w, g = words["within"], words["group"]
        within.append(w.ci_low <= slope <= w.ci_high)
        sign = 1.0 if g.per.startswith("skilled") else -1.0
        group.append(sorted((sign * g.ci_low, sign * g.ci_high)))
        for name, values in bends.items():
            means[name] += values
        print(f"{number}: within {slope:.2f} in [{w.ci_low:.2f}, {w.ci_high:.2f}] {within[-1]}; group "
              f"[{group[-1][0]:.2f}, {group[-1][1]:.2f}] {w.reading} | {g.reading}", flush=True)  # fmt: skip
    truth = float(np.mean(means["skilled"]) - np.mean(means["learners"]))
    covered = sum(low <= truth <= high for low, high in group)
    print(
        f"within covers {sum(within)} of {studies}; group effect {truth:.2f} deg covered in {covered} of {studies}"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40, int(sys.argv[2]) if len(sys.argv) > 2 else 0)
