"""A session of forty swings in two phases, by keyboard alone, as a coach beside the mat would do it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

import pandas as pd
import pytest

from swinglab import shipped_folder
from swinglab.study import open_study
from swinglab.watch import RangeSession, arrivals
from swinglab.watch.server import SessionServer

SWINGS = 40
#: A new swing must be on the page after so many seconds of an idle machine; here two processes share it.
LONGEST_S = 30.0


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SessionServer]:
    """The demo's golfer G07 with a few swings, served; the other captures arrive during the test."""
    monkeypatch.setattr(arrivals, "SETTLED_S", 0.2)
    demo, home = shipped_folder("data_demo"), tmp_path / "a range"
    (home / "captures").mkdir(parents=True)
    for name in ("study.toml", "golfers.csv"):
        shutil.copy(demo / name, home / name)
    swings = pd.read_csv(demo / "swings.csv", dtype=str, keep_default_na=False)
    first = swings[swings["golfer"] == "G09"].iloc[:2]
    first = pd.concat([first, swings[swings["golfer"] == "G07"].iloc[:1]]).assign(phase="earlier")
    first.to_csv(home / "swings.csv", index=False)
    for name in first["capture"]:
        shutil.copy(demo / "captures" / name, home / "captures" / name)
    serving = SessionServer(RangeSession(home, golfer="G07"))
    serving.start()
    yield serving
    serving.stop()


def shows(page, place: str, text: str) -> None:
    """Wait until a part of the page holds a text. The page's policy forbids scripts of a test."""
    page.locator(place, has_text=text).wait_for(timeout=1000 * LONGEST_S)


@pytest.mark.slow
def test_a_session_of_forty_swings_by_keyboard_alone(page, session: SessionServer) -> None:
    """Truth: made. Phases, marks and undo as pressed; every swing on the page, none lost or doubled."""
    demo, home = shipped_folder("data_demo") / "captures", session.session.folder
    coming = sorted(demo.glob("G07_nov_*.c3d"))[1 : SWINGS + 1]
    page.goto(session.address)
    shows(page, "#who", "G07")
    page.keyboard.press("b")
    for number, file in enumerate(coming, start=1):
        if number == SWINGS // 2 + 1:
            page.keyboard.press("a")
            shows(page, "#who", "after")
        shutil.copy(file, home / "captures" / file.name)
        shows(page, "#posture-own", f"{(number - 1) % (SWINGS // 2) + 1} swing")
    page.keyboard.press("t")
    page.keyboard.press("u")
    page.keyboard.press("m")
    shows(page, "#messages", "mishit")
    page.wait_for_selector("#swing canvas")
    assert "at delivery; " in page.locator("#swing").inner_text()  # it opens at the question's event
    assert page.locator("#strip path").count() == SWINGS + 2  # a mark a swing, and two in the key
    assert "no verdict yet" in page.locator("#progress").inner_text()  # 40 are planned after the lesson
    page.keyboard.press("w")
    shows(page, "#season", "Next session")
    assert "kept on another day" in page.locator("#season").inner_text()
    page.keyboard.press("w")
    page.locator("#season").wait_for(state="hidden")
    swings = open_study(home).swings
    today = swings[swings["session"] == session.session.session]
    assert list(today["phase"]) == ["before"] * (SWINGS // 2) + ["after"] * (SWINGS // 2)
    assert list(today["order"]) == list(range(1, SWINGS + 1))
    assert list(today["seen"])[-1] == "mishit" and set(today["seen"].iloc[:-1]) == {""}


def box_of(element) -> dict | None:
    """Where an element is on the page."""
    return element.bounding_box()


def overlap(one: dict, other: dict) -> bool:
    """Whether two places on the page share a point."""
    return all(
        one[start] < other[start] + other[size] and other[start] < one[start] + one[size]
        for start, size in (("x", "width"), ("y", "height"))
    )


@pytest.mark.parametrize("width", [1400, 390])
def test_the_page_fits_and_its_number_can_be_read_from_afar(page, session: SessionServer, width: int) -> None:
    """Truth: made. Nothing beyond the right edge; the number is at least 60 pixels high on a laptop; no two words of
    the strip lie on each other, with two phases in its key."""
    page.set_viewport_size({"width": width, "height": 850})
    demo = shipped_folder("data_demo") / "captures"
    page.goto(session.address)
    page.keyboard.press("s")
    for key, phase, name in (("b", "before", "G07_nov_02.c3d"), ("a", "after", "G07_nov_03.c3d")):
        page.keyboard.press(key)
        shows(page, "#who", phase)
        shutil.copy(demo / name, session.session.folder / "captures")
        shows(page, "#strip", phase)
    shows(page, "#posture-value", "deg")
    words = [box_of(one) for one in page.locator("#strip text").all()]
    assert len(words) >= 5
    assert not any(overlap(one, other) for one, other in combinations(words, 2))
    assert page.locator("main").bounding_box()["width"] <= width
    assert all(
        box["x"] + box["width"] <= width for box in map(box_of, page.locator("main *:visible").all()) if box
    )
    assert page.locator("#posture-value").bounding_box()["height"] >= (120 if width > 1000 else 60)
    if width > 1000:  # capitals of 30 px on a screen 34 cm wide are 5 mm high: 6 minutes of arc at 3 m
        for place in ("#who", "#posture-aim", "#progress"):
            assert float(page.locator(place).evaluate("one => getComputedStyle(one).fontSize")[:-2]) >= 30
