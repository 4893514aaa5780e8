"""From a mark to its swing, its exclusion, events, folders and pictures in the notebooks: by mouse and by keyboard."""

from __future__ import annotations

import re
from pathlib import Path

import pandas as pd
import pytest
from jupyter_lab import MOST_TABS, Lab, chooser, no_fault, open_and_wait, tab_to

from swinglab.conventions import EVENT_LABELS

VIEWER = ".swinglab-viewer canvas"
FIGURE = ".swinglab-points"
EXCLUDED = "excluded_by_hand.csv"
TOP = EVENT_LABELS["top"]


def first_mark(page) -> tuple[str, float, float]:
    """Swing and place on the page of the first mark of the first figure."""
    figure = page.locator(FIGURE).first
    figure.scroll_into_view_if_needed()
    figure.press("ArrowRight")
    swing = figure.get_attribute("data-swing")
    box = figure.locator(".ring").bounding_box()
    figure.press("Escape")
    return swing, box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def tab_to_viewer(page, *, back: bool = False) -> None:
    """Press Tab until the focus is on the swing viewer's picture; backward where it lies above."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Shift+Tab" if back else "Tab")
        if page.evaluate(f"document.activeElement.matches('{VIEWER}')"):
            return
    raise AssertionError("the swing viewer was not reached")


def saved(page, act) -> bytes:
    """The file that a press hands over."""
    with page.expect_download() as waiting:
        act()
    return Path(waiting.value.path()).read_bytes()


def test_a_click_on_a_mark_shows_its_swing_and_excludes_it(page, lab: Lab) -> None:
    """Truth: made. By mouse: swing shown at the event, excluded with a reason, included again; a PNG; inches."""
    open_and_wait(page, lab, "05_test_a_hunch.ipynb", way="doc", wait_for=FIGURE)
    swing, x, y = first_mark(page)
    page.mouse.click(x, y)
    page.wait_for_selector(f"text=Swing {swing}, golfer {swing[:3]}")
    page.get_by_label("Reason").fill("a marker fell off")
    page.get_by_role("button", name="Exclude this swing").click()
    page.wait_for_selector(f"text=Swing {swing} is excluded from every answer")
    kept = pd.read_csv(lab.study / EXCLUDED)
    assert kept[["swing", "reason"]].values.tolist() == [[swing, "a marker fell off"]]
    page.get_by_role("button", name="Include it again").click()
    page.wait_for_selector(f"text=Swing {swing} is included again")
    assert not (lab.study / EXCLUDED).exists() or pd.read_csv(lab.study / EXCLUDED).empty
    assert saved(page, page.get_by_role("button", name="Picture (PNG)").first.click).startswith(b"\x89PNG")
    chooser(page, "Question").select_option(label="a question of your own")
    chooser(page, "goes with").select_option(label="Low point ahead of the ball (cm)")
    page.wait_for_selector("text=in inches:")
    no_fault(page)


def test_a_mark_is_reached_and_its_swing_excluded_by_keyboard(page, lab: Lab) -> None:
    """Truth: made. Arrow keys and Enter on the figure; no exclusion without a reason; an SVG."""
    open_and_wait(page, lab, "05_test_a_hunch.ipynb", way="doc", wait_for=FIGURE)
    tab_to(page, "Question")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate(f"document.activeElement.matches('{FIGURE}')"):
            break
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    swing = page.evaluate("document.activeElement.dataset.swing")
    page.keyboard.press("Enter")
    page.wait_for_selector(f"text=Swing {swing}, golfer {swing[:3]}")
    tab_to(page, "Picture (SVG)")
    assert saved(page, lambda: page.keyboard.press("Enter")).lstrip().startswith(b"<?xml")
    tab_to(page, "Exclude this swing")
    page.keyboard.press("Enter")
    page.wait_for_selector("[role=alert]:has-text('reason')")
    assert not (lab.study / EXCLUDED).exists() or pd.read_csv(lab.study / EXCLUDED).empty
    page.keyboard.press("Shift+Tab")
    page.keyboard.type("hit the mat")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_selector(f"text=Swing {swing} is excluded from every answer")
    assert pd.read_csv(lab.study / EXCLUDED)["reason"].tolist() == ["hit the mat"]
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_selector(f"text=Swing {swing} is included again")
    no_fault(page)


@pytest.mark.parametrize("way", ["mouse", "keyboard"])
def test_least_and_most_stand_side_by_side_at_the_event(page, lab: Lab, way: str) -> None:
    """Truth: made. One button; the second swing has more, and the difference is that of both numbers."""
    open_and_wait(page, lab, "03_posture_at_events.ipynb", way="doc", wait_for=VIEWER)
    if way == "mouse":
        page.get_by_role("button", name="Least and most").click()
    else:
        tab_to(page, "Least and most")
        page.keyboard.press("Enter")
    output = page.locator(".swinglab-viewer output").first
    page.wait_for_function(
        "() => document.querySelector('.swinglab-viewer output').innerText.includes('difference')"
    )
    words = output.inner_text().replace("\N{MINUS SIGN}", "-")
    least, most, difference = (float(number) for number in re.findall(r"(-?\d+\.\d) deg", words))
    assert least < most
    assert difference == pytest.approx(most - least, abs=0.11)
    assert words.startswith("at impact")
    no_fault(page)


def test_a_time_out_of_order_is_refused_and_a_new_one_shows_what_changes(page, lab: Lab) -> None:
    """Truth: made. By mouse: the top after impact is refused with the reason; values before and after; taken back."""
    open_and_wait(page, lab, "02_check_captures.ipynb", way="doc", wait_for=VIEWER)
    chooser(page, "Event").select_option(label=TOP)
    button = page.get_by_role("button", name=f"Set {TOP} here")
    button.wait_for()
    slider = page.locator(".swinglab-viewer input[type=range]").first
    box = slider.bounding_box()
    page.mouse.click(box["x"] + 0.98 * box["width"], box["y"] + box["height"] / 2)
    button.click()
    page.wait_for_selector("[role=alert]:has-text('impact')")
    assert not (lab.study / "events_by_hand.csv").exists()
    chooser(page, "Event").select_option(label="impact")
    chooser(page, "Event").select_option(label=TOP)
    page.wait_for_function("() => Number(document.querySelector('.swinglab-viewer').dataset.moment) < -0.1")
    page.locator(VIEWER).first.click()
    for _ in range(3):
        page.keyboard.press("ArrowLeft")
    button.click()
    page.wait_for_selector("text=Values changed by the new time")
    table = page.locator("table:has(th:text-is('before'))").first
    assert [cell.inner_text() for cell in table.locator("th").all()] == ["quantity", "before", "after"]
    for row in table.locator("tbody tr").all():
        _, before, after = (cell.inner_text() for cell in row.locator("td").all())
        assert before != after
    page.get_by_role("button", name=f"Take back {TOP} set by hand").click()
    page.wait_for_selector("text=is found by the kit again")
    assert not (lab.study / "events_by_hand.csv").exists()
    no_fault(page)


def test_an_event_is_corrected_by_keyboard_alone(page, lab: Lab) -> None:
    """Truth: made. The list follows the viewer; a time out of order is refused with the reason, and nothing is kept."""
    open_and_wait(page, lab, "02_check_captures.ipynb", way="doc", wait_for=VIEWER)
    tab_to_viewer(page)
    page.keyboard.press("Home")
    for name in ("address", "takeaway"):
        page.keyboard.press("PageDown")
        page.wait_for_function(
            "name => [...document.querySelectorAll('select')].some("
            "list => list.selectedOptions[0]?.innerText === name)",
            arg=EVENT_LABELS[name],
        )
    tab_to(page, "Event")
    page.keyboard.type(TOP[:3])
    page.get_by_role("button", name=f"Set {TOP} here").wait_for()
    tab_to_viewer(page, back=True)
    page.keyboard.press("End")
    tab_to(page, f"Set {TOP} here")
    page.keyboard.press("Enter")
    page.wait_for_selector("[role=alert]:has-text('impact')")
    assert not (lab.study / "events_by_hand.csv").exists()
    no_fault(page)


def test_further_units_are_reached_by_keyboard(page, lab: Lab) -> None:
    """Truth: made. Distances in the answer in inches too, speeds in mph, as [report] units of the study say."""
    open_and_wait(page, lab, "05_test_a_hunch.ipynb", way="doc", wait_for=FIGURE)
    tab_to(page, "Question")
    page.keyboard.press("End")
    for outcome, words in (("Low point ahead of the ball", "in inches:"), ("Clubhead speed", "in mph:")):
        tab_to(page, "goes with")
        page.keyboard.type(outcome)
        page.wait_for_selector(f"text={words}")
        page.keyboard.press("Shift+Tab")
    no_fault(page)


@pytest.mark.parametrize("way", ["mouse", "keyboard"])
def test_a_pasted_path_in_quotes_opens_its_study(page, lab: Lab, way: str) -> None:
    """Truth: made. A study.toml in quotes; a message repeats what was typed."""
    open_and_wait(page, lab, "03_posture_at_events.ipynb", way="doc", wait_for=VIEWER)
    missing, good = f"'{lab.home / 'not there'}'", f'"{lab.study / "study.toml"}"'
    for path, sign in ((missing, "[role=alert]:has-text('not there')"), (good, "text=Winter programme")):
        if way == "mouse":
            chooser(page, "Study").select_option(label="another folder")
            page.get_by_placeholder("path of a study folder").fill(path)
            page.get_by_role("button", name="Open", exact=True).click()
        elif path == missing:
            tab_to(page, "Study")
            page.keyboard.type("another")
            page.get_by_placeholder("path of a study folder").wait_for()
            page.keyboard.press("Tab")
            page.keyboard.type(path)
            page.keyboard.press("Tab")
            page.keyboard.press("Enter")
        else:
            page.keyboard.press("Shift+Tab")
            page.keyboard.press("Control+a")
            page.keyboard.type(path)
            page.keyboard.press("Tab")
            page.keyboard.press("Enter")
        page.locator(sign).first.wait_for()
    no_fault(page)
