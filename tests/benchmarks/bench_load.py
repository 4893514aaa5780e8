"""How fast captures open, beside a plain read of the bytes, ezc3d and c3d, in one run; run by hand.

    python tests/benchmarks/bench_load.py [rounds]

60 points x 60,000 frames; each reader runs once to warm up, then in turn; medians. The memory peak is that of
a process of its own, less the peak of one that only imports swinglab.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
import warnings
from pathlib import Path

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


def _readers(path: Path) -> dict:
    import c3d
    import ezc3d

    from swinglab.load import read_capture

    def with_c3d() -> None:
        with path.open("rb") as stream:
            for _ in c3d.Reader(stream).read_frames(copy=False):
                pass

    readers = {"bytes": path.read_bytes, "swinglab": lambda: read_capture(path)}
    if not path.name.startswith("mips"):  # it refuses that form
        readers["ezc3d"] = lambda: ezc3d.c3d(str(path))
    return {**readers, "c3d": with_c3d}


def _time(call) -> float:  # type: ignore[no-untyped-def]
    begin = time.perf_counter()
    call()
    return time.perf_counter() - begin


def _peak_bytes(path: Path | None) -> int:
    """Peak memory of a fresh process that reads the file, or only imports the reader."""
    code = "import sys, swinglab.load as load, resource; sys.argv[1:] and load.read_capture(sys.argv[1]); "
    code += "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    arguments = [sys.executable, "-c", code, *([str(path)] if path else [])]
    done = subprocess.run(
        arguments, capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2]
    )
    return int(done.stdout) * 1024


def main() -> None:
    """Print one line a file: seconds of each reader, and the ratios."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    slow_rounds = min(rounds, 2)
    warnings.simplefilter("ignore")
    with tempfile.TemporaryDirectory() as folder:
        files = _write(Path(folder))
        empty = _peak_bytes(None)
        for name, path in files.items():
            readers = _readers(path)
            taken: dict[str, list[float]] = {reader: [] for reader in readers}
            for round_ in range(rounds + 1):
                for reader, call in readers.items():
                    slow = reader in ("ezc3d", "c3d")
                    if slow and (round_ == 0 or round_ > slow_rounds):
                        continue
                    seconds = _time(call)
                    if round_:
                        taken[reader].append(seconds)
            median = {reader: statistics.median(times) for reader, times in taken.items()}
            peak = (_peak_bytes(path) - empty) / (FRAMES * POINTS * 3 * 8)
            ours = median["swinglab"]
            others = ", ".join(
                f"{r} {median[r] / ours:.0f} x slower" for r in ("ezc3d", "c3d") if r in median
            )
            print(
                f"{name}: bytes {median['bytes']:.4f} s, swinglab {ours:.4f} s = {ours / median['bytes']:.2f} x; "
                f"{others}; peak memory {peak:.2f} x the points array"
            )


if __name__ == "__main__":
    main()
