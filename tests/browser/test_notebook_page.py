"""Notebooks in a real JupyterLab, opened by the command and used by mouse and by keyboard."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
import pytest
from jupyter_lab import Lab, chooser, no_fault, open_and_wait

from swinglab import conventions, simulate
from swinglab.conventions import EVENT_LABELS
from swinglab.lab import kit_notebooks

if TYPE_CHECKING:
    from playwright.sync_api import Locator

PICTURE = ".jp-OutputArea img[src^='blob:']"
VIEWER = ".swinglab-viewer canvas"
#: Drawings of the arc a second while a posture is dragged; fewer on a machine that does other work beside.
SLOWEST_DRAWINGS = 4
SKETCH = "svg[aria-label^='Height of the sole']"
#: A long capture with many markers.
FRAMES, LANDMARKS = 600, 45
CLUB = ("clubhead", "club_butt", "club_hosel", "club_shaft_1", "club_shaft_2", "ball")


def time_of(page, event: str, column: int) -> float:
    """Seconds from the file's first frame (column 1) or from impact (2) to an event, from the page's table."""
    row = page.locator("tr", has=page.locator("td", has_text=EVENT_LABELS[event])).first
    return float(row.locator("td").nth(column).inner_text().replace("\N{MINUS SIGN}", "-"))


def test_a_hunch_is_asked_by_mouse_and_the_answer_changes(page, lab: Lab) -> None:
    """Truth: made. Another quantity by mouse: another figure, another answer, no traceback."""
    seconds = open_and_wait(page, lab, "05_test_a_hunch.ipynb", wait_for=PICTURE)
    print(f"first picture {seconds:.1f} s after opening")
    answer = page.locator(".jp-OutputArea-output").nth(1)
    page.wait_for_selector(VIEWER)
    before, picture = answer.inner_text(), page.locator(PICTURE).first.get_attribute("src")
    chooser(page, "Question").select_option(label="a question of your own")
    chooser(page, "Body part").select_option(label="pelvis")
    page.wait_for_function(f'src => document.querySelector("{PICTURE}").src !== src', arg=picture)
    page.wait_for_function("() => document.body.innerText.includes('This is an exploratory look')")
    assert answer.inner_text() != before
    assert page.locator(".jp-RenderedText[data-mime-type*='stderr'], .jp-OutputArea-error").count() == 0


def test_an_event_is_set_by_keyboard_and_taken_back(page, lab: Lab) -> None:
    """Truth: made. The viewer and the choosers by keyboard alone; the study's file holds what was set."""
    open_and_wait(page, lab, "02_check_captures.ipynb", wait_for=VIEWER)
    chooser(page, "Event").focus()
    page.keyboard.type("top")
    set_here = f"Set {EVENT_LABELS['top']} here"
    page.get_by_role("button", name=set_here).wait_for()
    page.wait_for_function(
        "top => Math.abs(document.querySelector('.swinglab-viewer').dataset.moment - top) < 2e-3",
        arg=time_of(page, "top", 2),
    )
    page.locator(VIEWER).focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    moment = page.locator(".swinglab-viewer").get_attribute("data-moment")
    chooser(page, "Event").focus()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.innerText") == set_here
    page.keyboard.press("Enter")
    page.wait_for_selector("text=is now at")
    marked = pd.read_csv(lab.study / "events_by_hand.csv")
    assert marked["event"].tolist() == ["top"]
    shown = float(moment) + time_of(page, "impact", 1)
    assert marked["time_s"].iloc[0] == pytest.approx(shown, abs=2e-3)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.innerText").startswith("Take back")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=is found by the kit again")
    assert not (lab.study / "events_by_hand.csv").exists()


