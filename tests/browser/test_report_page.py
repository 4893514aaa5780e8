"""The report's page opened from disk, the network off: nothing is asked for, nothing fails, the swings move."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from small_study import HOSTILE, write_small_study

from swinglab.report import write_report
from swinglab.study import (
    answer_study,
    load_or_measure,
    measure_study,
    open_study,
    search_study,
    write_results,
)


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of a small study with hostile names, alone in a folder; six of its swings, of two golfers."""
    folder = write_small_study(tmp_path_factory.mktemp("browser") / "s")
    swings = folder / "swings.csv"
    swings.write_text("\n".join(swings.read_text("utf-8").splitlines()[:7]) + "\n", "utf-8")
    study = open_study(folder)
    results = measure_study(study, workers=1)
    findings = answer_study(study, results)
    out = write_results(study, results, findings, folder / "results", also=(write_report,))
    alone = tmp_path_factory.mktemp("alone") / "report.html"
    shutil.copy(out / "report.html", alone)
    return alone


@pytest.fixture
def opened(page, report: Path):
    """The page from disk without a network; its requests and console messages are kept and looked at after the test."""
    asked: list[str] = []
    said: list[str] = []
    page.context.set_offline(True)
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(f"{message.type}: {message.text}"))
    page.on("dialog", lambda dialog: said.append(f"error: a dialog opened: {dialog.message}"))
    page.goto(report.as_uri())
    page.wait_for_selector(".swinglab-viewer canvas")
    yield page
    assert [url for url in asked if not url.startswith(("data:", "blob:"))] == [report.as_uri()]
    assert [text for text in said if text.startswith(("error", "warning"))] == []


def test_the_page_shows_its_study(opened) -> None:
    """Truth: made. The hostile title is text; every picture is there; every inner link leads somewhere."""
    assert opened.locator("h1").inner_text() == HOSTILE
    sizes = opened.evaluate("[...document.images].map(i => i.complete ? i.naturalWidth : 0)")
    assert sizes and min(sizes) > 200
    lost = (
        "[...document.querySelectorAll('a[href^=\"#\"]')].filter(a => !document.querySelector(a.hash)).length"
    )
    assert opened.evaluate(lost) == 0
    assert opened.get_by_role("note").inner_text().startswith("Before anybody changes a swing.")


def moment(viewer) -> float:
    """Seconds from impact that the viewer shows."""
    return float(viewer.get_attribute("data-moment"))


def picture(canvas) -> str:
    """The drawn picture, to see whether it changed."""
    return canvas.evaluate("canvas => canvas.toDataURL()")


def test_the_viewer_moves(opened) -> None:
    """Truth: made. A frame by key, another event by choice, and playing draws new pictures."""
    viewer = opened.locator(".swinglab-viewer").first
    canvas = viewer.locator("canvas")
    first, drawn = moment(viewer), picture(canvas)
    canvas.focus()
    opened.keyboard.press("ArrowRight")
    assert moment(viewer) == pytest.approx(first + 1 / 200, abs=1e-3)
    viewer.get_by_label("Go to event").select_option("impact")
    assert picture(canvas) != drawn
    before = moment(viewer)
    viewer.get_by_role("button", name="Play").click()
    opened.wait_for_timeout(1500)  # the page's policy forbids to wait for an expression
    assert moment(viewer) > before + 0.02


@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_sticks_out_at_the_side(opened, width: int) -> None:
    """Truth: made. At a phone's and a desktop's width the page scrolls downward alone; wide tables in themselves."""
    opened.set_viewport_size({"width": width, "height": 844})
    # The viewer redraws itself a moment after the page has taken its new width.
    opened.wait_for_function(f"document.documentElement.scrollWidth <= {width}", timeout=5000)
    wide = "[...document.querySelectorAll('main table')].every(table => table.closest('.wide'))"
    assert opened.evaluate(wide)


def test_it_prints(opened) -> None:
    """Truth: made. The browser makes a PDF of it."""
    sheet = opened.pdf(format="A4")
    assert sheet.startswith(b"%PDF") and len(sheet) > 20_000


