"""What both fuzz scripts share: one input after the other under limits of time and memory, counted by its outcome."""

from __future__ import annotations

import argparse
import resource
import signal
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parents[2]))
from swinglab.errors import SwinglabError

#: Seconds of processor time, and megabytes of the whole process, that no input below 1 MB may exceed.
MOST_SECONDS, MOST_MB = 5.0, 500
#: What is allowed: the input was read, refused in whole words, or (stored results alone) not believed.
ALLOWED = ("read", "refused", "not believed")


class TookTooLong(BaseException):
    """More processor time than `MOST_SECONDS`; no reader catches it."""


class Input(NamedTuple):
    """kind : for the counts. data : kept if it misbehaves. call : reads it; named : what an error must name."""

    kind: str
    data: Path
    call: Callable[[], object]
    named: str


def outcome(call: Callable[[], object], named: str) -> str:
    """One of `ALLOWED`, or a description of what must not happen; `call` may return such a description itself."""
    try:
        found = call()
    except SwinglabError as error:
        text = str(error)
        whole = error.what and named in text and len(text) < 40_000
        return "refused" if whole else f"an error that names no file or is too long: {text[:120]!r}"
    except (Exception, TookTooLong) as error:
        return f"{type(error).__name__}: {str(error)[:120]}"
    return found if isinstance(found, str) else "read"


def peak_mb() -> float:
    """The most memory that this process has held, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def options(number: int) -> argparse.Namespace:
    """--number, --seed and --seconds: the run ends at whichever comes first."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--number", type=int, default=number)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=840.0, help="end after so many seconds")
    parser.add_argument("--captures", default="", help="a folder of real captures to damage")
    return parser.parse_args()


def run(inputs: Iterable[Input], seed: int, seconds: float) -> int:
    """Read every input, print the counts, keep what misbehaved; returns how many did."""
    warnings.simplefilter("error")
    resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))

    def too_long(*_: object) -> None:
        raise TookTooLong(f"more than {MOST_SECONDS:g} s of processor time")

    signal.signal(signal.SIGPROF, too_long)
    counts: Counter[str] = Counter()
    slowest, bad, before = 0.0, 0, peak_mb()
    end = time.monotonic() + seconds
    for index, one in enumerate(inputs):
        signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
        begin = time.process_time()
        result = outcome(one.call, one.named)
        slowest = max(slowest, time.process_time() - begin)
        signal.setitimer(signal.ITIMER_PROF, 0)
        if peak_mb() > MOST_MB >= before:
            result = f"took the process from {before:.0f} to {peak_mb():.0f} MB"
        before = peak_mb()
        counts[f"{one.kind}: {result if result in ALLOWED else 'MISBEHAVED'}"] += 1
        if result not in ALLOWED:
            bad += 1
            kept = Path(tempfile.gettempdir()) / f"fuzz_{seed}_{index}_{one.data.name}"
            if one.data.is_file():
                kept.write_bytes(one.data.read_bytes())
            print(f"  {index} {one.kind}: {result}\n    kept as {kept.name}", flush=True)
        if time.monotonic() > end:
            break
    for kind, count in sorted(counts.items()):
        print(f"{kind}: {count}")
    print(
        f"seed {seed}: {counts.total()} inputs, {bad} misbehaved, slowest {slowest:.2f} s of processor time, "
        f"the process held {peak_mb():.0f} MB at most"
    )
    return bad
