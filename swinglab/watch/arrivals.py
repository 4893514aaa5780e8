"""Detection of new capture files in a study: complete, still being written, or unreadable."""

from __future__ import annotations

import filecmp
import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from swinglab.load import is_whole
from swinglab.study import CAPTURE_ENDINGS

#: Time (s) without change of size and modification time after which a file is examined.
SETTLED_S = 0.8
#: Time (s) after which an incomplete file is reported as damaged; it is still added if it grows later.
GIVEN_UP_S = 20.0


@dataclass(slots=True)
class _Seen:
    """Size (bytes) and modification time of a file, and the time since which both have not changed (s)."""

    size: int
    changed_ns: int
    since_s: float


@dataclass(slots=True)
class Arrivals:
    """Watcher that finds new capture files in a folder and its subfolders.

    folder : the folder captures/ of a study. known : files that the study already contains. waiting : file -> reason
    why the file is not added yet. refused : file -> reason why the file is never added.
    """

    folder: Path
    known: set[Path]
    waiting: dict[Path, str] = field(default_factory=dict)
    refused: dict[Path, str] = field(default_factory=dict)
    _seen: dict[Path, _Seen] = field(default_factory=dict)
    _by_size: dict[int, list[Path]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for path in sorted(self.known):
            with suppress(OSError):  # a missing capture is reported when it is measured
                self._by_size.setdefault(path.stat().st_size, []).append(path)

    def poll(self) -> list[Path]:
        """Return the new capture files that have been completed since the last call, oldest first.

        A file is complete when it no longer changes and contains all the data that it declares. A second copy of a
        capture that the study already has is refused. `waiting` and `refused` are updated.
        """
        now = time.monotonic()
        ready: list[Path] = []
        self.waiting.clear()
        for path in self._candidates():
            try:
                stat = path.stat()
            except OSError:
                continue  # removed or renamed between the listing and now
            seen = self._seen.get(path)
            if seen is None or (seen.size, seen.changed_ns) != (stat.st_size, stat.st_mtime_ns):
                self._seen[path] = _Seen(stat.st_size, stat.st_mtime_ns, now)
                self.refused.pop(path, None)
                self.waiting[path] = "is being written"
            elif path not in self.refused:
                self._settle(path, now - seen.since_s, ready)
        return ready

    def enter(self, path: Path) -> None:
        """Record that a capture file is now part of the study."""
        self.known.add(path)
        self._by_size.setdefault(path.stat().st_size, []).append(path)

    def _candidates(self) -> Iterable[Path]:
        """Return capture files that the study does not have yet, oldest first."""
        new = (path for path in self.folder.rglob("*") if path not in self.known)
        files = {path.resolve() for path in new if path.suffix.lower() in CAPTURE_ENDINGS}
        return sorted((path for path in files if path not in self.known and path.is_file()), key=_age)

    def _settle(self, path: Path, still_s: float, ready: list[Path]) -> None:
        if still_s < SETTLED_S:
            self.waiting[path] = "is being written"
            return
        try:
            whole, first = is_whole(path), self._same_as(path, ready)
        except OSError as error:
            self.waiting[path] = f"cannot be opened yet ({error.strerror})"
            return
        if first is not None:
            name = first.name if first.parent == path.parent else "another capture of the study"
            self.refused[path] = f"is not added, because its content is the same as that of {name}"
        elif whole:
            ready.append(path)
        elif still_s > GIVEN_UP_S:
            self.refused[path] = "is incomplete or damaged, and is no longer being written"
        else:
            self.waiting[path] = "is not complete yet"

    def _same_as(self, path: Path, ready: list[Path]) -> Path | None:
        """Return a capture with the same content, from the study or `ready`; None if there is none.

        Only files of equal size are read.
        """
        for other in [*self._by_size.get(path.stat().st_size, []), *ready]:
            with suppress(FileNotFoundError):  # removed since
                if filecmp.cmp(path, other, shallow=False):
                    return other
        return None


def _age(path: Path) -> tuple[int, str]:
    """Return a key that sorts files by modification time, the oldest first, and then by name."""
    try:
        return path.stat().st_mtime_ns, path.as_posix()
    except FileNotFoundError:  # removed since it was listed
        return 0, path.as_posix()
