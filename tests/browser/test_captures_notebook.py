"""From bare captures to a report in a real browser: `begin`, markers named in 01_your_captures, `study`.

Captures of simulated golfers under other labels, two of which no word decides, with names in folders, files, labels and
C3D parameters.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from jupyter_lab import ROOT, Lab, open_and_wait

from swinglab import simulate
from tests.begin.made_captures import DIALECTS, LABS, write_swing

PICKER = ".swinglab-viewer canvas"
LABELS = DIALECTS["gait"] | {"xiphoid": "Sternum", "c7": "Vert"}
MOST_ACTIONS = 25


def command(*words: str) -> float:
    """Run a command of the kit; seconds it took."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "SWINGLAB_NO_VENV": "1", "OPENBLAS_NUM_THREADS": "1"}
    started = time.monotonic()
    run = subprocess.run([sys.executable, "-m", "swinglab", *words], env=environment, capture_output=True, text=True,
                         check=False)  # fmt: skip
    assert run.returncode == 0, run.stdout + run.stderr
    return time.monotonic() - started


def bare_captures(folder: Path) -> None:
    """Two golfers of three swings each, in folders with their names."""
    for name, hand in (("Anna Berg", "right"), ("Carl Dahl", "left")):
        golfer = simulate.make_golfer(name=name, hand=hand)
        for k in range(3):
            more = {"thorax_lateral_flexion_deg": 2.0 * k}
            swing = simulate.make_swing(golfer, more, seed=k + len(hand), rate_hz=240.0, noise_m=0.0005, name="x",
                                        before_s=1.8, after_s=0.8)  # fmt: skip
            path = folder / "captures" / name / "2026-11-01" / f"{name} {k}.c3d"
            write_swing(path, swing.points, hand, 240.0, LABELS, LABS[1], prefix=f"{name}:", subject=name)


class Walk:
    """What a person did, and how long the machine took."""

    def __init__(self, begun_s: float) -> None:
        self.actions, self.machine_s = 1, begun_s

    def did(self, number: int = 1) -> None:
        """Count actions of a person."""
        self.actions += number


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Lab, Walk]]:
    """`begin` on bare captures, then the notebooks of that study."""
    home = tmp_path_factory.mktemp("captures")
    study = home / "study"
    bare_captures(study)
    walk = Walk(command("begin", str(study)))
    started = time.monotonic()
    server = Lab(study, home / "lab", page="01")
    walk.machine_s += time.monotonic() - started
    walk.did()
    shutil.copyfile(study / "study.toml", server.home / "as_begun.toml")
    yield server, walk
    server.stop()


def chooser(page, label: str):
    """The list with this label."""
    return page.locator(f".jupyter-widgets:has(> label:text-is('{label}')) select").first


def shot(page, name: str) -> None:
    """A picture for who looks at the page, where SWINGLAB_SHOTS names a folder."""
    if os.environ.get("SWINGLAB_SHOTS"):
        page.screenshot(path=str(Path(os.environ["SWINGLAB_SHOTS"]) / name), full_page=True)


def test_by_mouse_from_bare_captures_to_a_report(page, walked: tuple[Lab, Walk], tmp_path: Path) -> None:
    """Truth: made. The two labels that no word decides are named by mouse; in at most 25 actions."""
    lab, walk = walked
    walk.machine_s += open_and_wait(page, lab, "01_your_captures.ipynb", way="doc", wait_for=PICKER)
    walk.did()  # open the notebook, which runs by itself
    page.wait_for_selector("text=landmarks are named")
    shot(page, "begin_1.png")
    chooser(page, "Open, most useful first").select_option(index=0)
    page.wait_for_function(
        "() => document.querySelector('.swinglab-viewer').dataset.picked.endsWith('Sternum')"
    )
    page.get_by_role("button", name="Give the marker to the landmark").click()
    page.wait_for_selector("text=41 landmarks are named")
    walk.did(2)
    places = json.loads(page.locator(".swinglab-viewer").first.get_attribute("data-places"))
    x, y = next((x, y) for label, x, y in places if label.endswith(":Vert"))
    page.locator(PICKER).first.click(position={"x": x, "y": y})
    page.wait_for_function("() => document.querySelector('.swinglab-viewer').dataset.picked.endsWith('Vert')")
    shot(page, "begin_2.png")
    chooser(page, "Landmark").select_option(label="c7")
    page.get_by_role("button", name="Give the marker to the landmark").click()
    page.wait_for_selector("text=42 landmarks are named")
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_selector("text=The study can be measured")
    walk.did(5)  # click, open the list, choose, give, save
    shot(page, "begin_3.png")
    walk.machine_s += command("study", str(lab.study), "--out", str(tmp_path / "results"))
    walk.did()
    assert (tmp_path / "results" / "report.html").is_file()
    assert "0 rows" not in (tmp_path / "results" / "swing_table.csv").read_text(encoding="utf-8")
    print(f"{walk.actions} actions, {walk.machine_s:.0f} s of the machine")
    assert walk.actions <= MOST_ACTIONS


