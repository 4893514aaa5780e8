"""Seconds from opening a notebook's page to its first picture, in a real browser; run by hand:

    python tests/benchmarks/bench_first_pictures.py [ROUNDS] [NUMBER ...]

For each notebook and round: the server as `notebooks --page` starts it, a pause in which it prepares a kernel, then the
page. Printed: seconds after opening until JupyterLab has started, until a kernel is connected, until the first picture
of any kind, until the first picture that a cell shows, and until all cells have run.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

import pandas as pd  # noqa: E402
from browser.conftest import FLAGS  # noqa: E402
from jupyter_lab import HAS_RUN, Lab  # noqa: E402

from swinglab import shipped_folder  # noqa: E402
from swinglab.lab import kit_notebooks  # noqa: E402

#: Swings of each golfer and phase in the study that is opened.
SWINGS = 4
PAUSE_S = 8.0
WATCH = """
  const seen = window.seen = {};
  const see = (name, found) => { if (found && !(name in seen)) seen[name] = performance.now() / 1000; };
  const drawn = (area) => [...document.querySelectorAll(`${area} img, ${area} canvas, ${area} svg[aria-label]`)].some(
    (node) => node.getBoundingClientRect().width > 150 && (node.tagName !== 'IMG' || node.complete));
  const look = () => {
    const app = window.jupyterapp;
    see('app', app && app.shell);
    const panel = app && app.shell && app.shell.currentWidget;
    see('notebook', panel && panel.context && panel.context.isReady);
    const kernel = panel && panel.sessionContext && panel.sessionContext.session && panel.sessionContext.session.kernel;
    see('kernel', kernel && kernel.connectionStatus === 'connected');
    see('picture', drawn('body'));
    see('live', drawn('.jp-OutputArea'));
    requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
"""


def small_copy(home: Path) -> Path:
    """A working copy of the demo study with few swings of each golfer, measured by the first server that opens it."""
    study, demo = home / "study", shipped_folder("data_demo")
    shutil.copytree(demo, study, ignore=shutil.ignore_patterns("captures", "truth", "results"))
    swings = pd.read_csv(study / "swings.csv", dtype=str)
    kept = swings.groupby(["golfer", swings["phase"].fillna("")]).head(SWINGS)
    kept.to_csv(study / "swings.csv", index=False)
    (study / "captures").mkdir()
    for name in kept["capture"]:
        shutil.copyfile(demo / "captures" / name, study / "captures" / name)
    return study


def opened(browser: object, study: Path, notebook: str) -> dict[str, float]:
    """Seconds after opening at which each thing was seen first."""
    home = Path(tempfile.mkdtemp())
    lab = Lab(study, home, page=notebook)
    try:
        time.sleep(PAUSE_S)
        context = browser.new_context(viewport={"width": 1400, "height": 1000})
        page = context.new_page()
        page.add_init_script(WATCH)
        page.goto(lab.address(notebook, way="doc"), wait_until="commit")
        failed = page.wait_for_function(HAS_RUN, timeout=120_000).json_value()["failed"]
        page.wait_for_timeout(1000)
        seen = page.evaluate("window.seen") | {"all": page.evaluate("performance.now() / 1000") - 1.0}
        context.close()
        return seen | {"failed": failed}
    finally:
        lab.stop()
        shutil.rmtree(home, ignore_errors=True)


def main() -> None:
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    asked = sys.argv[2:] or [path.name[:2] for path in kit_notebooks()]
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as home, sync_playwright() as driver:
        study = small_copy(Path(home))
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        for path in kit_notebooks():
            for _ in range(rounds if path.name[:2] in asked else 0):
                seen = opened(browser, study, path.name)
                times = "  ".join(f"{name} {value:.2f}" for name, value in seen.items())
                print(f"{path.name[:2]}  {times}", flush=True)
        browser.close()


if __name__ == "__main__":
    main()
