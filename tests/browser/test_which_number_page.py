"""The notebook 04 in a real browser: from a search to a saved question to its answer, by mouse and by keyboard."""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from jupyter_lab import Lab, chooser, no_fault, open_and_wait, tab_to

NOTEBOOK = "04_which_number.ipynb"
SEARCHED = "text=postures were searched for those related to"
EIGHT = ["G01", "G02", "G04", "G05", "G07", "G08", "G10", "G11"]
TILT_AT_DELIVERY = "thorax lateral flexion at delivery"
TILT_AT_IMPACT = "thorax lateral flexion at impact"


@pytest.fixture
def lab(measured_demo: Path, tmp_path: Path) -> Iterator[Lab]:
    """JupyterLab on a copy of the measured demo, which a test may write to."""
    study = tmp_path / "demo"
    shutil.copytree(measured_demo, study, symlinks=True)
    server = Lab(study, tmp_path / "lab")
    yield server
    server.stop()


def saved_question(lab: Lab) -> dict:
    """The last hunch of study.toml."""
    return tomllib.loads((lab.study / "study.toml").read_text(encoding="utf-8"))["hunch"][-1]


def test_a_found_posture_is_saved_and_confirmed_by_mouse(page, lab: Lab) -> None:
    """Truth: made. Tilt at delivery, found in eight golfers; six who were not searched confirm it."""
    open_and_wait(page, lab, NOTEBOOK, way="doc", wait_for=SEARCHED)
    page.wait_for_selector("text=among 8 golfers, each compared with himself or herself")
    chooser(page, "Posture to save").select_option(label=TILT_AT_DELIVERY)
    page.wait_for_selector(f"text={TILT_AT_DELIVERY}: the hunch expects a higher value of attack angle")
    page.get_by_role("button", name="Save this question").first.click()
    page.wait_for_selector("text=These lines will be added at the end of study.toml")
    lines = page.locator("text=[[hunch]]").first.inner_text()
    before = (lab.study / "study.toml").read_text(encoding="utf-8")
    assert "found_in" in lines and "found_in" not in before
    page.get_by_role("button", name="Add these lines to study.toml").first.click()
    page.wait_for_selector("text=The question is now in study.toml and is answered with", timeout=60_000)
    question = saved_question(lab)
    assert question["event"] == "shaft_horizontal_down" and question["expect"] == "positive"
    assert question["found_in"] == {"golfer": EIGHT}
    assert (lab.study / "study.toml").read_text(encoding="utf-8").startswith(before.rstrip())
    chooser(page, "Question").select_option(label=question["name"])
    page.wait_for_selector("text=confirmed by swings that were not part of the search")
    no_fault(page)


def test_one_golfers_find_is_saved_and_reads_repeated_by_keyboard(page, lab: Lab) -> None:
    """Truth: made. G07's tilt at impact, found in 50 swings: the other 30 of that day repeat it, confirm nothing.

    Tab, letters and Enter alone: the test sets no focus.
    """
    open_and_wait(page, lab, NOTEBOOK, way="doc", wait_for=SEARCHED)
    tab_to(page, "Search")
    page.keyboard.type("what goes with G07")
    page.wait_for_selector("text=among 50 swings of golfer G07")
    tab_to(page, "Posture to save")
    page.keyboard.type(TILT_AT_IMPACT)
    page.wait_for_selector(f"text={TILT_AT_IMPACT}: the hunch expects a higher value of attack angle")
    tab_to(page, "Save this question")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=These lines will be added at the end of study.toml")
    tab_to(page, "Add these lines to study.toml")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=The question is now in study.toml and is answered with", timeout=60_000)
    question = saved_question(lab)
    assert question["golfer"] == "G07" and len(question["found_in"]["swing"]) == 50
    tab_to(page, "Question")
    page.keyboard.type(question["name"][:60])
    page.wait_for_selector("text=repeated, not confirmed")
    no_fault(page)
