"""The player's sheet opened from disk, scripts and network off: one page of A4, whole on a phone, no statistics."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from swinglab.report.sheet import write_sheets
from swinglab.study import load_or_answer, load_or_measure, open_study


@pytest.fixture(scope="module")
def sheets(measured_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """A sheet for each lesson of the demo."""
    study = open_study(measured_demo)
    results = load_or_measure(study)
    return write_sheets(study, results, load_or_answer(study, results), tmp_path_factory.mktemp("sheets"))


@pytest.fixture
def still_page(chromium) -> Iterator[object]:
    """A page of a browser without scripts and without a network."""
    context = chromium.new_context(
        java_script_enabled=False, offline=True, viewport={"width": 390, "height": 844}
    )
    yield context.new_page()
    context.close()


def test_a_sheet_is_one_page_of_a4(sheets: list[Path], still_page) -> None:
    """Truth: other (the page objects of the PDF that the browser makes)."""
    assert len(sheets) == 2
    for sheet in sheets:
        still_page.goto(sheet.as_uri())
        printed = still_page.pdf(format="A4", prefer_css_page_size=True)
        assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1


def test_a_sheet_reads_whole_on_a_phone(sheets: list[Path], still_page) -> None:
    """Truth: made. Nothing beyond the right edge but what scrolls in itself; both stick figures; no p, no error."""
    for sheet in sheets:
        still_page.goto(sheet.as_uri())
        pictures = still_page.locator("figure img")
        assert pictures.count() == 2
        for element in still_page.locator("h1, h2, p, dl > div, figure img, aside, .wide").all():
            box = element.bounding_box()
            assert box["x"] >= 0 and box["x"] + box["width"] <= 390
        text = still_page.locator("body").inner_text()
        assert not re.search(r"\bp [<=]|standard error|\u00b1|interval", text)
        assert "Look after your back" in text and "Changed, and kept?" in text


def test_no_serious_finding_of_accessibility(sheets: list[Path], page, axe) -> None:
    """Truth: other (axe-core). Both sheets."""
    for sheet in sheets:
        page.goto(sheet.as_uri())
        found = axe.run(page).response["violations"]
        assert [
            (v["id"], v["nodes"][0]["html"]) for v in found if v["impact"] in ("serious", "critical")
        ] == []
