"""How far off the strike is, and whether its standard errors say so: tables for strike.md, made by hand.

Run from the root: ``PYTHONPATH=.:tests python -m calibration.strike [section [swings a row]]``. Truth: made.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from strike.arcs import SHAPES, make_arc, make_trial
from strike.families import FAMILIES, family_arcs
from strike.rivals import RIVALS
from strike.trials import HARDER, LASTING, OUTCOMES, TARGET_SHAPES, measure_batch, random_arcs

from swinglab.conventions import BALL_RADIUS_M, CONTACTS
from swinglab.strike import measure_strike

TABLES = Path(__file__).resolve().parents[2] / "references" / "evidence" / "strike.md"
#: Seed of the arcs, and first seed of the swings, by which the tables judge; none smaller than it chose anything.
FRESH = 300_000
RATES, NOISES_MM = (120.0, 240.0, 500.0), (0.5, 1.0, 2.0)


def accuracy(
    number: int, shapes: tuple[str, ...], sole_at_impact: float | None, **impact: float
) -> list[str]:
    """Rows of root-mean-square error, coverage and rivals over rates and noises."""
    lines = [
        "| Hz | noise mm | low point cm | attack deg | path deg | speed m/s | 95 % cover low/attack/path/speed | none |"
        + "".join(f" {name} |" for name in RIVALS),
        "|" + "---|" * (8 + len(RIVALS)),
    ]
    arcs = random_arcs(shapes, seed=FRESH)
    for rate in RATES:
        for noise in NOISES_MM:
            batch = measure_batch(
                arcs, number, rate, noise / 1000, sole_at_impact=sole_at_impact, first_seed=FRESH, **impact
            )
            cover = "/".join(f"{100 * c:.0f}" for c in batch.coverage())
            own = " | ".join(f"{e:.2f}" for e in batch.rms())
            others = "".join(f" {low:.1f} / {attack:.2f} |" for low, attack in batch.rival_rms().values())
            lines.append(
                f"| {rate:.0f} | {noise} | {own} | {cover} | {100 * batch.missing():.1f} % |{others}"
            )
            print(lines[-1], flush=True)
    return lines


def random_families(number: int) -> list[str]:
    """Error and coverage on random paths, family by family: every swing another path."""
    lines = [
        "| family | Hz | noise mm | points after impact | low point cm | attack deg | path deg | speed m/s "
        "| 95 % cover low/attack/path/speed |",
        "|" + "---|" * 9,
    ]
    for family in FAMILIES:
        arcs = family_arcs(family, number, seed=FRESH)
        for rate in RATES:
            for noise in NOISES_MM[::2]:
                for words, sole in (("used", None), ("none: turf met", 0.0)):
                    batch = measure_batch(
                        arcs, number, rate, noise / 1000, sole_at_impact=sole, rivals=False, first_seed=FRESH
                    )
                    own = " | ".join(f"{e:.2f}" for e in batch.rms())
                    cover = "/".join(f"{100 * c:.0f}" for c in batch.coverage())
                    lines.append(f"| {family} | {rate:.0f} | {noise} | {words} | {own} | {cover} |")
                    print(lines[-1], flush=True)
    return lines


def harder(number: int) -> list[str]:
    """Error and error over standard error with hidden frames and of slow strokes."""
    lines = [
        "| swings | Hz | low point cm | attack deg | path deg | speed m/s | error / predicted low/attack/path/speed "
        "| 95 % cover | none |",
        "|" + "---|" * 9,
    ]
    for words, (hidden, speeds) in HARDER.items():
        arcs = random_arcs(TARGET_SHAPES, seed=FRESH, speed_mps=speeds)
        for rate in RATES:
            batch = measure_batch(
                arcs,
                number,
                rate,
                5e-4,
                rivals=False,
                hidden_s=hidden,
                before=0.13 if hidden else 0.3,
                first_seed=FRESH,
            )
            own = " | ".join(f"{e:.2f}" for e in batch.rms())
            ratio = "/".join(f"{r:.2f}" for r in batch.rms() / batch.predicted())
            cover = "/".join(f"{100 * c:.0f}" for c in batch.coverage())
            lines.append(
                f"| {words} | {rate:.0f} | {own} | {ratio} | {cover} | {100 * batch.missing():.0f} % |"
            )
            print(lines[-1], flush=True)
    return lines


def noise_free() -> list[str]:
    """Largest error without noise over kinks of 0, 2 and 4 degrees and four phases of the frames."""
    lines = [
        "| shape | Hz | points after impact | low point cm | attack deg | path deg | speed m/s |",
        "|---|---|---|---|---|---|---|",
    ]
    for shape in SHAPES:
        arc = make_arc(shape)
        for rate in RATES:
            for words, sole in (("used", None), ("none: turf met", 0.0)):
                errors = []
                for seed in range(4):
                    for kink in (0.0, 2.0, 4.0):
                        trial, events = make_trial(
                            arc, rate, kink=kink, loss=0.2, seed=seed, sole_at_impact=sole
                        )
                        values = measure_strike(trial, events).values
                        errors.append([abs(values[n] - arc.truth[n]) for n in OUTCOMES])
                worst = " | ".join(f"{e:.2f}" for e in np.max(errors, axis=0))
                lines.append(f"| {shape} | {rate:.0f} | {words} | {worst} |")
    return lines


def bootstrap(number: int) -> list[str]:
    """The reported standard errors beside the spread of refits to new noise on the same swing."""
    lines = ["| shape | Hz | outcome | reported (mean) | spread of refits |", "|---|---|---|---|---|"]
    for shape in ("circle", "ellipse 1.6 x 1.4", "hub rising", "two levers"):
        arc = make_arc(shape)
        for rate in RATES[:2]:
            values, errors = [], []
            for seed in range(number):
                # One phase of the frames and one kink: only the noise is new.
                trial, events = make_trial(arc, rate, kink=2.0, loss=0.2, seed=1)
                noisy = redraw(trial, 0.0005, seed)
                strike = measure_strike(noisy, events)
                values.append([strike.values[n] for n in OUTCOMES])
                errors.append([strike.standard_errors[n] for n in OUTCOMES])
            words, seen = np.nanmean(errors, axis=0), np.nanstd(values, axis=0)
            for k, name in enumerate(OUTCOMES):
                lines.append(f"| {shape} | {rate:.0f} | {name} | {words[k]:.3f} | {seen[k]:.3f} |")
    return lines


def contact(number: int) -> list[str]:
    """Contact probabilities beside what happened, and coverage of the heights, the sole's height in error."""
    words, happened, inside = [], [], []
    arcs = random_arcs(TARGET_SHAPES, seed=5)
    for seed in range(number):
        rng = np.random.default_rng([23, seed])
        arc, sole = arcs[seed % len(arcs)], float(rng.normal(0.002, 0.009))
        trial, events = make_trial(
            arc, 240.0, noise=5e-4, kink=2.0, loss=0.2, seed=seed, sole_at_impact=sole,
            sole_error=float(rng.normal(0.0, 0.004)),
        )  # fmt: skip
        strike = measure_strike(trial, events)
        word, entry, lowest = true_contact(arc, sole)
        words.append([strike.contact_probabilities[w] for w in CONTACTS])
        happened.append([w == word for w in CONTACTS])
        for name, truth in (("low_point_height_cm", lowest), ("turf_entry_ahead_cm", entry)):
            error = strike.values[name] - truth
            if np.isfinite(error):
                inside.append((name, abs(error) < 1.96 * strike.standard_errors[name]))
    probability, seen = np.array(words).ravel(), np.array(happened).ravel()
    lines = ["| predicted probability | mean prediction | share that happened | n |", "|---|---|---|---|"]
    for low in np.arange(0.0, 1.0, 0.2):
        chosen = (probability >= low) & (probability < low + 0.2 + 1e-9 * (low > 0.7))
        mean, share = probability[chosen].mean(), seen[chosen].mean()
        lines.append(f"| {low:.1f} to {low + 0.2:.1f} | {mean:.2f} | {share:.2f} | {chosen.sum()} |")
    for name in ("low_point_height_cm", "turf_entry_ahead_cm"):
        shares = [ok for n, ok in inside if n == name]
        lines.append(
            f"\n95 % intervals of {name} hold the truth in {100 * np.mean(shares):.0f} % of {len(shares)}."
        )
    return lines


