"""The swing viewer in a plain page, by mouse and by keyboard alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_figures import EVENT_TIMES, RATE_HZ, made_events, made_posture, made_trial

from swinglab.figures.viewer import swing_frames, viewer_element, viewer_head


@pytest.fixture
def viewer(page, tmp_path: Path):
    """A page with one swing (a left-hander's, with a quantity) and a pair; the first viewer's root."""
    swings = []
    for name, hand, phase in (("a", "left", 0.0), ("b", "right", 0.2)):
        trial = made_trial(name, hand=hand, phase=phase)
        swings.append(
            swing_frames(
                trial, made_posture(trial), made_events(trial), quantity="thorax_lateral_flexion_deg"
            )
        )
    file = tmp_path / "page.html"
    text = f"<!doctype html><meta charset='utf-8'>{viewer_element(swings[:1])}{viewer_element(swings)}{viewer_head()}"
    file.write_text(text, encoding="utf-8")
    page.goto(file.as_uri())
    page.wait_for_selector(".swinglab-viewer canvas")
    return page.locator(".swinglab-viewer").first


#: Pictures a second while a swing plays; 50 and more are drawn on two idle cores, fewer beside other work.
SLOWEST_PLAYING = 15
COUNT_PICTURES = """async (seconds) => {
  const root = document.querySelector('.swinglab-viewer');
  let [drawn, last, turns] = [0, '', 0];
  const until = performance.now() + 1000 * seconds;
  while (performance.now() < until) {
    await new Promise(requestAnimationFrame);
    turns += 1;
    if (root.dataset.moment !== last) [drawn, last] = [drawn + 1, root.dataset.moment];
  }
  return [drawn / seconds, turns / seconds];
}"""


def moment(viewer) -> float:
    """Seconds from impact that the viewer shows."""
    return float(viewer.get_attribute("data-moment"))


def picture(viewer) -> str:
    """The drawn picture, to see whether it changed."""
    return viewer.locator("canvas").evaluate("canvas => canvas.toDataURL()")


def test_it_opens_at_address_and_says_where_it_is(viewer) -> None:
    """Truth: made."""
    assert moment(viewer) == pytest.approx(EVENT_TIMES["address"] - EVENT_TIMES["impact"], abs=1e-3)
    words = viewer.locator("output").inner_text()
    assert words.startswith("1.250 s before impact (address); Thorax lateral flexion: 20.0 deg")


def test_the_keyboard_alone_is_enough(viewer) -> None:
    """Truth: made. Reached by Tab; steps, events, ends, views, turning, playing."""
    page = viewer.page
    for _ in range(10):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.tagName") == "CANVAS":
            break
    assert page.evaluate("document.activeElement.tagName") == "CANVAS"
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    start = moment(viewer)
    page.keyboard.press("ArrowRight")
    assert moment(viewer) == pytest.approx(start + 1 / RATE_HZ, abs=1e-3)
    for name in ("takeaway", "top", "shaft_horizontal_down", "impact"):
        page.keyboard.press("PageDown")
        assert moment(viewer) == pytest.approx(EVENT_TIMES[name] - EVENT_TIMES["impact"], abs=1e-3)
    page.keyboard.press("PageUp")
    assert moment(viewer) < -0.05
    page.keyboard.press("2")
    assert viewer.get_attribute("data-view") == "90.0 0.0"
    page.keyboard.press("Shift+ArrowUp")
    assert viewer.get_attribute("data-view") == "90.0 10.0"
    page.keyboard.press("Home")
    assert moment(viewer) == pytest.approx(-EVENT_TIMES["impact"], abs=1e-3)
    page.keyboard.press("Space")
    page.wait_for_function("Number(document.querySelector('.swinglab-viewer').dataset.moment) > -1.7")
    page.keyboard.press("Space")
    stopped = moment(viewer)
    page.wait_for_timeout(100)
    assert moment(viewer) == stopped


def test_a_swing_plays_smoothly(viewer) -> None:
    """Truth: made. Pictures of different moments a second while a swing plays."""
    viewer.locator("canvas").focus()
    viewer.page.keyboard.press("Space")
    drawn, turns = viewer.page.evaluate(COUNT_PICTURES, 1.5)
    print(f"{drawn:.0f} pictures a second; the browser offered {turns:.0f}")
    assert drawn >= SLOWEST_PLAYING


def test_dragging_turns_and_the_slider_scrubs(viewer) -> None:
    """Truth: made."""
    before = picture(viewer)
    box = viewer.locator("canvas").bounding_box()
    mouse = viewer.page.mouse
    mouse.move(box["x"] + 300, box["y"] + 200)
    mouse.down()
    mouse.move(box["x"] + 200, box["y"] + 240, steps=4)
    mouse.up()
    assert viewer.get_attribute("data-view") == "50.0 20.0"
    assert picture(viewer) != before
    rail = viewer.locator("input[type=range]").bounding_box()
    mouse.click(rail["x"] + rail["width"] / 2, rail["y"] + rail["height"] / 2)
    middle = 599 / RATE_HZ / 2 - EVENT_TIMES["impact"]
    assert moment(viewer) == pytest.approx(middle, abs=0.05)


def test_keys_work_anywhere_in_the_viewer_after_any_click(viewer) -> None:
    """Truth: made. Arrows after Play, page down after the slider, keys after a choice from a list."""
    keys = viewer.page.keyboard
    viewer.get_by_role("button", name="Play").click()
    viewer.get_by_role("button", name="Pause").click()
    before = moment(viewer)
    keys.press("ArrowRight")
    assert moment(viewer) == pytest.approx(before + 1 / RATE_HZ, abs=1e-3)
    rail = viewer.locator("input[type=range]").bounding_box()
    viewer.page.mouse.click(rail["x"] + 0.3 * rail["width"], rail["y"] + rail["height"] / 2)
    before = moment(viewer)
    keys.press("PageDown")
    assert moment(viewer) > before
    keys.press("PageDown")
    twice = moment(viewer)
    assert twice > before
    viewer.get_by_label("Speed").select_option("0.1")
    keys.press("ArrowLeft")
    assert moment(viewer) == pytest.approx(twice - 1 / RATE_HZ, abs=1e-3)


def test_a_left_hander_is_shown_as_swung_and_mirrored_where_asked(viewer) -> None:
    """Truth: made. Mirrored is another picture; twice is the first one again."""
    box = viewer.get_by_label("mirror left-handers")
    assert not box.is_checked()
    before = picture(viewer)
    box.check()
    assert picture(viewer) != before
    box.uncheck()
    assert picture(viewer) == before


def test_zoom_to_the_body_draws_it_larger(viewer) -> None:
    """Truth: made. Pixels a metre: more for the body alone than for body, club and ball; plus and minus change it."""
    viewer.get_by_role("button", name="above").click()
    whole = float(viewer.get_attribute("data-scale"))
    viewer.get_by_role("button", name="body only").click()
    body = float(viewer.get_attribute("data-scale"))
    assert body > whole
    viewer.page.keyboard.press("+")
    assert float(viewer.get_attribute("data-scale")) == pytest.approx(1.15 * body, rel=1e-3)


def test_two_swings_stand_side_by_side_or_over_each_other_at_an_event(viewer) -> None:
    """Truth: made. Another event to align at leaves the first swing where it is; the difference is stated."""
    pair = viewer.page.locator(".swinglab-viewer").nth(1)
    before = picture(pair)
    pair.get_by_label("Two swings").select_option("over")
    assert picture(pair) != before
    pair.get_by_label("Go to event").select_option("top")
    assert moment(pair) == pytest.approx(EVENT_TIMES["top"] - EVENT_TIMES["impact"], abs=1e-3)
    pair.get_by_label("aligned in time at").select_option("top")
    assert moment(pair) == pytest.approx(0.0, abs=1e-3)
    assert "a: 20.0 deg, b: 20.0 deg, difference: 0.0 deg" in pair.locator("output").inner_text()


@pytest.mark.parametrize(
    ("button", "starts", "ending"),
    [
        ("Picture (PNG)", b"\x89PNG", "png"),
        ("Picture (SVG)", b"<svg", "svg"),
        ("Clip (WebM)", b"\x1aE\xdf\xa3", "webm"),
    ],
)
@pytest.mark.parametrize("way", ["mouse", "keyboard"])
def test_pictures_and_a_clip_are_saved(viewer, button: str, starts: bytes, ending: str, way: str) -> None:
    """Truth: other (the signatures of the file formats). Made in the browser, named by the swing."""
    viewer.get_by_label("Speed").select_option("1")
    with viewer.page.expect_download() as waiting:
        if way == "mouse":
            viewer.get_by_role("button", name=button).click()
        else:
            viewer.get_by_role("button", name=button).focus()
            viewer.page.keyboard.press("Enter")
    download = waiting.value
    assert download.suggested_filename == f"a.{ending}"
    assert Path(download.path()).read_bytes().startswith(starts)


def test_it_draws_thirty_frames_a_second_with_45_landmarks_and_600_frames(viewer) -> None:
    """Truth: made. What is counted are the pictures drawn while it plays."""
    viewer.get_by_label("Speed").select_option("0.1")
    count = """() => Number(document.querySelector('.swinglab-viewer').dataset.drawn)"""
    viewer.get_by_role("button", name="Play").click()
    before = viewer.page.evaluate(count)
    started = viewer.page.evaluate("performance.now()")
    viewer.page.wait_for_timeout(2000)
    drawn = viewer.page.evaluate(count) - before
    rate = 1000 * drawn / (viewer.page.evaluate("performance.now()") - started)
    print(f"{rate:.0f} pictures a second")
    assert rate >= 30
