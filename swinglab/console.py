"""Output of commands: lines of text, a progress line, and warnings of libraries in one line each."""

from __future__ import annotations

import sys
import time
import unicodedata
from collections.abc import Callable
from typing import Any, TextIO


def say(*lines: object, end: str = "\n", file: TextIO | None = None) -> None:
    """Print lines of text; control characters are printed as escape codes, so that they cannot control the terminal."""
    text = "\n".join(map(str, lines))
    shown = "".join(
        letter if letter in "\n\t" or _is_shown(letter) else ascii(letter)[1:-1] for letter in text
    )
    print(shown, end=end, file=file, flush=True)


def _is_shown(letter: str) -> bool:
    """Return False for control characters, line separators and marks of writing direction (UAX 9), else True."""
    turns = unicodedata.bidirectional(letter) in (
        "LRE",
        "RLE",
        "LRO",
        "RLO",
        "PDF",
        "LRI",
        "RLI",
        "FSI",
        "PDI",
    )
    return not turns and unicodedata.category(letter) not in ("Cc", "Zl", "Zp", "Cs")


def progress_line(done_words: str = "processed", things: str = "swings") -> Callable[[int, int, str], None]:
    """Return a function that reports progress on standard error, called with (done, total, name of the item).

    In a terminal it updates one line; otherwise it prints a line every few seconds. In the first second it prints
    nothing.

    Parameters
    ----------
    done_words, things : str
        The words in "processed 3 of 20 swings".
    """
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
    """Print a library's warning in one line, without source code; it replaces ``warnings.showwarning``."""
    say(f"swinglab: a library warns: {str(message).splitlines()[0][:200]}", file=sys.stderr)