def true_contact(arc, sole: float) -> tuple[str, float, float]:
    """The contact, where the sole meets the turf (cm, NaN if never) and the low point's height (cm)."""
    path = arc.path(np.linspace(-0.03, 0.02, 50001))
    height = path[:, 1] - arc.path(0.0)[1] + sole
    bottom = int(np.argmin(height))
    meets = np.flatnonzero(height[:bottom] <= 0)
    entry = 100 * float(path[meets[0], 0]) if len(meets) else float("nan")
    fat = entry < -100 * BALL_RADIUS_M - 1.0
    word = "fat" if fat else ("thin" if sole > 0.01 else "clean")
    return word, entry, 100 * float(height[bottom])


def turf(number: int) -> list[str]:
    """Turf that bends the path while the sole's height is not known: how often the fit notices, and at what cost."""
    lines = [
        "| Hz | noise mm | raised cm | points after impact used | low point cm | attack deg | 95 % cover low/attack |",
        "|" + "---|" * 7,
    ]
    arcs = random_arcs(tuple(SHAPES), seed=3)
    for rate in RATES:
        for noise in NOISES_MM[:2]:
            for raised in (0.0, 0.01, 0.03, 0.06):
                errors, spread, used = [], [], []
                for seed in range(number):
                    arc = arcs[seed % len(arcs)]
                    made = make_trial(arc, rate, noise=noise / 1000, kink=2.0, loss=0.2, seed=seed)
                    strike = measure_strike(*raise_after(*made, raised))
                    errors.append([strike.values[n] - arc.truth[n] for n in OUTCOMES[:2]])
                    spread.append([strike.standard_errors[n] for n in OUTCOMES[:2]])
                    used.append((strike.arc["used"] < 0).any())
                low, attack = np.sqrt(np.nanmean(np.square(errors), axis=0))
                cover = "/".join(
                    f"{100 * c:.0f}" for c in (np.abs(errors) < 1.96 * np.array(spread)).mean(axis=0)
                )
                lines.append(
                    f"| {rate:.0f} | {noise} | {100 * raised:.0f} | {100 * np.mean(used):.0f} % | {low:.2f} "
                    f"| {attack:.2f} | {cover} |"
                )
                print(lines[-1], flush=True)
    return lines


