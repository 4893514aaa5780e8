"""A session on the range with the demo's captures dropped one by one: how soon the page is right, and what is kept.

By hand; writes references/evidence/range_session.md. SWINGS captures of the demo (all where it is 0) arrive in a new
folder while `python -m swinglab watch` runs and a browser shows its page:

    python tests/calibration/range_session.py SWINGS

They arrive as they do from capture systems: moved in whole, copied, written in two halves with a pause, with a second
copy, and next to damaged files. The process is killed and started again in between. In the end the tables are compared,
byte by byte, with those of the same folder measured at once without anything kept.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from textwrap import fill

import numpy as np
import pandas as pd
from playwright.sync_api import Page, sync_playwright

from swinglab import shipped_folder
from swinglab.load import is_whole
from swinglab.study import Study, open_study
from swinglab.watch import number_of

OUT = Path(__file__).resolve().parents[2] / "references" / "evidence" / "range_session.md"
KITS_OWN = [sys.executable, "-m", "swinglab"]
LIMIT_S = 5.0
#: Killed and started again after so many captures.
KILL_EVERY = 40


@dataclass
class Watch:
    """The command, its page, and what was seen."""

    home: Path
    page: Page
    process: subprocess.Popen[str] | None = None
    seconds: dict[str, list[float]] = field(default_factory=dict)
    shown: dict[str, str] = field(default_factory=dict)
    starts_s: list[float] = field(default_factory=list)

    def start(self, golfer: str) -> None:
        """Start the command, open its page, show single swings."""
        begun = time.perf_counter()
        command = [*KITS_OWN, "watch", str(self.home), "--golfer", golfer, "--no-browser"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, start_new_session=True)
        assert self.process.stdout is not None
        line = next(line for line in self.process.stdout if line.startswith("the page: "))
        self.page.goto(line.removeprefix("the page: ").strip())
        self.page.locator("#who", has_text=golfer).wait_for()
        self.page.keyboard.press("s")
        self.starts_s.append(time.perf_counter() - begun)

    def end(self, how: signal.Signals) -> None:
        """Interrupt or kill the command."""
        assert self.process is not None
        self.process.send_signal(how)
        self.process.wait(600)

    def arrive(self, kind: str, source: Path, target: Path) -> None:
        """Let a capture arrive, and wait until the page shows it."""
        target.parent.mkdir(exist_ok=True)
        ARRIVALS[kind](source, target)
        complete = time.perf_counter()
        self.page.locator("#shown", has_text=target.stem).wait_for(timeout=120_000)
        self.seconds.setdefault(kind, []).append(time.perf_counter() - complete)
        self.shown[target.stem] = self.page.locator("#posture-value").inner_text()
        if kind == "with a second copy":
            shutil.copy(source, target.with_name(f"copy of {target.name}"))


def _moved(source: Path, target: Path) -> None:
    beside = target.with_suffix(".part")
    shutil.copy(source, beside)
    beside.replace(target)


def _halves(source: Path, target: Path) -> None:
    content = source.read_bytes()
    with target.open("wb") as stream:
        stream.write(content[: len(content) // 2])
        stream.flush()
        os.fsync(stream.fileno())
        time.sleep(2.0)
        stream.write(content[len(content) // 2 :])


def _beside_a_damaged_one(source: Path, target: Path) -> None:
    content = source.read_bytes()
    target.with_name(f"damaged {target.name}").write_bytes(content[: len(content) // 3])
    shutil.copy(source, target)


ARRIVALS: dict[str, Callable[[Path, Path], object]] = {
    "moved in whole": _moved, "copied": shutil.copy, "written in two halves, 2 s apart": _halves,
    "with a second copy": shutil.copy, "beside a damaged file": _beside_a_damaged_one,
}  # fmt: skip


def main(number: int) -> None:
    """Run the session and replace the page."""
    demo = shipped_folder("data_demo")
    swings = pd.read_csv(demo / "swings.csv", dtype=str, keep_default_na=False)
    # One capture of the demo is damaged on purpose.
    swings = swings[[is_whole(demo / "captures" / name) for name in swings["capture"]]]
    first, coming = swings.iloc[:1], swings.iloc[1 : number + 1 if number else None]
    base = Path(tempfile.mkdtemp(prefix="range_session."))
    try:
        home = base / "a range"
        (home / "captures").mkdir(parents=True)
        shutil.copy(demo / "golfers.csv", home)
        questions = (demo / "study.toml").read_text(encoding="utf-8").partition("[[screen]]")[0]
        (home / "study.toml").write_text(questions, encoding="utf-8")  # searches name sessions still to come
        first.to_csv(home / "swings.csv", index=False)
        shutil.copy(demo / "captures" / first["capture"].iloc[0], home / "captures")
        with sync_playwright() as tools:
            page = tools.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox"]
            ).new_page()
            watch = Watch(home, page)
            run_session(watch, demo / "captures", coming)
        lines = list(report(watch, coming, compare(home, base / "at once")))
    finally:
        shutil.rmtree(base)
    print(*lines, sep="\n")
    OUT.write_text("\n".join(lines) + "\n", encoding="utf-8")


def run_session(watch: Watch, captures: Path, coming: pd.DataFrame) -> None:
    """All captures, golfer by golfer, each in the golfer's own folder; phases by key."""
    golfer, phase = "", ""
    kinds = list(ARRIVALS)
    for place, row in enumerate(coming.to_dict("records")):
        if row["golfer"] != golfer or place % KILL_EVERY == KILL_EVERY - 1:
            if watch.process is not None:
                watch.end(signal.SIGKILL)
            golfer, phase = row["golfer"], ""
            watch.start(golfer)
        if row["phase"] != phase:
            phase = row["phase"]
            watch.page.keyboard.press(phase[0])
            watch.page.locator("#who", has_text=phase).wait_for()
        target = watch.home / "captures" / golfer / row["capture"]
        watch.arrive(kinds[place % len(kinds)], captures / row["capture"], target)
        print(
            place,
            row["swing"],
            f"{next(reversed(watch.seconds[kinds[place % len(kinds)]])):.2f} s",
            flush=True,
        )
    watch.end(signal.SIGTERM)


