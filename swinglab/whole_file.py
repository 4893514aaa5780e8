"""Atomic writing of small files and new folders: completely or not at all."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path


def replace_text(path: Path, text: str) -> Path:
    """Replace a file's text atomically and return its path; if writing fails, the file is unchanged.

    The text is written as UTF-8, with line ends as given.

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
    """Context manager that provides a temporary folder, which becomes `folder` on success and is removed on failure.

    Parameters
    ----------
    folder : Path
        A folder that does not exist yet, or is empty.

    Raises
    ------
    OSError
        The parent folder cannot be written; raised before any work is done.
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
