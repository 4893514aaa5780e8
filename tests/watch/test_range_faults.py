"""A session that meets a closed lid, a full disk, a table that comes later, and several players in a day."""

from __future__ import annotations

import json
import shutil
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from made_range import GOLFER, arrive

from swinglab.study import open_study
from swinglab.watch import RangeSession, arrivals, writing
from swinglab.watch import session as session_module
from swinglab.watch.view import view_of

DEVICE = """
[measured]
file = "device.csv"
swing = "Shot"
[measured.outcomes.attack_angle_deg]
column = "Attack"
unit = "deg"
positive = "up"
"""


def cells(home: Path) -> pd.DataFrame:
    """swings.csv as text, by swing."""
    return pd.read_csv(home / "swings.csv", dtype=str, keep_default_na=False).set_index("swing")


class Tomorrow(date):
    """A calendar one day on."""

    @classmethod
    def today(cls) -> date:
        """The day after the real one."""
        return date.fromordinal(date.today().toordinal() + 1)


def test_a_lid_closed_overnight_begins_another_session_and_midnight_does_not(
    home: Path, coming: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. The date changes at once and after ten hours; markers were put on again only then."""
    session = RangeSession(home, golfer=GOLFER)
    session.press("a")
    arrive(session, coming[0])
    monkeypatch.setattr(session_module, "date", Tomorrow)
    arrive(session, coming[2])
    today = cells(home)["session"]
    assert today["G01_1"] == today["G02_2"] == f"{GOLFER} {date.today().isoformat()}"
    session.standing.entered_s -= 10 * 3600
    arrive(session, coming[1])
    last = cells(home).loc["G01_2"]
    assert last["session"] == f"{GOLFER} {Tomorrow.today().isoformat()}"
    assert (last["order"], last["phase"]) == ("1", "")
    assert (
        "a new session was started, because the date has changed" in session.messages[-1]
        and view_of(session)["swings"] == 1
    )


def test_after_a_night_every_golfer_begins_another_session(
    home: Path, coming: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. Two golfers swing on two days. Before, the second golfer's swing went into yesterday's session."""
    session = RangeSession(home, golfer=GOLFER)
    arrive(session, coming[0])
    session.choose_golfer("G02")
    arrive(session, coming[2])
    monkeypatch.setattr(session_module, "date", Tomorrow)
    for standing in session._standings.values():
        standing.entered_s -= 20 * 3600
    for golfer in (GOLFER, "G02"):
        folder = home / "captures" / golfer
        folder.mkdir(exist_ok=True)
        content = coming[1].read_bytes() + golfer.encode()
        (folder / f"{golfer}_late.c3d").write_bytes(content)
        session.poll()
        assert session.poll() == [f"{golfer}_late"]
    days = cells(home)["session"]
    for golfer, first in ((GOLFER, "G01_1"), ("G02", "G02_2")):
        assert days[first] == f"{golfer} {date.today().isoformat()}"
        assert days[f"{golfer}_late"] == f"{golfer} {Tomorrow.today().isoformat()}"


def test_a_file_half_written_when_the_lid_closed_is_entered_when_it_is_whole(
    home: Path, coming: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. The clock jumps by eight hours between two looks."""
    session = RangeSession(home, golfer=GOLFER)
    path, content = home / "captures" / coming[0].name, coming[0].read_bytes()
    path.write_bytes(content[:4000])
    session.poll()
    clock = arrivals.time.monotonic
    monkeypatch.setattr(arrivals.time, "monotonic", lambda: clock() + 8 * 3600)
    assert session.poll() == [] and "no longer being written" in session.arrivals.refused[path]
    path.write_bytes(content)
    session.poll()
    assert session.poll() == ["G01_1"] and not session.arrivals.refused


def test_rows_of_another_device_that_come_later_are_shown(home: Path, coming: list[Path]) -> None:
    """Truth: made. The device's table has no row of the swing, then a half-written one, then its row."""
    settings = home / "study.toml"
    text = settings.read_text(encoding="utf-8").replace('"attack_angle_deg"', '"measured_attack_angle_deg"')
    settings.write_text(text + DEVICE, encoding="utf-8")
    table = home / "device.csv"
    table.write_text("Shot,Attack\nG01_0,-2.0\n", encoding="utf-8")
    session = RangeSession(home, golfer=GOLFER, every=1)
    arrive(session, coming[0])
    assert view_of(session)["outcome"]["value"] is None
    table.write_text("Shot,Att", encoding="utf-8")
    session.poll()
    assert "so the earlier version is still used" in session.messages[-1]
    table.write_text("Shot,Attack\nG01_0,-2.0\nG01_1,-4.3\n", encoding="utf-8")
    session.poll()
    assert view_of(session)["outcome"]["value"] == -4.3


def test_two_captures_at_once_are_both_entered(home: Path, coming: list[Path]) -> None:
    """Truth: made. Both copied between two looks; each has its own place in the order."""
    session = RangeSession(home, golfer=GOLFER)
    arrive(session, *coming[:2])
    table = cells(home).loc[["G01_1", "G01_2"]]
    assert sorted(table["order"]) == ["1", "2"] and view_of(session)["swings"] == 2


def test_marks_are_in_the_study_and_in_its_tables_after_a_kill(home: Path, coming: list[Path]) -> None:
    """Truth: made. A topped ball counts, a practice swing is left out with its reason; both are there after a kill."""
    session = RangeSession(home, golfer=GOLFER)
    session.press("b")
    arrive(session, coming[0])
    session.press("t")
    arrive(session, coming[1])
    session.press("p")
    again = RangeSession(home, golfer=GOLFER)
    assert again.standing.phase == "before" and view_of(again)["swings"] == 1
    again._changed_s = 0.0
    again.close()
    assert list(cells(home).loc[["G01_1", "G01_2"], "seen"]) == ["topped", ""]
    table = pd.read_csv(home / "results" / "swing_table.csv").set_index("swing")
    assert table.at["G01_1", "seen"] == "topped" and "G01_2" not in table.index
    left = pd.read_csv(home / "results" / "left_out.csv").set_index("swing")
    assert "practice swing" in left.at["G01_2", "what"]


def test_before_and_after_are_never_in_one_number(home: Path, coming: list[Path]) -> None:
    """Truth: made. A block of two that crosses the phases is no block; mean and number are those of the phase."""
    session = RangeSession(home, golfer=GOLFER, every=2)
    session.press("b")
    arrive(session, coming[0])
    session.press("a")
    arrive(session, coming[1])
    view = view_of(session)
    assert (view["posture"]["value"], view["posture"]["n"], view["own"]) == (
        None,
        1,
        "all swings, phase after",
    )
    assert view["shown"] == "" and view["until_next"] == 1 and len(view["dots"]) == 2


def test_another_players_capture_is_left_out_by_one_key(home: Path, coming: list[Path]) -> None:
    """Truth: made. G02's capture entered as G01's: the reason stands in swings.csv, and undo brings it back."""
    session = RangeSession(home, golfer=GOLFER)
    arrive(session, coming[2])
    session.press("x")
    assert cells(home).at["G02_2", "exclude"] == "another player's capture"
    session.press("u")
    assert cells(home).at["G02_2", "exclude"] == ""


def test_another_club_is_written_and_taken_back(home: Path, coming: list[Path]) -> None:
    """Truth: made. The phase brings another club; the club has a key of its own; undo brings both back."""
    table = pd.read_csv(home / "swings.csv", dtype=str, keep_default_na=False).assign(club="7 iron")
    table.to_csv(home / "swings.csv", index=False)
    session = RangeSession(home, golfer=GOLFER)
    session.press("b")
    session.press("c")
    arrive(session, coming[0])
    assert tuple(cells(home).loc["G01_1", ["phase", "club"]]) == ("other club", "another club")
    session.press("g")
    assert session.standing.club == "7 iron"
    session.press("u")
    session.press("u")
    assert (session.standing.phase, session.standing.club) == ("before", "7 iron")


def test_a_first_swing_that_is_refused_says_why(home: Path, coming: list[Path]) -> None:
    """Truth: made. The first capture of the day has no frame of the club: nothing else is there to show."""
    session = RangeSession(home, golfer=GOLFER)
    shutil.copy(coming[0], home / "captures" / coming[0].name)
    text = (home / "study.toml").read_text(encoding="utf-8")
    (home / "study.toml").write_text(
        text.replace('up = "', 'up = "-', 1).replace('"-+', '"-', 1), encoding="utf-8"
    )
    session.poll()
    session.poll()
    view = view_of(session)
    assert view["last"]["swing"] == "G01_1" and view["swings"] == 0 and view["last"]["problems"]


def test_nothing_of_a_player_is_on_another_players_page(home: Path, coming: list[Path]) -> None:
    """Truth: made. G02's capture, its copy, a damaged one, marks and an undo: G01's page names none of it."""
    session = RangeSession(home, golfer=GOLFER)
    session.press("a")
    arrive(session, coming[0])
    own = view_of(session)
    folder = home / "captures" / "G02"
    folder.mkdir()
    for name in ("today.c3d", "today, a copy.c3d"):
        shutil.copy(coming[2], folder / name)
    (folder / "damaged of G02.c3d").write_bytes(coming[2].read_bytes()[:3000])
    arrive(session)
    session.press("2")
    session.press("b")
    session.press("m")
    theirs = view_of(session)
    assert theirs["last"]["swing"] == "today" and len(theirs["waiting"]) + len(theirs["refused"]) == 2
    assert {dot["swing"] for dot in theirs["dots"]} == {"today"} and "G01_1" not in json.dumps(theirs)
    session.press("1")
    back = view_of(session)
    assert "today" not in json.dumps(back) and "damaged" not in json.dumps(back)
    assert {name: back[name] for name in ("phase", "last", "dots", "messages")} == {
        name: own[name] for name in ("phase", "last", "dots", "messages")
    }
    session.press("u")
    assert session.standing.phase == "" and cells(home).at["today", "seen"] == "mishit"
    assert cells(home).at["today", "phase"] == ""  # entered before G02's phase was set, not in G01's


def test_results_that_cannot_be_written_are_written_later(
    home: Path, coming: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. A full disk while results are written: a message, and the results when there is room."""
    session = RangeSession(home, golfer=GOLFER)
    arrive(session, coming[0])

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(writing, "write_results", full)
        session.close()
    assert "No space left" in session.messages[-1] and not (home / "results").exists()
    session.close()
    assert "G01_1" in (home / "results" / "swing_table.csv").read_text(encoding="utf-8")


def test_a_capture_interrupts_the_writing_of_results(home: Path, coming: list[Path]) -> None:
    """Truth: made. The writer gives way to a capture and begins again."""
    session = RangeSession(home, golfer=GOLFER)
    arrive(session, coming[0])
    session._writer.give_way()
    session._writer._work(open_study(home))
    assert session._writer.take() == (None, "") and not (home / "results").exists()
    session.close()
    assert (home / "results" / "swing_table.csv").exists()