def test_the_viewer_keeps_its_keys_and_a_bad_study_is_said(page, lab: Lab) -> None:
    """Truth: made. Arrow keys on the slider move the swing, not the notebook. Another folder that is no study: the
    message of the package, no traceback, in every part of the notebook."""
    open_and_wait(page, lab, "00_start_here.ipynb", wait_for=VIEWER)
    viewer = page.locator(".swinglab-viewer").first
    box = viewer.locator("canvas").bounding_box()
    page.mouse.move(box["x"] + 200, box["y"] + 150)
    page.mouse.down()
    page.mouse.move(box["x"] + 260, box["y"] + 150, steps=3)
    page.mouse.up()
    assert viewer.get_attribute("data-view") == "330.0 0.0"
    slider = viewer.locator("input[type=range]")
    slider.focus()
    before = float(viewer.get_attribute("data-moment"))
    page.keyboard.press("ArrowRight")
    assert float(viewer.get_attribute("data-moment")) > before
    assert page.evaluate("document.activeElement.type") == "range"
    assert page.evaluate("window.jupyterapp.serviceManager.kernels.commsOverSubshells") == "disabled"

    chooser(page, "Study").select_option(label="another folder")
    page.get_by_placeholder("path of a study folder").fill(str(lab.home / "no study"))
    page.get_by_role("button", name="Open").click()
    page.wait_for_selector("text=the file is missing, so the folder is not a study folder")
    page.wait_for_selector("text=no study is open")
    assert page.locator("text=Traceback").count() == 0


@pytest.mark.parametrize("notebook", [path.stem for path in kit_notebooks()])
def test_a_page_is_accessible_opens_at_its_top_and_fits_a_phone(page, lab: Lab, axe, notebook: str) -> None:
    """Truth: other (axe-core, of what the cells show: JupyterLab's own frame around them is not the kit's), and made:
    running all cells leaves the page at its title, with the code folded; then the wheel takes it where the reader goes;
    what a chooser asks for waits for the cell that runs."""
    open_and_wait(page, lab, f"{notebook}.ipynb", way="doc", wait_for=".jp-OutputArea-output")
    found = axe.run(page, context=".jp-OutputArea").response["violations"]
    serious = [(v["id"], v["nodes"][0]["html"]) for v in found if v["impact"] in ("serious", "critical")]
    assert serious == []
    assert page.locator(".jp-Placeholder-contentContainer, .jp-InputPlaceholder").count() >= 1
    outer = page.locator(".jp-WindowedPanel-outer")
    assert outer.evaluate("node => node.scrollTop") == 0
    no_fault(page)
    assert page.evaluate("window.jupyterapp.serviceManager.kernels.commsOverSubshells") == "disabled"
    is_long = outer.evaluate("node => node.scrollHeight > 2 * node.clientHeight")
    assert is_long or not notebook.startswith("04")
    if is_long:
        page.mouse.move(400, 600)
        page.mouse.wheel(0, 700)
        page.wait_for_function("document.querySelector('.jp-WindowedPanel-outer').scrollTop > 300")
    page.set_viewport_size({"width": 390, "height": 844})
    if notebook.startswith(("02", "03")):
        page.wait_for_selector(".jp-OutputArea img")
    fits_a_phone(page)


#: Controls of a narrow page that cannot be read or moved, each as the words on it.
CRAMPED = """() => {
  const parts = (what) => [...document.querySelectorAll(`.jp-OutputArea :is(${what})`)]
    .filter(node => node.offsetParent !== null);
  const left = (node) => node.getBoundingClientRect().left, width = (node) => node.getBoundingClientRect().width;
  const isOutside = (node) => node.getBoundingClientRect().right > 390;
  const isCut = (node) => node.scrollWidth > node.clientWidth + 1 || isOutside(node);
  return [
    ...parts('.slider-container').filter(slider => width(slider) < 100 || isCut(slider)),
    ...parts('input[type=text], input[type=number], select').filter(field => width(field) < 40 || isOutside(field)),
    ...parts('.widget-radio-box label').filter(label => left(label.querySelector('input')) > left(label) + 10),
    ...parts('.jupyter-button, .widget-dropdown > .widget-label').filter(isCut),
  ].map(node => node.outerHTML.slice(0, 200)); }"""


