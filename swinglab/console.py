"""What a command prints while it works: progress on one line, and warnings of libraries in one line."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Any


def progress_line(done_words: str = "measured", things: str = "swings") -> Callable[[int, int, str], None]:
    """A callable that reports progress, on one line of a terminal or every few seconds."""
    started = time.monotonic()
    shown = started

    def report(done: int, total: int, swing: str) -> None:
        nonlocal shown
        now = time.monotonic()
        terminal = sys.stderr.isatty()
        if now - started < 1.0 or (done < total and now - shown < (0.1 if terminal else 5.0)):
            return
        shown = now
        words = f"{done_words} {done} of {total} {things} ({now - started:.0f} s)"
        ending = "\n" if done >= total or not terminal else ""
        print(("\r" if terminal else "") + words, end=ending, file=sys.stderr, flush=True)

    return report


def show_warning(message: Warning | str, *place: Any, **more: Any) -> None:
    """A library's warning in one line, without lines of its source."""
    print(f"swinglab: a library warns: {str(message).splitlines()[0][:200]}", file=sys.stderr)