def test_on_paper_nothing_is_cut_and_nothing_stands_folded(opened) -> None:
    """Truth: made. A4 within margins of 14 mm is 688 by 1016 pixels: no wider, no figure or row higher than a page."""
    opened.set_viewport_size({"width": 688, "height": 1016})
    opened.emulate_media(media="print")
    opened.evaluate("document.querySelectorAll('details').forEach((one, k) => { one.open = k % 2 === 0; })")
    opened.wait_for_function("document.documentElement.scrollWidth <= 688", timeout=5000)
    heights = "[...document.querySelectorAll('figure, tr')].map(one => one.getBoundingClientRect().height)"
    assert max(opened.evaluate(heights)) < 1016
    shown = "[...document.querySelectorAll('details:not([open])')].map(one => getComputedStyle(one).display)"
    assert set(opened.evaluate(shown)) == {"none"}
    opened.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = false; })")
    assert not opened.locator("#appendix").is_visible()


def test_no_serious_finding_of_accessibility(opened, axe) -> None:
    """Truth: other (axe-core, through axe-playwright-python). Everything unfolded."""
    opened.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    found = axe.run(opened).response["violations"]
    serious = [(v["id"], v["nodes"][0]["html"]) for v in found if v["impact"] in ("serious", "critical")]
    assert serious == []


def test_the_demos_report_takes_six_screens_until_unfolded(page, measured_demo: Path, tmp_path: Path) -> None:
    """Truth: made. 1280 x 900 pixels, with the searches of the demo; unfolded it is longer."""
    study = open_study(measured_demo)
    results = load_or_measure(study)
    screens = search_study(study, results)
    write_report(study, results, answer_study(study, results), tmp_path, screens=screens)
    page.set_viewport_size({"width": 1280, "height": 900})
    page.goto((tmp_path / "report.html").as_uri())
    page.wait_for_selector(".swinglab-viewer canvas")
    height = "document.documentElement.scrollHeight"
    folded = page.evaluate(height)
    assert folded <= 6 * 900
    page.get_by_role("button", name="Unfold everything").click()
    assert page.evaluate(height) > 2 * folded


def press(button, way: str) -> None:
    """Press a button by mouse, or by the Enter key once it has the focus, to which Tab leads."""
    if way == "mouse":
        button.click()
        return
    assert button.evaluate("node => node.tabIndex") == 0
    button.focus()
    button.page.keyboard.press("Enter")


@pytest.mark.parametrize("way", ["mouse", "keyboard"])
def test_a_picture_and_a_table_are_saved_under_the_pages_policy(opened, way: str) -> None:
    """Truth: other (the signatures of the file formats). One press each, without a network."""
    for button, starts in (("SVG", b"<?xml"), ("PNG", b"\x89PNG"), ("CSV", b"\xef\xbb\xbf")):
        opened.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        with opened.expect_download() as waiting:
            press(opened.get_by_role("button", name=button, exact=True).first, way)
        assert Path(waiting.value.path()).read_bytes().startswith(starts)


@pytest.mark.parametrize("way", ["mouse", "keyboard"])
def test_the_findings_are_copied(opened, way: str) -> None:
    """Truth: made. One press; the clipboard holds a line for each row of the tables of findings, cells by tabs."""
    opened.context.grant_permissions(["clipboard-read", "clipboard-write"])
    rows = opened.evaluate("document.querySelectorAll('table.lines tbody tr').length")
    press(opened.get_by_role("button", name="Copy all findings"), way)
    opened.get_by_role("button", name="Copied").wait_for()
    lines = opened.evaluate("navigator.clipboard.readText()").splitlines()
    assert len(lines) == rows + 1
    assert len({line.count("\t") for line in lines}) == 1
    assert lines[0].count("\t") > 3


def test_a_mark_names_its_swing(opened) -> None:
    """Truth: made. The first mark of a figure under the pointer; by keyboard the next one."""
    figure = opened.locator("figure .swinglab-points").first
    figure.focus()
    opened.keyboard.press("ArrowRight")
    assert "G01" in figure.locator(".label").inner_text()
    figure.scroll_into_view_if_needed()
    _, _, across, down, _ = opened.evaluate(
        "JSON.parse(document.querySelector('figure script.points').textContent)[4]"
    )
    box = figure.locator("img").bounding_box()
    opened.mouse.move(box["x"] + across * box["width"], box["y"] + down * box["height"])
    assert figure.locator(".ring").is_visible()
