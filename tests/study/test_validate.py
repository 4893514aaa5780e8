"""`validate`: captures of a known placement error to the lines for [errors], validation.csv and the methods."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from swinglab import simulate
from swinglab.__main__ import main
from swinglab.errors import StudyFaults
from swinglab.study import Study, open_study

PLACEMENT_MM = 8.0
SESSIONS = ("s1", "s2", "s3")
ANGLES = ("pelvis_axial_rotation_deg", "pelvis_lateral_flexion_deg", "pelvis_flexion_deg")
SECTION = f"""
[validate]
sessions = ["s1", "s2", "s3"]
angles = {list(ANGLES)}
""".replace("'", '"')


def study_of(golfers: int, settings: str) -> tuple[simulate.SimulatedStudy, list[float]]:
    """Golfers captured in three sessions, two swings each, markers misplaced anew; variances of the angles, deg^2."""
    random = np.random.default_rng(11)
    disturbance = simulate.Disturbance(noise_mm=0.3, placement_mm=PLACEMENT_MM, soft_tissue_mm=0.0)
    swings, variances = [], []
    for number in range(golfers):
        golfer = simulate.make_golfer(name=f"G{number + 1:02d}", stature_m=1.68 + 0.03 * number)
        for turn, session in enumerate(SESSIONS):
            placement = simulate.draw_placement(random, disturbance)
            for k in range(2):
                offsets = {"thorax_lateral_flexion_deg": random.normal(0, 1.5)}
                seed = int(random.integers(2**31))
                made = simulate.make_swing(
                    golfer, offsets, seed=seed, rate_hz=150.0, name=f"{golfer.name}_{session}_{k}",
                    before_s=1.4, after_s=0.5,
                )  # fmt: skip
                cells = {
                    "session": session, "examiner": "E1" if turn != 1 else "E2",
                    "measured_attack_angle_deg": made.true_strike["attack_angle_deg"] - 0.7 + random.normal(0, 0.2),
                }  # fmt: skip
                swings.append(
                    simulate.StudySwing(simulate.disturb(made, disturbance, placement, seed=seed), cells)
                )
        variances.append(pelvis_variance(made))
    facts = {f"G{number + 1:02d}": {"group": "all"} for number in range(golfers)}
    return simulate.SimulatedStudy("Validation", swings, golfers=facts, settings=settings), variances


def pelvis_variance(swing: simulate.Swing) -> float:
    """Mean variance of the pelvis angles, deg^2, by first-order propagation of error of the ISB definition.

    Turn and side bend follow the line between the two ASIS, forward bend that from mid-PSIS to mid-ASIS.
    """
    left, right, back_left, back_right = (
        swing.exact[name][0] for name in ("asis_left", "asis_right", "psis_left", "psis_right")
    )
    width = np.linalg.norm(left - right)
    depth = np.linalg.norm((left + right - back_left - back_right) / 2)
    across, along = PLACEMENT_MM / 1000 * np.sqrt(2) / width, PLACEMENT_MM / 1000 / depth
    return float(np.rad2deg(1) ** 2 * (2 * across**2 + along**2) / 3)


@pytest.fixture(scope="module")
def validated(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, float]:
    """The folder, and the true standard deviation of placement in degrees."""
    folder = tmp_path_factory.mktemp("validate") / "study"
    made, variances = study_of(5, SECTION)
    simulate.write_study(folder, made)
    return folder, float(np.sqrt(np.mean(variances)))


@pytest.mark.slow
def test_a_known_placement_error_comes_back_in_lines_for_errors(
    validated: tuple[Path, float], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. Markers misplaced by 8 mm; the same lines pasted into study.toml are read as [errors]."""
    monkeypatch.setenv("SWINGLAB_NO_VENV", "1")
    folder, truth = validated
    assert main(["validate", str(folder), "--workers", "1"]) == 0
    shown = capsys.readouterr().out
    table = pd.read_csv(folder / "results" / "validation.csv")
    whole = table[table["what"] == "placement_deg"].iloc[0]
    assert whole["ci_low"] < truth < whole["ci_high"] and whole["ci_high"] < 2.5 * whole["ci_low"]
    assert (whole["golfers"], whole["n"]) == (5, 15) and whole["quantity"] == "; ".join(ANGLES)
    bias = table[(table["what"] == "device_bias") & (table["quantity"] == "attack_angle_deg")].iloc[0]
    assert abs(bias["estimate"] - 0.7) < 0.25 and bias["ci_low"] < bias["estimate"] < bias["ci_high"]
    assert {"examiner_bias", "examiner_icc", "placement_sd"} <= set(table["what"])
    lines = shown[shown.index("[errors]") : shown.index("results: ")]
    pasted = tomllib.loads(lines)["errors"]["placement_deg"]
    assert pasted == pytest.approx(whole["estimate"], abs=0.006)

    toml = folder / "study.toml"
    toml.write_text(toml.read_text(encoding="utf-8") + "\n" + lines, encoding="utf-8")
    assert open_study(folder).errors.placement_deg == pasted
    assert main(["study", str(folder), "--workers", "1"]) == 0
    methods = (folder / "results" / "methods.md").read_text(encoding="utf-8")
    assert "removed and placed again in 5 golfers (15 sessions)" in methods
    assert "kit minus device" in methods and "examiner E1 minus E2" in methods
    again = pd.read_csv(folder / "results" / "validation.csv")
    pd.testing.assert_frame_equal(table, again)

    capsys.readouterr()
    monkeypatch.setattr("swinglab.study.measure_study", lambda *a, **k: pytest.fail("it measured again"))
    assert main(["validate", str(folder)]) == 0
    assert "placement_deg = " in capsys.readouterr().out
    assert (folder / "results" / "report.html").is_file()


