"""False alarms of the gate: ``python tests/gate/false_alarms.py 120 80`` (swings of stick and of simulated golfers).

Both hands, 1.1 to 2.1 m tall, stances open by up to 45 deg, a limb or the arms' markers missing, from putts to drivers.
Each swing goes through loading, gate and measuring. Prints every doubt and the counts. Run by hand; with
``loaded`` as a third word the swings are loaded and checked, not measured.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from gate.stick_golfer import SHOTS, swing, to_lab

from swinglab import simulate
from swinglab.conventions import mirrored_name
from swinglab.events import find_events
from swinglab.load import load_trial
from swinglab.records import Capture, Setup
from swinglab.segments import measure_at, measure_posture, measure_swing
from swinglab.strike import measure_strike
from swinglab.study.gate import check_ranges, check_trial

RATES = (120.0, 240.0, 500.0)
LIMBS = {
    "arm": ("elbow_lateral", "elbow_medial", "wrist_radial", "wrist_ulnar", "hand"),
    "leg": ("knee_lateral", "knee_medial", "ankle_lateral", "ankle_medial", "heel", "toe"),
}


def missing_landmarks(number: int) -> tuple[str, ...]:
    """Nothing, one arm, one leg, both arms or both legs."""
    kinds = ((), ("arm", "left"), (), ("leg", "right"), (), ("arm", "both"), ("leg", "both"))
    kind = kinds[number % len(kinds)]
    if not kind:
        return ()
    sides = ("left", "right") if kind[1] == "both" else (kind[1],)
    return tuple(f"{stem}_{side}" for stem in LIMBS[kind[0]] for side in sides)


def stick_capture(number: int, random: np.random.Generator) -> tuple[str, Capture, str]:
    """A swing of the stick golfer in millimetres."""
    shot, hand = list(SHOTS)[number % 5], ("right", "left")[(number // 5) % 2]
    stature, rate = random.uniform(1.1, 2.1), RATES[number % 3]
    opened = (0.0, 45.0, -30.0, 20.0)[(number // 10) % 4]
    _, at = swing(shot, stature=stature, hand=hand, open_deg=opened, seed=number, rate_hz=rate)
    gone = missing_landmarks(number)
    lab = {name: path for name, path in to_lab(at, scale=1.0).items() if name not in gone}
    words = f"stick {shot}, {hand}, {stature:.2f} m, open {opened:g} deg, without {gone[0] if gone else 'nothing'}"
    return (
        words,
        Capture("stick.c3d", tuple(lab), np.stack(list(lab.values()), axis=1), rate, unit="mm"),
        hand,
    )


def simulated_captures(number: int) -> list[tuple[str, Capture, str]]:
    """Swings of the package's simulated golfers, five each; the smallest scaled down to 1.1 m."""
    made = []
    for golfer_number in range((number + 4) // 5):
        stature = 1.1 + golfer_number * 1.0 / max(1, (number + 4) // 5 - 1)
        hand = ("right", "left")[golfer_number % 2]
        able = (1.74, 1.80, 1.86)[golfer_number % 3]  # the simulation solves for these; others are scaled
        golfer = simulate.make_golfer(name="G", hand=hand, stature_m=able)
        for turn in range(5):
            one = simulate.make_swing(
                golfer, seed=turn, rate_hz=RATES[turn % 3], noise_m=0.0005, before_s=1.6, after_s=0.6
            )
            names = list(one.points)
            lab = (
                simulate.Lab().from_study(np.stack([one.points[name] for name in names], axis=1), hand) / 1000
            )
            sided = [mirrored_name(name) if hand == "left" else name for name in names]
            capture = Capture("made.c3d", tuple(sided), lab * stature / able, one.rate_hz, unit="mm")
            made.append((f"simulated, {hand}, {stature:.2f} m", capture, hand))
    return made[:number]


def main(stick: int, made: int, *, measured: bool = True) -> None:
    """Print every doubt, the counts, and the gate's share of the time of a swing."""
    random = np.random.default_rng(1)
    swings = [stick_capture(number, random) for number in range(stick)] + simulated_captures(made)
    counts: Counter[str] = Counter()
    in_gate = in_all = 0.0
    for words, capture, hand in swings:
        started = time.process_time()
        trial = load_trial(capture, Setup(hand=hand, soled_at_address=True), swing="s", golfer="g")
        before = time.process_time()
        doubts = list(check_trial(trial).doubts)
        in_gate += time.process_time() - before
        if measured:
            posture = measure_posture(trial)
            events = find_events(trial, posture)
            at, quantities = measure_at(posture, events), measure_swing(posture, events)
            strike = measure_strike(trial, events)
            before = time.process_time()
            doubts += check_ranges(at, quantities, dict(strike.values))
            in_gate += time.process_time() - before
        in_all += time.process_time() - started
        for doubt in doubts:
            counts[f"{doubt.verdict} {doubt.check}"] += 1
            print(f"{words}: {doubt.verdict} {doubt.check}: {doubt.message()}", flush=True)
        counts["with a doubt"] += bool(doubts)
    print(f"{len(swings)} swings, {counts['with a doubt']} with a doubt: {dict(counts)}")
    print(f"gate: {1000 * in_gate / len(swings):.1f} ms a swing, {100 * in_gate / in_all:.1f} % of its time")


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), measured="loaded" not in sys.argv)
