"""`begin` on simulated captures in the labels, axes and units of others, then `measure`, against the truth."""

from __future__ import annotations

from itertools import cycle, product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from swinglab import simulate
from swinglab.begin import begin_study
from swinglab.study import measure_study, open_study
from tests.begin.made_captures import DIALECTS, LABS, Lab, write_swing

TRUNK = [
    f"{part}_{motion}_deg"
    for part in ("pelvis", "thorax")
    for motion in ("axial_rotation", "lateral_flexion", "flexion")
]
HANDS = {"G01": "right", "G02": "left"}
ALL = list(product(DIALECTS, LABS, ("c3d", "csv")))
#: Each laboratory once, each dialect, both kinds of file.
SOME = list(zip(cycle(DIALECTS), LABS, cycle(("c3d", "csv"))))


@pytest.fixture(scope="module")
def swings() -> dict[str, simulate.Swing]:
    """One noise-free swing of a right-hander and one of a left-hander."""
    return {
        name: simulate.make_swing(simulate.make_golfer(name=name, hand=hand), seed=5, rate_hz=250.0, name=name,
                                  before_s=1.8, after_s=0.8)
        for name, hand in HANDS.items()
    }  # fmt: skip


def begun_and_measured(
    folder: Path, swings: dict[str, simulate.Swing], dialect: str, lab: Lab, kind: str
) -> pd.DataFrame:
    """begin, then measure; posture.csv's table, the swing renamed to the golfer."""
    for golfer, swing in swings.items():
        write_swing(folder / "captures" / golfer / f"t1.{kind}", swing.points, swing.hand, swing.rate_hz,
                    DIALECTS[dialect], lab)  # fmt: skip
    begin_study(folder)
    study = open_study(folder)
    assert (study.setup.up, study.setup.target) == (lab.up, lab.target)
    assert dict(zip(study.golfers["golfer"], study.golfers["hand"], strict=True)) == HANDS
    results = measure_study(study, workers=1)
    assert results.left_out.empty, results.left_out.to_string()
    return results.posture.assign(golfer=results.posture["swing"].str[:3])


def largest_error_deg(posture: pd.DataFrame, swings: dict[str, simulate.Swing]) -> float:
    """Largest difference of pelvis and thorax angles from the truth at the events both have."""
    truths = []
    for name, swing in swings.items():
        for event, values in swing.true_posture().items():
            truths += [(name, event, quantity, values[quantity]) for quantity in TRUNK]
    truth = pd.DataFrame(truths, columns=["golfer", "event", "quantity", "truth"])
    both = posture.merge(truth, on=["golfer", "event", "quantity"])
    assert len(both) >= 2 * len(TRUNK) * 10
    return float(np.nanmax((both["value"] - both["truth"]).abs()))


def check(tmp_path: Path, swings: dict[str, simulate.Swing], dialect: str, lab: Lab, kind: str) -> None:
    """The whole way for one dialect, laboratory and kind of file."""
    posture = begun_and_measured(tmp_path, swings, dialect, lab, kind)
    assert largest_error_deg(posture, swings) < 0.3


@pytest.mark.parametrize(("dialect", "lab", "kind"), SOME)
def test_axes_hands_and_angles(tmp_path: Path, swings: dict, dialect: str, lab: Lab, kind: str) -> None:
    """Truth: made. Axes and hands as the captures were made; pelvis and thorax within 0.3 deg of the true angles."""
    check(tmp_path, swings, dialect, lab, kind)


@pytest.mark.slow
@pytest.mark.parametrize(("dialect", "lab", "kind"), [one for one in ALL if one not in SOME])
def test_axes_hands_and_angles_in_every_combination(
    tmp_path: Path, swings: dict, dialect: str, lab: Lab, kind: str
) -> None:
    """Truth: made. Five dialects, seven laboratories, both hands, mm, cm and m, C3D and tables."""
    check(tmp_path, swings, dialect, lab, kind)