def pressed(page, walk: Walk, *keys: str) -> None:
    """Press keys one by one; each is an action."""
    for key in keys:
        page.keyboard.press(key)
        walk.did()


def typed(page, walk: Walk, word: str) -> None:
    """Type a word into the list that has the focus: one action, as a command is."""
    page.keyboard.type(word)
    walk.did()


def focused(page) -> str:
    """Name of the button, or label of the list, that has the focus."""
    return page.evaluate("""() => { const e = document.activeElement; const box = e.closest('.jupyter-widgets');
        return e.tagName === 'BUTTON' ? e.innerText : (box?.querySelector('label')?.innerText ?? e.tagName); }""")


def in_focus(page, what: str) -> None:
    """The focus is on the button of this name, or in the list of this label."""
    assert focused(page) == what


def test_by_keyboard_alone_from_bare_captures_to_a_report(
    page, walked: tuple[Lab, Walk], tmp_path: Path
) -> None:
    """Truth: made. The same two landmarks by keys from the opened page on, with no focus set by the test; each key and
    each word typed is an action, at most 25 in all."""
    lab, begun = walked
    shutil.copyfile(lab.home / "as_begun.toml", lab.study / "study.toml")
    walk = Walk(begun.machine_s)
    walk.did()  # the command notebooks --page 01, which opens the page
    walk.machine_s += open_and_wait(page, lab, "01_your_captures.ipynb", way="doc", wait_for=PICKER)
    page.wait_for_selector("text=landmarks are named")
    for _ in range(8):
        pressed(page, walk, "Tab")
        if focused(page) == "Open, most useful first":
            break
    in_focus(page, "Open, most useful first")
    pressed(page, walk, "ArrowDown")
    page.wait_for_function(
        "() => document.querySelector('.swinglab-viewer').dataset.picked.endsWith('Sternum')"
    )
    pressed(page, walk, "Tab", "Tab", "Tab")
    in_focus(page, "Give the marker to the landmark")
    pressed(page, walk, "Enter")
    page.wait_for_selector("text=41 landmarks are named")
    shot(page, "keys_1.png")
    pressed(page, walk, "Shift+Tab", "Shift+Tab")
    typed(page, walk, "Vert")
    pressed(page, walk, "Tab")
    typed(page, walk, "c7")
    pressed(page, walk, "Tab")
    page.wait_for_function("() => document.querySelector('.swinglab-viewer').dataset.picked.endsWith('Vert')")
    pressed(page, walk, "Enter")
    page.wait_for_selector("text=42 landmarks are named")
    pressed(page, walk, "Tab", "Tab")
    in_focus(page, "Save")
    pressed(page, walk, "Enter")
    page.wait_for_selector("text=The study can be measured")
    shot(page, "keys_2.png")
    walk.machine_s += command("study", str(lab.study), "--out", str(tmp_path / "results"))
    walk.did()
    text = (lab.study / "study.toml").read_text(encoding="utf-8")
    assert 'c7 = "Vert"' in text
    assert 'xiphoid = "Sternum"' in text
    assert (tmp_path / "results" / "report.html").is_file()
    print(f"{walk.actions} actions, {walk.machine_s:.0f} s of the machine")
    assert walk.actions <= MOST_ACTIONS


def test_the_picture_is_worked_by_keys(page, walked: tuple[Lab, Walk]) -> None:
    """Truth: made. Arrow keys go from marker to marker, and the chooser follows."""
    lab, _ = walked
    open_and_wait(page, lab, "01_your_captures.ipynb", way="doc", wait_for=PICKER)
    page.wait_for_selector("text=landmarks are named")
    page.locator(PICKER).first.focus()
    page.keyboard.press("ArrowRight")
    picked = page.locator(".swinglab-viewer").first.get_attribute("data-picked")
    assert picked
    marker = chooser(page, "Marker")
    page.wait_for_function(
        "([list, bare]) => list.selectedOptions[0].text.startsWith(bare + ':')",
        arg=[marker.element_handle(), picked.rpartition(":")[2]],
    )
