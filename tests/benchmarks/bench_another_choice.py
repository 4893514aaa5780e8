"""Seconds from another choice in a list to the new figure, in a real browser, on the whole demo; run by hand:

    python tests/benchmarks/bench_another_choice.py [ROUNDS]

Notebooks 05, 06 and 07 with a question of one's own: the event is changed, and the page watches for the next figure.
"""

from __future__ import annotations

import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from browser.conftest import FLAGS  # noqa: E402
from jupyter_lab import Lab, chooser, open_and_wait  # noqa: E402

from swinglab import shipped_folder  # noqa: E402

NOTEBOOKS = ("05_test_a_hunch", "06_compare_groups", "07_before_and_after")
OWN = "a question of your own"
#: Image of the first figure that the panel with the question shows.
FIGURE = "document.querySelector('.jp-OutputArea img')?.src ?? ''"


def main(rounds: int) -> None:
    """Print the median, the shortest and the longest time of each notebook."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        shutil.copytree(shipped_folder("data_demo"), home / "study")
        lab = Lab(home / "study", home / "lab")
        try:
            with sync_playwright() as play:
                browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
                for notebook in NOTEBOOKS:
                    page = browser.new_page(viewport={"width": 1280, "height": 900})
                    open_and_wait(page, lab, f"{notebook}.ipynb", way="doc", wait_for=".jp-OutputArea img")
                    times = sorted(_times(page, rounds))
                    print(
                        f"{notebook:24} {statistics.median(times):.2f} s ({times[0]:.2f} to {times[-1]:.2f})"
                    )
                    page.close()
        finally:
            lab.stop()


def _times(page, rounds: int) -> list[float]:  # type: ignore[no-untyped-def]
    """Seconds of each choice after the first, which loads what the kernel needs only then."""
    chooser(page, "Question").select_option(label=OWN)
    page.wait_for_timeout(4_000)
    events = chooser(page, "at").locator("option").all_inner_texts()
    times = []
    for event in [*events[3:9], *events[3:9]][: rounds + 1]:
        before = page.evaluate(FIGURE)
        started = time.perf_counter()
        chooser(page, "at").select_option(label=event)
        page.wait_for_function(f"before => !['', before].includes({FIGURE})", arg=before, polling=20)
        times.append(time.perf_counter() - started)
        page.wait_for_timeout(2_000)
    return times[1:]


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 6)
