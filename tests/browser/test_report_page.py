"""The report's page in a real browser: it stands alone, and the swings in it move."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd

from swinglab import report, shipped_folder, study


def test_the_report_stands_alone_and_its_swings_move(page, tmp_path: Path) -> None:
    """Truth: made. No request to anywhere (the page fixture looks), no script error, the keyboard moves it."""
    folder, demo = tmp_path / "study", shipped_folder("data_demo")
    shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("captures", "truth", "results"))
    swings = pd.read_csv(folder / "swings.csv", dtype=str).groupby("golfer").head(2)
    swings.to_csv(folder / "swings.csv", index=False)
    (folder / "captures").mkdir()
    for name in swings["capture"]:
        shutil.copyfile(demo / "captures" / name, folder / "captures" / name)
    opened = study.open_study(folder)
    results = study.measure_study(opened, workers=1)
    findings = study.answer_study(opened, results)
    study.write_results(opened, results, findings, folder / "results", also=(report.write_report,))

    page.goto((folder / "results" / report.PAGE).as_uri())
    player = page.locator(".swinglab-player").first
    player.locator("canvas").focus()
    before = player.get_attribute("data-moment")
    page.keyboard.press("PageDown")
    assert player.get_attribute("data-moment") != before
    assert page.locator("img:not([alt])").count() == 0
    widths = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    assert widths[0] <= widths[1], "the page is wider than the window"