def fits_a_phone(page) -> None:
    """At 390 pixels the page does not scroll sideways; figures are shown at 0.7 of their size or more, and scroll in
    themselves; no word of a table is broken. Sliders can be moved, fields read, options lie beside their circles, and
    no button's words are cut off."""
    page.wait_for_function("""() => document.documentElement.scrollWidth <= 390
      && [...document.querySelectorAll('.jp-OutputArea img, .jp-OutputArea table')].every(image => {
        let frame = image.parentElement;
        while (frame && getComputedStyle(frame).overflowX !== 'auto') frame = frame.parentElement;
        return (frame || image).getBoundingClientRect().right <= 391; })""")
    widths = "image => image.width / parseFloat(image.style.width)"
    shares = page.evaluate(f"[...document.querySelectorAll('.jp-OutputArea img')].map({widths})")
    assert min(shares, default=1.0) > 0.7
    breaks = "[...document.querySelectorAll('.jp-OutputArea td')].map(c => getComputedStyle(c).overflowWrap)"
    assert set(page.evaluate(breaks)) <= {"normal"}
    for _ in range(20):  # on a busy machine the page takes the new width in steps
        if not page.evaluate(CRAMPED):
            break
        page.wait_for_timeout(250)
    assert page.evaluate(CRAMPED) == []


@pytest.fixture
def long_lab(tmp_path: Path) -> Iterator[Lab]:
    """A server on a study of long captures with many markers."""
    server = Lab(write_long_swings(tmp_path / "long swings"), tmp_path / "lab")
    yield server
    server.stop()


def test_a_posture_is_moved_and_the_arc_follows(page, long_lab: Lab) -> None:
    """Truth: made. A measured swing of 45 landmarks and 600 frames: drawings a second while the slider is dragged; then
    by keyboard alone: expect, move, look."""
    open_and_wait(page, long_lab, "09_how_posture_drives_contact.ipynb", way="doc", wait_for=SKETCH)
    chooser(page, "Swing (none: the simulated golfer): golfer").select_option(label="G01")
    chooser(page, "swing").select_option(label="G01_1")
    page.wait_for_function(f"""() => !document.querySelector("{SKETCH}").ariaLabel.includes('changed')""")
    handle = first_move(page)
    page.wait_for_timeout(6_000)  # the server loads the kernel of the next page meanwhile
    drawn = drawings_a_second(page, handle)
    print(f"{drawn:.0f} drawings a second with {FRAMES} frames and {LANDMARKS} landmarks")
    assert drawn >= SLOWEST_DRAWINGS

    chooser(page, "I expect the attack angle").focus()
    page.keyboard.type("higher")
    for _ in range(2):
        page.keyboard.press("Tab")
    # No letter reached the notebook as a command: "r" makes a cell raw, "d" twice deletes it.
    assert page.evaluate("document.activeElement.innerText").startswith("Look")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=a simulation is not a prescription", timeout=60_000)
    page.wait_for_selector(VIEWER)
    assert page.locator("text=attack angle (deg): as you expected").count() == 1
    no_fault(page)


def test_every_golfer_is_moved_and_a_task_is_answered_by_keyboard(page, lab: Lab) -> None:
    """Truth: made. The picture of moved golfers follows; an option is chosen and checked."""
    open_and_wait(page, lab, "09_how_posture_drives_contact.ipynb", way="doc", wait_for=SKETCH)
    page.locator(".widget-slider:has-text('every golfer') .noUi-handle").focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_selector("svg[aria-label*='14 golfers, each moved by +0.1']")
    page.wait_for_selector("text=no golfer moves along it")
    page.locator("input[type='radio']").first.focus()
    page.keyboard.press("ArrowDown")
    for _ in range(6):  # past the other options
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText") == "Check":
            break
    page.keyboard.press("Enter")
    page.wait_for_selector("text=/^(Yes|Not yet)\\./")
    no_fault(page)


