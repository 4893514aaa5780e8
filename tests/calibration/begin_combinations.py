"""`begin`, then `measure`, on simulated captures in every dialect, laboratory and kind of file, against the truth.

    python tests/calibration/begin_combinations.py

One noise-free swing of a right-hander and one of a left-hander, 250 Hz. Counted: landmarks named right, open and wrong;
axes and hands; the largest difference of pelvis and thorax angles from the truth over all events. Writes
references/evidence/begin.md. Truth: made.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from swinglab import simulate
from swinglab.begin import begin_study
from swinglab.study import measure_study, open_study
from tests.begin.made_captures import DIALECTS, LABS, Lab, label_of, write_swing
from tests.begin.test_begin_then_measure import HANDS, largest_error_deg

OUT = Path(__file__).resolve().parents[2] / "references" / "evidence" / "begin.md"
HEAD = """# From bare captures to angles: every combination

Simulated captures (one swing of a right-hander, one of a left-hander, no noise, 250 Hz) in five sets of labels and
seven laboratories, as C3D and as table: `begin`, then `measure`, nothing set by hand. Largest difference of pelvis and
thorax angles from the truth over all events, C3D / table. Landmarks are counted over both kinds of file. Written by
`tests/calibration/begin_combinations.py`; held below 0.3 deg by `tests/begin/test_begin_then_measure.py`.

The sets `dotted` and `codes` were written after the matcher. On their first try `dotted` had 38 of 42 landmarks named
and 4 open, `codes` 42 of 42, none wrong; the four words were then added to the vocabulary.

| labels, for instance | up, target, unit | landmarks right, open, wrong | axes and hands | largest error, deg |
|---|---|---|---|---|
"""


def one_row(dialect: str, lab: Lab, swings: dict[str, simulate.Swing]) -> str:
    """One dialect in one laboratory."""
    counts, errors, agree = [0, 0, 0], [], True
    for kind in ("c3d", "csv"):
        folder = Path(tempfile.mkdtemp())
        for golfer, swing in swings.items():
            path = folder / "captures" / golfer / f"t1.{kind}"
            write_swing(path, swing.points, swing.hand, swing.rate_hz, DIALECTS[dialect], lab)
        found = begin_study(folder).found
        truth = {name: label_of(name, DIALECTS[dialect], "right") for name in swings["G01"].points}
        named = {name: match.label for name, match in found.landmarks.items()}
        right = sum(named.get(name) == label for name, label in truth.items() if label)
        counts[0] += right
        counts[2] += len(named) - right
        counts[1] += sum(name not in named for name, label in truth.items() if label)
        study = open_study(folder)
        hands = dict(zip(study.golfers["golfer"], study.golfers["hand"], strict=True))
        agree &= (study.setup.up, study.setup.target) == (lab.up, lab.target) and hands == HANDS
        posture = measure_study(study, workers=1).posture
        errors.append(largest_error_deg(posture.assign(golfer=posture["swing"].str[:3]), swings))
    example = ", ".join(
        DIALECTS[dialect][name].format(S="L", side="left") for name in ("asis", "elbow_lateral")
    )
    words = " / ".join(f"{error:.3f}" for error in errors)
    return (
        f"| {dialect}: {example} | {lab.up}, {lab.target}, {lab.unit} | {counts[0]}, {counts[1]}, {counts[2]} | "
        f"{'right' if agree else 'WRONG'} | {words} |\n"
    )


def main() -> None:
    """Measure every combination and write the table."""
    swings = {
        name: simulate.make_swing(simulate.make_golfer(name=name, hand=hand), seed=5, rate_hz=250.0, name=name,
                                  before_s=1.8, after_s=0.8)
        for name, hand in HANDS.items()
    }  # fmt: skip
    rows = [one_row(dialect, lab, swings) for dialect in DIALECTS for lab in LABS]
    OUT.write_text(HEAD + "".join(rows), encoding="utf-8")


if __name__ == "__main__":
    main()