def compare(home: Path, at_once: Path) -> dict[str, bool]:
    """Table -> whether it is the same, byte by byte, as that of the folder measured at once."""
    shutil.copytree(home, at_once, ignore=shutil.ignore_patterns(".swinglab", "results", "measured"))
    subprocess.run([*KITS_OWN, "study", str(at_once), "--out", str(at_once / "results")], check=False)
    tables = sorted((home / "results").glob("*.csv"))
    return {one.name: one.read_bytes() == (at_once / "results" / one.name).read_bytes() for one in tables}


def report(watch: Watch, coming: pd.DataFrame, same: dict[str, bool]) -> Iterator[str]:
    """The page's lines."""
    study = open_study(watch.home)
    number, starts = len(coming), np.array(watch.starts_s)
    table = pd.read_csv(watch.home / "results" / "swing_table.csv").set_index("swing")
    right = sum(_is_right(watch.shown[swing], table, swing, study) for swing in coming["swing"])
    every = np.concatenate([np.array(seconds) for seconds in watch.seconds.values()])
    other = [name for name, is_same in same.items() if not is_same]
    repeated = int(study.swings["capture"].duplicated().sum())
    yield "# A session on the range: how soon the page is right"
    yield ""
    yield fill(
        f"{number} captures of the demo, dropped one by one into a study of one swing while `watch` ran with its page "
        f"open in a browser, by `tests/calibration/range_session.py`; {os.cpu_count()} cores, shared with other work "
        f"(load average {os.getloadavg()[2]:.1f}). Time from the last byte of a file until the page shows its swing. "
        f"The command was killed and started again {len(starts) - 1} times.", 120,
    )  # fmt: skip
    yield ""
    yield "| how the file arrived | files | median, s | longest, s | within 5 s |"
    yield "|---|---|---|---|---|"
    for kind, seconds in watch.seconds.items():
        yield _row(kind, np.array(seconds))
    yield _row("**all**", every)
    yield ""
    yield f"- Shown numbers that are those of the tables: {right} of {number}."
    yield f"- Rows of swings.csv: {len(study.swings)}, of {number + 1} captures; repeated: {repeated}."
    yield (
        f"- Tables the same, byte by byte, as those of the folder measured at once: {len(same) - len(other)} of "
        f"{len(same)}{'; not ' + ', '.join(other) if other else ''}."
    )
    yield f"- From the start to the page: median {np.median(starts):.1f} s, at most {starts.max():.1f}."


def _row(kind: str, seconds: np.ndarray) -> str:
    within = int((seconds <= LIMIT_S).sum())
    return f"| {kind} | {len(seconds)} | {np.median(seconds):.1f} | {seconds.max():.1f} | {within} |"


def _is_right(shown: str, table: pd.DataFrame, swing: str, study: Study) -> bool:
    """Whether the page showed the table's value."""
    column = number_of(study, str(table.at[swing, "golfer"])).column
    digits = "".join(letter for letter in shown.replace("\u2212", "-") if letter in "-.0123456789")
    return digits == f"{float(table.at[swing, column]):.1f}"


if __name__ == "__main__":
    main(int(sys.argv[1]))
