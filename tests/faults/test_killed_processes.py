"""Processes that are killed: a worker costs its swing alone, workers end with their parent, results stay whole."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from swinglab.study import open_study, read_results
from swinglab.study.results_folder import TABLES
from swinglab.study.run_record import read_record

ROOT = Path(__file__).resolve().parents[2]
ENVIRONMENT = os.environ | {"PYTHONPATH": str(ROOT), "SWINGLAB_NO_VENV": "1", "OPENBLAS_NUM_THREADS": "1"}
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals and /proc")


def children_of(pid: int) -> list[int]:
    """Processes below one, at any depth, as /proc shows them."""
    found, queue = [], [pid]
    while queue:
        parent = queue.pop()
        for task in Path(f"/proc/{parent}/task").glob("*/children"):
            try:
                own = [int(word) for word in task.read_text().split()]
            except (OSError, ProcessLookupError):
                continue
            found += own
            queue += own
    return found


def is_running(pid: int) -> bool:
    """Whether a process is there and no zombie."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except (OSError, ProcessLookupError):
        return False


def start(home: Path, *more: str) -> subprocess.Popen:
    """`swinglab study` on a study, in a process of its own."""
    command = [sys.executable, "-m", "swinglab", "study", str(home), "--workers", "2", *more]
    return subprocess.Popen(
        command, env=ENVIRONMENT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=home.parent
    )


def when_measuring(running: subprocess.Popen, home: Path) -> list[int]:
    """Wait until a first swing is kept; the processes that are there then."""
    deadline = time.monotonic() + 120
    while not list((home / ".swinglab").rglob("*.npz")):
        assert running.poll() is None and time.monotonic() < deadline, running.communicate()
        time.sleep(0.02)
    return children_of(running.pid)


SCRIPT = """
import os, sys
from swinglab.study import measure_study, measuring, open_study, swing, worker_pool

def measure(job):
    if job.swing == "G03_1":
        os.kill(os.getpid(), 9)
    return swing.measure_job(job)

worker_pool.measure_job = measure
if __name__ == "__main__":
    results = measure_study(open_study(sys.argv[1]), workers=2)
    results.swings["swing"].to_csv(sys.argv[2], index=False)
    results.left_out.to_csv(sys.argv[2] + ".left_out", index=False)
"""


def test_a_killed_worker_costs_the_swing_that_killed_it(home: Path, tmp_path: Path) -> None:
    """Truth: made. One swing ends its process as the system does when memory runs out; the others are measured."""
    script, table = tmp_path / "script.py", tmp_path / "table.csv"
    script.write_text(textwrap.dedent(SCRIPT), encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, str(script), str(home), str(table)],
        env=ENVIRONMENT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    assert sorted({*open_study(home).swings["swing"]} - {*pd.read_csv(table)["swing"]}) == ["G03_1"]
    left_out = pd.read_csv(f"{table}.left_out").set_index("swing")
    assert "memory" in left_out.loc["G03_1", "what"] and "__main__" not in left_out.to_string()


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL, signal.SIGHUP, signal.SIGINT])
def test_workers_end_with_their_parent(home: Path, number: signal.Signals) -> None:
    """Truth: other (the system's list of processes). After 5 s no child is left; nothing half-written stands there."""
    with start(home) as running:
        workers = when_measuring(running, home)
        assert len(workers) >= 2
        running.send_signal(number)
        out, err = running.communicate(timeout=60)
    time.sleep(0 if number != signal.SIGKILL else 5)
    assert not [pid for pid in workers if is_running(pid)]
    assert "Traceback" not in err + out
    if number != signal.SIGKILL:
        assert running.returncode == 128 + number
        assert "earlier results are unchanged" in err
    assert not (home / "results").exists()


@pytest.mark.slow
def test_an_interrupt_from_the_keyboard_shows_no_traceback(home: Path) -> None:
    """Truth: other. Ctrl-C reaches every process of a terminal at once, here the whole process group."""
    command = [sys.executable, "-m", "swinglab", "study", str(home), "--workers", "2"]
    with subprocess.Popen(
        command,
        env=ENVIRONMENT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    ) as running:
        when_measuring(running, home)
        os.killpg(running.pid, signal.SIGINT)
        out, err = running.communicate(timeout=60)
    assert running.returncode == 130
    assert "Traceback" not in err + out and "KeyboardInterrupt" not in err


def seconds_of_a_run(home: Path) -> float:
    """How long a run takes that is left to its end."""
    begin = time.monotonic()
    with start(home) as running:
        assert running.wait() == 0
    return time.monotonic() - begin


def result_tables(home: Path) -> dict[str, bytes]:
    """Every table of a results folder, with the pages' tables too, by name."""
    results = home / "results"
    return {p.relative_to(results).as_posix(): p.read_bytes() for p in sorted(results.rglob("*.csv*"))}


@pytest.mark.slow
def test_killed_at_random_moments_leaves_the_state_before_or_after(home: Path) -> None:
    """Truth: made. 20 kills, half of them with nothing kept; after each every table is whole, at the end as before."""
    settings = (home / "study.toml").read_text(encoding="utf-8")

    def retitle(word: object) -> None:
        """With another title the results of the run before do not hold, so that the next one writes new ones."""
        text = settings.replace('title = "', f'title = "{word} ', 1)
        (home / "study.toml").write_text(text, encoding="utf-8")

    cold = seconds_of_a_run(home)
    expected = result_tables(home)
    assert {f"{name}.csv" for name in (*TABLES, "findings")} <= set(expected)
    retitle("again")
    warm = seconds_of_a_run(home)
    for trial, share in enumerate(np.random.default_rng(20).uniform(0.1, 1.0, 20)):
        retitle(trial)
        if trial % 2:
            shutil.rmtree(home / ".swinglab", ignore_errors=True)  # a kill may have come before it was made
        with start(home) as running:
            time.sleep(share * (cold if trial % 2 else warm))
            running.kill()
            running.wait()
        study = open_study(home)
        read_results(study, home / "results")  # restores what a kill between two moves left aside
        assert read_record(home / "results")
        assert result_tables(home) == expected
    seconds_of_a_run(home)
    assert result_tables(home) == expected
    assert read_results(open_study(home), home / "results") is not None
    assert not [path.name for path in home.iterdir() if path.name.startswith(".results")]
