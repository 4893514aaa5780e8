"""Usual mistakes are found by `check` and by `measure`, in the same words, with the setting to look at."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from gate.mistakes import MISTAKES, Mistake, write_mistake

from swinglab.__main__ import main
from swinglab.study import measure_study, measure_swing_again, open_study

#: In the quick suite; the others, of the same kinds, are marked slow.
QUICK = {
    "up reversed",
    "target across",
    "left-hander entered as right",
    "one file in m",
    "ASIS labels exchanged",
    "missing golfer",
    "times in milliseconds",
    "practice swing",
    "another golfer's capture",
}


def cases() -> list:
    return [
        pytest.param(one, id=one.name, marks=() if one.name in QUICK else pytest.mark.slow)
        for one in MISTAKES
    ]


@pytest.mark.parametrize("mistake", cases())
def test_a_usual_mistake_is_found(
    mistake: Mistake, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Truth: made. An independent construction (sticks), with the mistakes and the words written down first."""
    folder = write_mistake(tmp_path / "study", mistake)
    assert main(["check", str(folder)]) == mistake.check
    checked = "".join(capsys.readouterr())
    assert [word for word in mistake.words if word not in checked] == []
    code = main(["measure", str(folder), "--workers", "1"])
    assert (code > 0) == (mistake.check > 0) or mistake.name == "damaged file"
    measured = "".join(capsys.readouterr())
    assert [word for word in mistake.words if word not in measured] == []


def test_the_right_study_raises_no_doubt(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Truth: made. Both hands, nothing said."""
    folder = write_mistake(tmp_path / "study")
    assert main(["check", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "doubtful" not in said and "impossible" not in said and "4 of 4 captures can be measured" in said


def test_an_accepted_doubt_is_silent_and_its_reason_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Truth: made. [[accept]] takes a doubt off the console; gate.csv and quality.csv keep it with the reason."""
    mistake = next(one for one in MISTAKES if one.name == "another golfer's capture")
    folder = write_mistake(tmp_path / "study", mistake)
    with (folder / "study.toml").open("a", encoding="utf-8") as file:
        file.write('[[accept]]\nswing = "S4"\ncheck = "same_lengths"\nreason = "a new set of markers"\n')
        file.write('[[accept]]\nswing = "S3"\ncheck = "same_lengths"\nreason = "a new set of markers"\n')
    assert main(["measure", str(folder), "--workers", "1"]) == 0
    assert "same_lengths" not in capsys.readouterr().out
    gate = (folder / "results" / "gate.csv").read_text(encoding="utf-8")
    assert gate.count("a new set of markers") == 2 and "doubtful" not in gate
    assert "accepted" in (folder / "results" / "quality.csv").read_text(encoding="utf-8")


def test_a_swing_measured_again_keeps_its_comparison_of_lengths(tmp_path: Path) -> None:
    """Truth: made. An event set by hand changes no length: the doubt about another golfer's capture stays."""
    mistake = next(one for one in MISTAKES if one.name == "another golfer's capture")
    study = open_study(write_mistake(tmp_path / "study", mistake))
    results = measure_study(study, workers=1)
    again = measure_swing_again(study, results, "S4")
    columns = ["swing", "check", "verdict", "what", "value"]
    before, after = (one.gate[columns].sort_values(columns[:2]) for one in (results, again))
    assert "same_lengths" in set(before["check"])
    pd.testing.assert_frame_equal(before.reset_index(drop=True), after.reset_index(drop=True))
    assert again.quality["doubts"].tolist() == results.quality["doubts"].tolist()
