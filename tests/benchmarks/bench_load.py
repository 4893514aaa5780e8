"""How fast captures open, beside a plain read of the bytes, ezc3d and c3d, in one run; run by hand.

    python tests/benchmarks/bench_load.py [rounds]

60 points x 60,000 frames, warm cache; medians of the plain read and of swinglab in turn, of two runs of the slow
readers. On a machine that does other work the clock punishes the longer of two calls: processor time stands
beside it. The memory peak is that of a process of its own, less the peak of one that only imports swinglab.

Seen on two idle cores, clock and processor time alike:

    file            times a plain read    ezc3d          c3d            peak memory / points array
    intel float     2.2                   27 x slower    13 x slower    1.18
    dec float       2.5                   23             15             1.18
    mips float      2.2                   refuses it     12             1.17
    integers        10                    34             17 to 18       1.18

An integer file is half as large and decodes to the same array, and a plain read of it costs next to nothing; the
ratio to the bytes is therefore given for floats alone.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]
from load.made_c3d import made_c3d  # noqa: E402

POINTS, FRAMES = 60, 60_000


def _write(folder: Path) -> dict[str, Path]:
    rng = np.random.default_rng(3)
    points = np.cumsum(rng.normal(0, 1, (FRAMES, POINTS, 3)), axis=0).astype(np.float32)
    points = points / np.abs(points).max() * 2000 + 3000
    missing = rng.random((FRAMES, POINTS)) < 0.01
    made = {}
    for processor in ("intel", "dec", "mips"):
        for is_float in (True, False):
            name = f"{processor}_{'float' if is_float else 'integer'}"
            made[name] = folder / f"{name}.c3d"
            made[name].write_bytes(
                made_c3d(points, processor=processor, is_float=is_float, scale=0.2, missing=missing)
            )
    return made


def _readers(path: Path, *, slow: bool) -> dict[str, Callable[[], object]]:
    import c3d
    import ezc3d

    from swinglab.load import read_capture

    def with_c3d() -> None:
        with path.open("rb") as stream:
            for _ in c3d.Reader(stream).read_frames(copy=False):
                pass

    if not slow:
        return {"bytes": path.read_bytes, "swinglab": lambda: read_capture(path)}
    if path.name.startswith("mips"):  # ezc3d refuses that form
        return {"c3d": with_c3d}
    return {"ezc3d": lambda: ezc3d.c3d(str(path)), "c3d": with_c3d}


class Taken(NamedTuple):
    """What one call took: seconds on the clock and seconds of the processor (equal where nothing else runs)."""

    wall: float
    cpu: float


def _time(call: Callable[[], object]) -> Taken:
    wall, cpu = time.perf_counter(), time.process_time()
    call()
    return Taken(time.perf_counter() - wall, time.process_time() - cpu)


def _median(taken: list[Taken]) -> Taken:
    return Taken(*(statistics.median(column) for column in zip(*taken, strict=True)))


def _peak_bytes(path: Path | None) -> int:
    """Peak memory (Linux: VmHWM) of a fresh process that reads the file, or only imports the reader."""
    code = "import sys, swinglab.load as load; sys.argv[1:] and load.read_capture(sys.argv[1]); "
    code += "print([line.split()[1] for line in open('/proc/self/status') if line.startswith('VmHWM')][0])"
    arguments = [sys.executable, "-c", code, *([str(path)] if path else [])]
    done = subprocess.run(
        arguments, capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2]
    )
    return int(done.stdout) * 1024


def main() -> None:
    """Print one line a file: seconds of each reader, and the ratios, by clock and by processor time."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    warnings.simplefilter("ignore")
    with tempfile.TemporaryDirectory() as folder:
        files = _write(Path(folder))
        empty = _peak_bytes(None)
        # The slow readers come last: they leave the process with a heap that changes what memory costs.
        quick = {name: _in_turn(_readers(path, slow=False), rounds) for name, path in files.items()}
        for name, path in files.items():
            median = quick[name] | _in_turn(_readers(path, slow=True), 2)
            ours, plain = median["swinglab"], median["bytes"]
            peak = (_peak_bytes(path) - empty) / (FRAMES * POINTS * 3 * 8)
            print(
                f"{name}: bytes {plain.wall:.4f} s, swinglab {ours.wall:.4f} s = {ours.wall / plain.wall:.2f} x "
                f"(cpu {ours.cpu / plain.cpu:.2f} x); peak memory {peak:.2f} x the points array"
            )
            for reader in median.keys() - {"bytes", "swinglab"}:
                slow = median[reader]
                print(
                    f"    {reader} {slow.wall:.2f} s = {slow.wall / ours.wall:.0f} x (cpu {slow.cpu / ours.cpu:.0f} x)"
                )


def _in_turn(readers: dict[str, Callable[[], object]], rounds: int) -> dict[str, Taken]:
    """Medians of each reader, all in turn, after one call each to warm up."""
    taken: dict[str, list[Taken]] = {reader: [] for reader in readers}
    for round_ in range(rounds + 1):
        for reader, call in readers.items():
            if round_ or rounds > 2:
                taken[reader].append(_time(call))
    return {reader: _median(times[rounds > 2 :]) for reader, times in taken.items()}


if __name__ == "__main__":
    main()
