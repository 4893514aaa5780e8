"""The swing player in a plain page, by mouse and by keyboard alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_figures import EVENT_TIMES, RATE_HZ, made_events, made_posture, made_trial

from swinglab.figures.viewer import player_element, player_head, swing_frames


@pytest.fixture
def player(page, tmp_path: Path):
    """A page with one swing (a left-hander's, with a quantity) and a pair; the first player's root."""
    swings = []
    for name, hand, phase in (("a", "left", 0.0), ("b", "right", 0.2)):
        trial = made_trial(name, hand=hand, phase=phase)
        swings.append(
            swing_frames(
                trial, made_posture(trial), made_events(trial), quantity="thorax_lateral_flexion_deg"
            )
        )
    file = tmp_path / "page.html"
    text = f"<!doctype html><meta charset='utf-8'>{player_element(swings[:1])}{player_element(swings)}{player_head()}"
    file.write_text(text, encoding="utf-8")
    page.goto(file.as_uri())
    page.wait_for_selector(".swinglab-player canvas")
    return page.locator(".swinglab-player").first


def moment(player) -> float:
    """Seconds from impact that the player shows."""
    return float(player.get_attribute("data-moment"))


def picture(player) -> str:
    """The drawn picture, to see whether it changed."""
    return player.locator("canvas").evaluate("canvas => canvas.toDataURL()")


def test_it_opens_at_address_and_says_where_it_is(player) -> None:
    """Truth: made."""
    assert moment(player) == pytest.approx(EVENT_TIMES["address"] - EVENT_TIMES["impact"], abs=1e-3)
    words = player.locator("output").inner_text()
    assert words.startswith("1.250 s before impact (address); Thorax lateral flexion: 20.0 deg")


def test_the_keyboard_alone_is_enough(player) -> None:
    """Truth: made. Reached by Tab; steps, events, ends, views, turning, playing."""
    page = player.page
    for _ in range(10):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.tagName") == "CANVAS":
            break
    assert page.evaluate("document.activeElement.tagName") == "CANVAS"
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    start = moment(player)
    page.keyboard.press("ArrowRight")
    assert moment(player) == pytest.approx(start + 1 / RATE_HZ, abs=1e-3)
    for name in ("takeaway", "top", "shaft_horizontal_down", "impact"):
        page.keyboard.press("PageDown")
        assert moment(player) == pytest.approx(EVENT_TIMES[name] - EVENT_TIMES["impact"], abs=1e-3)
    page.keyboard.press("PageUp")
    assert moment(player) < -0.05
    page.keyboard.press("2")
    assert player.get_attribute("data-view") == "90.0 0.0"
    page.keyboard.press("Shift+ArrowUp")
    assert player.get_attribute("data-view") == "90.0 10.0"
    page.keyboard.press("Home")
    assert moment(player) == pytest.approx(-EVENT_TIMES["impact"], abs=1e-3)
    page.keyboard.press("Space")
    page.wait_for_function("Number(document.querySelector('.swinglab-player').dataset.moment) > -1.7")
    page.keyboard.press("Space")
    stopped = moment(player)
    page.wait_for_timeout(100)
    assert moment(player) == stopped


def test_dragging_turns_and_the_slider_scrubs(player) -> None:
    """Truth: made."""
    before = picture(player)
    box = player.locator("canvas").bounding_box()
    mouse = player.page.mouse
    mouse.move(box["x"] + 300, box["y"] + 200)
    mouse.down()
    mouse.move(box["x"] + 200, box["y"] + 240, steps=4)
    mouse.up()
    assert player.get_attribute("data-view") == "50.0 20.0"
    assert picture(player) != before
    rail = player.locator("input[type=range]").bounding_box()
    mouse.click(rail["x"] + rail["width"] / 2, rail["y"] + rail["height"] / 2)
    middle = 599 / RATE_HZ / 2 - EVENT_TIMES["impact"]
    assert moment(player) == pytest.approx(middle, abs=0.05)


def test_a_left_hander_is_shown_mirrored_or_as_swung(player) -> None:
    """Truth: made. As swung is the mirror image: twice back is the same picture."""
    box = player.get_by_label("left-handers as they swung")
    before = picture(player)
    box.check()
    assert picture(player) != before
    box.uncheck()
    assert picture(player) == before


def test_two_swings_stand_side_by_side_or_over_each_other_at_an_event(player) -> None:
    """Truth: made. Another event to meet at leaves the first swing where it is."""
    pair = player.page.locator(".swinglab-player").nth(1)
    before = picture(pair)
    pair.get_by_label("Two swings").select_option("over")
    assert picture(pair) != before
    pair.get_by_label("Go to event").select_option("top")
    assert moment(pair) == pytest.approx(EVENT_TIMES["top"] - EVENT_TIMES["impact"], abs=1e-3)
    pair.get_by_label("together in time at").select_option("top")
    assert moment(pair) == pytest.approx(0.0, abs=1e-3)
    assert "a: 20.0 deg, b: 20.0 deg" in pair.locator("output").inner_text()


def test_it_draws_thirty_frames_a_second_with_45_landmarks_and_600_frames(player) -> None:
    """Truth: made. What is counted are the pictures drawn while it plays."""
    player.get_by_label("Speed").select_option("0.1")
    count = """() => Number(document.querySelector('.swinglab-player').dataset.drawn)"""
    player.get_by_role("button", name="Play").click()
    before = player.page.evaluate(count)
    started = player.page.evaluate("performance.now()")
    player.page.wait_for_timeout(2000)
    drawn = player.page.evaluate(count) - before
    rate = 1000 * drawn / (player.page.evaluate("performance.now()") - started)
    print(f"{rate:.0f} pictures a second")
    assert rate >= 30