def with_section(folder: Path, section: str, **columns: str) -> Path:
    """The small study of conftest with a [validate] section, and columns of one value in swings.csv."""
    toml = folder / "study.toml"
    toml.write_text(toml.read_text(encoding="utf-8") + section, encoding="utf-8")
    table = pd.read_csv(folder / "swings.csv", dtype=str, keep_default_na=False).assign(**columns)
    table.to_csv(folder / "swings.csv", index=False)
    return folder


def test_names_that_are_not_there_are_faults_all_at_once(folder: Path) -> None:
    """Truth: made."""
    section = '[validate]\nsessions = ["day1", "dya1"]\nevent = "adress"\nangles = ["thorax_flexon_deg"]\n'
    with pytest.raises(StudyFaults) as fault:
        open_study(with_section(folder, section, session="day1"))
    words = str(fault.value)
    assert "[validate] sessions: there is no session dya1" in words and "similar names: day1" in words
    assert "[validate] event: there is no event adress" in words
    assert "[validate] angles: there is no angle thorax_flexon_deg" in words


def test_labels_are_read_as_names_and_examiners_stay_text(folder: Path) -> None:
    """Truth: made."""
    section = '[validate]\nsessions = ["day1"]\nevent = "delivery"\nangles = ["Thorax flexion"]\n'
    study: Study = open_study(with_section(folder, section, session="day1", examiner="1"))
    assert study.validation is not None
    assert (study.validation.event, study.validation.angles) == (
        "shaft_horizontal_down",
        ("thorax_flexion_deg",),
    )
    assert set(study.swings["examiner"]) == {"1"}


def test_without_the_section_nothing_is_measured(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. Exit code 2, and what to add."""
    monkeypatch.setenv("SWINGLAB_NO_VENV", "1")
    monkeypatch.setattr("swinglab.study.measure_study", lambda *a, **k: pytest.fail("it measured"))
    assert main(["validate", str(folder)]) == 2
    assert "the section [validate] is missing" in capsys.readouterr().err


@pytest.mark.slow
def test_too_few_sessions_say_so_and_write_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. One golfer with three sessions: two degrees of freedom; a device with one golfer."""
    monkeypatch.setenv("SWINGLAB_NO_VENV", "1")
    simulate.write_study(tmp_path / "study", study_of(1, SECTION)[0])
    assert main(["validate", str(tmp_path / "study"), "--workers", "1"]) == 2
    words = capsys.readouterr().err
    assert "1 golfer with 3 sessions: 2 repeated sessions, and 3 or more are needed" in words
    assert not (tmp_path / "study" / "results" / "validation.csv").exists()
