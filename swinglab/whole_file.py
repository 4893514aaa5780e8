"""Small files and new folders, written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path


def replace_text(path: Path, text: str) -> Path:
    """Replace a file's text, UTF-8 with line ends as given; where that fails the file stands as it was.

    Raises
    ------
    OSError
        The disk is full, or the folder cannot be written.
    """
    beside = path.with_name(f"{path.name}.new")
    try:
        beside.write_text(text, encoding="utf-8", newline="")
        return beside.replace(path)
    except OSError as error:
        error.filename = error.filename or str(path)
        with contextlib.suppress(OSError):
            beside.unlink()
        raise


@contextlib.contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """A folder that takes the place of an empty or absent one when all is written, and vanishes if anything fails.

    Raises
    ------
    OSError
        The disk is full or cannot be written: at once, before any work is done.
    """
    folder.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}.new.{os.getpid()}.", dir=folder.parent))
    try:
        trial = beside / "trial"
        trial.write_bytes(bytes(65536))
        trial.unlink()
        yield beside
        beside.chmod(0o755)
        if folder.exists():
            folder.rmdir()
        beside.replace(folder)
    except BaseException:
        shutil.rmtree(beside, ignore_errors=True)
        raise