def write_long_swings(folder: Path) -> Path:
    """A study of three swings of one golfer, with tilts 5 deg apart, in long captures with many markers."""
    golfer = simulate.make_golfer(name="G01")
    swings = []
    for turn in range(3):
        made = simulate.make_swing(
            golfer, {"thorax_lateral_flexion_deg": 5.0 * (turn - 1)}, seed=turn, noise_m=0.0005, rate_hz=300.0,
            name=f"G01_{turn}", before_s=1.4, after_s=FRAMES / 300.0 - 1.4,
        )  # fmt: skip
        body = [name for name in conventions.LANDMARKS if name in made.points and name not in CLUB]
        landmarks = (*body[: LANDMARKS - len(CLUB)], *CLUB)
        assert len(landmarks) == LANDMARKS and len(made.time_s) >= FRAMES
        swings.append(simulate.StudySwing(made, cells={"order": turn + 1}, landmarks=landmarks))
    return simulate.write_study(
        folder, simulate.SimulatedStudy("Long captures", swings, golfers={"G01": {"group": "skilled"}})
    )


def first_move(page) -> Locator:
    """The handle of the tilt's slider after its first move, at which the slope of this posture is calculated."""
    handle = page.locator(".widget-slider:has-text('tilt of the thorax') .noUi-handle")
    handle.focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_function(f"""() => document.querySelector("{SKETCH}").ariaLabel.includes('changed')""")
    return handle


def drawings_a_second(page, handle: Locator) -> float:
    """How often the arc is drawn anew while a slider is dragged to and fro."""
    page.evaluate(
        f"""() => {{
          [window.drawn, window.last] = [0, ""];
          const look = () => {{
            const drawing = document.querySelector("{SKETCH}")?.outerHTML;
            if (drawing && drawing !== window.last) [window.drawn, window.last] = [window.drawn + 1, drawing];
            requestAnimationFrame(look);
          }};
          look();
        }}"""
    )
    box = handle.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    started = time.monotonic()
    for step in range(60):
        # To and fro by a step of the slider or more (190 pixels wide), so that each move has a value of its own.
        along = 11 * (step % 8 if step // 8 % 2 == 0 else 8 - step % 8)
        page.mouse.move(box["x"] + box["width"] / 2 + along, box["y"] + box["height"] / 2)
        page.wait_for_timeout(25)
    seconds = time.monotonic() - started
    page.mouse.up()
    return page.evaluate("window.drawn") / seconds


@pytest.fixture(scope="module")
def page_lab(lab: Lab, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """A second server on the same study, as `notebooks --page 05` starts it."""
    server = Lab(lab.study, tmp_path_factory.mktemp("page lab"), page="05")
    yield server
    server.stop()


def test_the_stored_answer_is_there_first_and_the_live_page_takes_over(page, page_lab: Lab) -> None:
    """Truth: made. Who has begun to read chooses when to go on; a changed study shows no stored answer."""
    first = "#swinglab-first"
    page.add_init_script(
        "const watch = () => { const first = document.querySelector('#swinglab-first');"
        " if (first) window.words = first.innerText; };"
        "new MutationObserver(watch).observe(document, { childList: true, subtree: true });"
    )
    open_and_wait(page, page_lab, "05_test_a_hunch.ipynb", way="doc", wait_for=PICTURE)
    page.wait_for_selector(first, state="detached")
    stored, live = page.evaluate("window.words"), page.locator(".jp-OutputArea-output").nth(1).inner_text()
    assert "As stored on" in stored
    said = [line for line in stored.splitlines() if line.startswith("Within golfers")]
    assert said
    assert said[0] in live.replace("\n", " ")
    assert page.locator("text=Traceback").count() == 0

    page.goto(page_lab.address("05_test_a_hunch.ipynb", way="doc"))
    page.wait_for_selector(f"{first} img")
    page.mouse.move(300, 300)
    page.mouse.wheel(0, 50)
    page.get_by_role("button", name="Go to it").press("Enter")
    page.wait_for_selector(first, state="detached")
    page.wait_for_selector(PICTURE)

    os.utime(page_lab.study / "swings.csv")
    page.goto(page_lab.address("05_test_a_hunch.ipynb", way="doc"))
    page.wait_for_selector(PICTURE)
    assert page.evaluate("window.words") is None
