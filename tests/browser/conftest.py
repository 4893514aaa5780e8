"""A real browser: Debian's chromium, driven by Playwright, cut off from every other machine."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest
from jupyter_lab import Lab

from swinglab import shipped_folder

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
LOCAL = (
    "file:",
    "data:",
    "blob:",
    "about:",
    "http://127.0.0.1",
    "http://localhost",
    "ws://127.0.0.1",
    "ws://localhost",
)


def missing(what: str) -> None:
    """Skip, or fail where continuous integration demands the test."""
    if os.environ.get("SWINGLAB_DEMAND", "") not in ("", "0"):
        pytest.fail(f"{what}, and these tests are demanded here")
    pytest.skip(what)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder is a browser test."""
    for item in items:
        if "browser" in item.path.parts:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    """A running browser."""
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if not found:
        missing("no chromium was found (apt install chromium)")
    try:
        from playwright import sync_api as playwright
    except ImportError:
        missing("playwright is not installed")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=found, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def page(chromium: object) -> Iterator[object]:
    """A page that fails the test on a script error and on any request to another machine."""
    context = chromium.new_context(viewport={"width": 1100, "height": 1400})
    page = context.new_page()
    errors: list[str] = []
    strangers: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on(
        "request", lambda request: None if request.url.startswith(LOCAL) else strangers.append(request.url)
    )
    page.set_default_timeout(30_000)
    yield page
    context.close()
    assert not errors, errors
    assert not strangers, f"requests that leave the machine: {strangers}"


@pytest.fixture(scope="session")
def axe() -> object:
    """The accessibility checker axe-core, as the package axe-playwright-python carries it (a tool of tests alone)."""
    try:
        from axe_playwright_python.sync_playwright import Axe
    except ImportError:
        missing("axe-playwright-python is not installed")
    return Axe()


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory, kept_swings: Path) -> Iterator[Lab]:
    """JupyterLab on a small working copy of the demo study, in a folder with a space and an umlaut; speeds also in mph,
    distances also in inches. A test leaves the study as it found it."""
    home = tmp_path_factory.mktemp("lab")
    study = home / "Übung one"
    demo = shipped_folder("data_demo")
    shutil.copytree(demo, study, ignore=shutil.ignore_patterns("captures", "truth", "results"))
    swings = pd.read_csv(study / "swings.csv", dtype=str)
    kept = swings.groupby(["golfer", swings["phase"].fillna("")]).head(4)
    kept.to_csv(study / "swings.csv", index=False)
    (study / "captures").mkdir()
    for name in kept["capture"]:
        shutil.copyfile(demo / "captures" / name, study / "captures" / name)
    settings = study / "study.toml"
    settings.write_text(
        settings.read_text(encoding="utf-8") + '\n[report]\nunits = ["mph", "in"]\n', encoding="utf-8"
    )
    (study / ".swinglab").symlink_to(kept_swings)
    server = Lab(study, home)
    yield server
    server.stop()