def raise_after(trial, events, raised: float):
    """The same swing, its clubhead raised from 2 ms after impact on, by `raised` (m) within 19 ms."""
    late = np.clip(trial.time_s - events.time_s("impact") - 0.002, 0.0, 0.012 * np.pi / 2)
    points = trial.raw_m.copy()
    points[:, trial.landmarks.index("clubhead"), 1] += raised * np.sin(late / 0.012)
    return replace(trial, raw_m=points, points_m=points), events


def redraw(trial, noise: float, seed: int):
    """The trial with new noise on its points."""
    points = trial.raw_m + np.random.default_rng([3, seed]).normal(scale=noise, size=trial.raw_m.shape)
    return replace(trial, raw_m=points, points_m=points)


def pace(number: int = 60) -> float:
    """Seconds of one core to measure one swing at 240 Hz."""
    made = [make_trial(arc, 240.0, noise=5e-4, kink=2.0, loss=0.2) for arc in random_arcs(TARGET_SHAPES)]
    measure_strike(*made[0])
    start = time.process_time()
    for i in range(number):
        measure_strike(*made[i % len(made)])
    return (time.process_time() - start) / number


SECTIONS: dict[str, tuple[Callable[[int], list[str]], int]] = {
    "Circle, ellipses 1.7 x 1.3 and 1.6 x 1.4 m, moving hubs; turf not met: points after impact are used": (
        lambda n: accuracy(n, TARGET_SHAPES, None), 200),
    "The same; the sole meets the turf at impact: points before impact alone": (
        lambda n: accuracy(n, TARGET_SHAPES, 0.0), 200),
    "All shapes, turned ellipses and two levers included; points before impact alone": (
        lambda n: accuracy(n, tuple(SHAPES), 0.0), 200),
    "All shapes; turf not met: points after impact are used": (
        lambda n: accuracy(n, tuple(SHAPES), None), 200),
    "The same; impact takes half a millisecond and leaves the path 5.5 % straighter": (
        lambda n: accuracy(n, tuple(SHAPES), None, **LASTING), 200),
    "Random paths by family (two levers on a turning hub: not looked at while the model was made)": (
        random_families, 200),
    "Without noise: largest error over kinks of 0, 2 and 4 degrees and four phases of the frames": (
        lambda n: noise_free(), 12),
    "Parametric bootstrap, noise 0.5 mm: new noise on one swing": (bootstrap, 60),
    "Turf bends the path, the sole's height is not known; all shapes": (turf, 80),
    "Clubhead hidden about impact, half swings and chips; noise 0.5 mm": (harder, 100),
    "Contact and heights, with an error of 4 mm in the sole's height": (contact, 300),
}  # fmt: skip


def write_section(title: str, number: int, lines: list[str]) -> None:
    """Put a section into strike.md in place of its last run."""
    head, *sections = TABLES.read_text(encoding="utf-8").split("\n## ")
    own = "\n".join([title, "", f"{number} swings a row.", "", *lines, ""])
    kept = {section.split("\n", 1)[0]: section for section in sections} | {title: own}
    order = [*(t for t in kept if t not in SECTIONS), *(t for t in SECTIONS if t in kept)]
    TABLES.write_text("\n## ".join([head, *(kept[t] for t in order)]), encoding="utf-8")


def main() -> None:
    chosen = [int(a) for a in sys.argv[1:2]] or range(1, len(SECTIONS) + 1)
    for place in chosen:
        title = list(SECTIONS)[place - 1]
        work, number = SECTIONS[title]
        number = int(sys.argv[2]) if len(sys.argv) > 2 else number
        write_section(title, number, work(number))
    print(f"one swing at 240 Hz takes {1000 * pace():.0f} ms of one core to measure")


if __name__ == "__main__":
    main()
