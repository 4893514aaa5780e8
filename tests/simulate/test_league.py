"""A league of simulated golfers: as many as asked for, the same in every way of making it, and a study that opens."""

from concurrent.futures import ThreadPoolExecutor

import pandas as pd
import pytest

import swinglab as sl
from swinglab.errors import BadRequest
from swinglab.simulate import write_league


def contents(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


@pytest.fixture(scope="module")
def league(tmp_path_factory):
    return write_league(tmp_path_factory.mktemp("league"), golfers=3, swings=4, seed=5)


def test_same_numbers_same_bytes_wherever_it_is_made(league, tmp_path):
    """made: golfers drawn by their own seeds, so that the order in which they are made changes nothing."""
    with ThreadPoolExecutor(2) as executor:
        again = write_league(tmp_path / "again", golfers=3, swings=4, seed=5, executor=executor)
    assert contents(again) == contents(league)


def test_as_many_golfers_and_swings_as_asked_for(league):
    """made: every capture has its row, every row its truth, and the study opens without a fault."""
    study = sl.open_study(league)
    assert study.swings.groupby("golfer").size().tolist() == [4, 4, 4]
    assert {path.name for path in (league / "captures").iterdir()} == set(study.swings["capture"])
    strike = pd.read_csv(league / "truth" / "truth_strike.csv")
    assert strike["swing"].tolist() == study.swings["swing"].tolist()
    assert strike["attack_angle_deg"].between(-12, 4).all()


def test_no_golfers_is_refused(tmp_path):
    """made: nothing is written."""
    with pytest.raises(BadRequest, match="one golfer"):
        write_league(tmp_path / "none", golfers=0, swings=4)
    assert not (tmp_path / "none").exists()
