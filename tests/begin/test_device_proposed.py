"""`begin` proposes [measured] from another device's table: columns, units, directions, rows; `check` shows them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from swinglab import simulate
from swinglab.begin import begin_study
from swinglab.study import check_folder, check_lines, open_study
from tests.begin.made_captures import DIALECTS, LABS, write_swing

RATE_HZ = 240.0
MPH, YARD = 0.44704, 0.9144
#: A device's values differ from the truth by this much (standard deviation): speed m/s, angles deg.
ERRORS = {"clubhead_speed_mps": 0.2, "attack_angle_deg": 0.2, "club_path_in_to_out_deg": 0.2}
#: Clubhead speed m/s, club path deg in-to-out, attack angle deg of seven swings.
AIMS = (
    (34, -1, -4),
    (36, 3, -3),
    (33, 1, -5),
    (35, -3, -4.5),
    (37, 2, -2),
    (34.5, 0, -3.5),
    (36.5, -2, -5.5),
)


@pytest.fixture(scope="module")
def swings() -> list[simulate.Swing]:
    """Seven swings of a left-hander with speeds, paths and attack angles of their own."""
    made = []
    for k, (speed, path, attack) in enumerate(AIMS):
        aim = simulate.Aim(clubhead_speed_mps=speed, club_path_in_to_out_deg=path, attack_angle_deg=attack)
        golfer = simulate.make_golfer(name="G01", hand="left", aim=aim)
        made.append(simulate.make_swing(golfer, seed=k, rate_hz=RATE_HZ, noise_m=0.0003, name="x", before_s=1.9,
                                        after_s=0.8))  # fmt: skip
    return made


def device_rows(swings: list[simulate.Swing]) -> pd.DataFrame:
    """What the device gives: mph, yards, right positive (a left-hander's in-to-out is to the left)."""
    rng = np.random.default_rng(8)
    truth = pd.DataFrame([one.true_strike for one in swings])
    seen = {name: truth[name] + rng.normal(0, sd, len(truth)) for name, sd in ERRORS.items()}
    return pd.DataFrame({
        "Club speed (mph)": seen["clubhead_speed_mps"] / MPH, "Attack angle": seen["attack_angle_deg"],
        "Club path [deg]": -seen["club_path_in_to_out_deg"], "Carry (yd)": 150 + rng.normal(0, 5, len(truth)),
        "Side (yd)": rng.normal(0, 5, len(truth)), "Smash": 1.4,
    }).round(2)  # fmt: skip


def study_of(folder: Path, swings: list[simulate.Swing]) -> Path:
    """Captures in one golfer's folder."""
    for k, one in enumerate(swings):
        write_swing(folder / "captures" / "G01" / f"shot_{k + 1:02d}.c3d", one.points, "left", RATE_HZ,
                    DIALECTS["gait"], LABS[0])  # fmt: skip
    return folder


def test_columns_units_directions_and_rows_are_proposed_and_agreement_is_shown(
    tmp_path: Path, swings: list[simulate.Swing]
) -> None:
    """Truth: made. Rows in the order of play, the first swing missed; the path's direction follows the captures;
    the device agrees with the kit's own strike within its error, for every outcome that both have."""
    study = study_of(tmp_path / "study", swings)
    device_rows(swings).iloc[1:].to_csv(study / "range day.csv", index=False, sep=";", decimal=",")
    begun = begin_study(study)
    words = "\n".join(begun.lines)
    assert "by order, because the speeds agree" in words
    opened = open_study(study)
    assert {one.name: (one.unit, one.positive) for one in opened.device.outcomes} == {
        "measured_clubhead_speed_mps": ("mph", ""), "measured_attack_angle_deg": ("deg", ""),
        "measured_carry_m": ("yd", ""), "measured_club_path_in_to_out_deg": ("deg", "right"),
        "measured_side_in_to_out_m": ("yd", "right")}  # fmt: skip
    truth = pd.DataFrame([one.true_strike for one in swings])
    for name, sd in ERRORS.items():
        off = opened.swings[f"measured_{name}"].to_numpy() - truth[name].to_numpy()
        assert np.isnan(off[0])
        assert np.abs(off[1:]).max() < 4 * sd
    found = check_folder(study, workers=1)
    shown = "\n".join(check_lines(found))
    assert "6 of 7 swings have a row; swings without a row: G01_001" in shown
    for label in ("Clubhead speed", "Attack angle", "Club path"):
        line = next(line for line in found.agreement if line.startswith(f"{label}, device minus kit: "))
        assert "(6 swings)" in line
        assert "check its positive direction" not in line
    before = {path.name: path.read_bytes() for path in study.iterdir() if path.is_file()}
    begin_study(study)
    assert {path.name: path.read_bytes() for path in study.iterdir() if path.is_file()} == before


def test_rows_by_the_captures_names_and_a_wrong_direction_is_questioned(
    tmp_path: Path, swings: list[simulate.Swing]
) -> None:
    """Truth: made. A column of file names; the header says the wrong side, which the agreement shows."""
    study = study_of(tmp_path / "study", swings)
    rows = device_rows(swings).rename(columns={"Club path [deg]": "Club path (left +)"})
    rows.insert(0, "File", [f"shot_{k + 1:02d}" for k in range(len(rows))])
    shuffled = rows.sample(frac=1, random_state=2)
    shuffled.loc[len(shuffled)] = ["Average", *shuffled.mean(numeric_only=True).round(2)]
    shuffled.to_csv(study / "device.csv", index=False)
    assert any("by the captures' names: 7 of 7" in line for line in begin_study(study).lines)
    found = check_folder(study, workers=1)
    assert found.study.swings["measured_clubhead_speed_mps"].to_numpy() == pytest.approx(
        rows["Club speed (mph)"].to_numpy() * MPH)  # fmt: skip
    assert "check the key positive of this outcome" in next(
        one for one in found.agreement if one.startswith("Club path")
    )
    assert any("rows that belong to no swing: 9" in note for note in found.study.notes)


def test_a_column_without_unit_or_direction_stays_open(tmp_path: Path, swings: list[simulate.Swing]) -> None:
    """Truth: made. Carry without a unit, a side without a direction: commented lines with the question; a row of units
    below the header is read; two tables that both hold outcomes are not chosen between."""
    study = study_of(tmp_path / "study", swings[:2])
    text = "Shot,Club speed,Attack angle,Carry,Launch direction,Toe\n,mph,deg,,,mm\n"
    text += "G01_001,80,-3,140,2,5\nG01_002,82,-4,150,1,4\n"
    (study / "device.csv").write_text(text, encoding="utf-8")
    begun = begin_study(study)
    assert not any("rows that belong to no swing" in line for line in begun.lines)
    assert any(line.startswith("  open: measured_carry_m from 'Carry'; the unit") for line in begun.lines)
    toml = (study / "study.toml").read_text(encoding="utf-8")
    assert '# positive = "right or left"' in toml
    opened = open_study(study)
    assert [one.name.removeprefix("measured_") for one in opened.device.outcomes] == [
        "clubhead_speed_mps", "attack_angle_deg", "impact_toward_toe_mm"]  # fmt: skip
    assert opened.device.swing == "Shot"
    assert opened.swings["measured_clubhead_speed_mps"].tolist() == pytest.approx([80 * MPH, 82 * MPH])
    other = study_of(tmp_path / "other", swings[:2])
    for name in ("a.csv", "b.csv"):
        (other / name).write_text(text, encoding="utf-8")
    assert any("a.csv and b.csv; put all rows into one table" in line for line in begin_study(other).lines)


def test_a_speed_without_a_unit_is_in_the_unit_of_the_captures(
    tmp_path: Path, swings: list[simulate.Swing]
) -> None:
    """Truth: made. km/h, which no header says."""
    study = study_of(tmp_path / "study", swings)
    rows = device_rows(swings)[["Club speed (mph)"]] * MPH * 3.6
    rows.rename(columns={"Club speed (mph)": "ClubSpeed"}).to_csv(study / "device.csv", index=False)
    begin_study(study)
    opened = open_study(study)
    assert opened.device.outcomes[0].unit == "km/h"
    assert opened.swings["measured_clubhead_speed_mps"].notna().all()
