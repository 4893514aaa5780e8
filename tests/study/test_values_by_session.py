"""Values of a golfer that change from session to session, and golfers.csv or swings.csv as a spreadsheet."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
import pytest

from swinglab.errors import StudyFaults
from swinglab.study import measure_study, open_study
from tests.small_study import write_small_study

GOLFERS = """golfer,hand,group,handicap,mass_kg,session
{first},right,skilled,12,80,
{first},,,9,,late
{second},left,skilled,20,70,
"""


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small study, written once."""
    return write_small_study(tmp_path_factory.mktemp("small") / "study")


@pytest.fixture
def home(tmp_path: Path, small: Path) -> tuple[Path, str, str]:
    """A copy with two golfers; the first one's last swing is of the session "late"."""
    folder = Path(shutil.copytree(small, tmp_path / "study"))
    (folder / "study.toml").write_text('title = "t"\n[lab]\nup = "+Z"\ntarget = "+X"\n', encoding="utf-8")
    swings = pd.read_csv(folder / "swings.csv", dtype=str, keep_default_na=False)
    first, second = list(dict.fromkeys(swings["golfer"]))[:2]
    swings = swings[swings["golfer"].isin([first, second])].drop(columns="note")
    swings["session"] = "early"
    swings.loc[swings[swings["golfer"] == first].index[-1], "session"] = "late"
    swings.to_csv(folder / "swings.csv", index=False)
    (folder / "golfers.csv").write_text(GOLFERS.format(first=first, second=second), encoding="utf-8")
    return folder, first, second


def test_a_value_holds_in_its_session_and_the_golfers_own_elsewhere(home: tuple[Path, str, str]) -> None:
    """Truth: made. The handicap changes in one session, the mass (left empty there) in none."""
    folder, first, second = home
    study = open_study(folder)
    assert list(study.golfers["golfer"]) == [first, second]
    table = measure_study(study, workers=1).swings
    late = table["session"] == "late"
    assert table.loc[late, "handicap"].tolist() == [9.0]
    assert set(table.loc[~late & (table["golfer"] == first), "handicap"]) == {12.0}
    assert set(table.loc[table["golfer"] == second, "handicap"]) == {20.0}
    assert set(table.loc[table["golfer"] == first, "mass_kg"]) == {80.0}


def test_every_fault_of_such_rows_is_named(home: tuple[Path, str, str]) -> None:
    """Truth: made. A session of no swing, a golfer without an own row, another hand, a session twice."""
    folder, first, _ = home
    with (folder / "golfers.csv").open("a", encoding="utf-8") as file:
        file.write(f"G99,,,1,,early\n{first},left,,1,,lat\n{first},,,8,,late\n")
    with pytest.raises(StudyFaults) as caught:
        open_study(folder)
    for part in ("G99 has no row without a session", "no swing has the session lat", "similar names: late",
                 "cannot differ between sessions", "more than one row for the same session"):  # fmt: skip
        assert part in str(caught.value)


def test_golfers_and_swings_as_spreadsheets(home: tuple[Path, str, str]) -> None:
    """Truth: other. The same tables written by pandas as .xlsx give the same study."""
    folder, _, _ = home
    before = open_study(folder)
    for name in ("golfers", "swings"):
        pd.read_csv(folder / f"{name}.csv").to_excel(folder / f"{name}.xlsx", index=False)
        (folder / f"{name}.csv").unlink()
    after = open_study(folder)
    pd.testing.assert_frame_equal(after.golfers, before.golfers)
    pd.testing.assert_frame_equal(after.swings, before.swings)
