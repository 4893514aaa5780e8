"""New capture files in a study: those that are whole, those still being written, those that cannot be read."""

from __future__ import annotations

import filecmp
import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from swinglab.load import is_whole
from swinglab.study import CAPTURE_ENDINGS

#: A file whose size and time stay the same for so long is looked at.
SETTLED_S = 0.8
#: A file that stays incomplete for so long is reported as damaged; it is still entered if it grows later.
GIVEN_UP_S = 20.0


@dataclass(slots=True)
class _Seen:
    size: int
    changed_ns: int
    since_s: float


@dataclass(slots=True)
class Arrivals:
    """Watches a folder of captures, at any depth.

    folder : the captures' folder. known : files that the study already holds. waiting : file -> why it is not
    entered yet. refused : file -> why it will not be entered.
    """

    folder: Path
    known: set[Path]
    waiting: dict[Path, str] = field(default_factory=dict)
    refused: dict[Path, str] = field(default_factory=dict)
    _seen: dict[Path, _Seen] = field(default_factory=dict)
    _by_size: dict[int, list[Path]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for path in sorted(self.known):
            with suppress(OSError):  # a capture that is missing is named where it is measured
                self._by_size.setdefault(path.stat().st_size, []).append(path)

    def poll(self) -> list[Path]:
        """Files that became whole since the last call, oldest first.

        A file is whole when it stopped changing and holds all that it declares. A second copy of a capture that
        the study holds is refused, with the name of the first.
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
        """Count a file as part of the study."""
        self.known.add(path)
        self._by_size.setdefault(path.stat().st_size, []).append(path)

    def _candidates(self) -> Iterable[Path]:
        """Capture files that the study does not hold, oldest first; a study's thousands are known by name."""
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
            self.refused[path] = f"holds the same bytes as {name}"
        elif whole:
            ready.append(path)
        elif still_s > GIVEN_UP_S:
            self.refused[path] = "is incomplete or damaged, and stopped growing"
        else:
            self.waiting[path] = "is not complete yet"

    def _same_as(self, path: Path, ready: list[Path]) -> Path | None:
        """A capture of the same bytes, of the study or entered now; files of another size are not read."""
        for other in [*self._by_size.get(path.stat().st_size, []), *ready]:
            with suppress(FileNotFoundError):  # removed since
                if filecmp.cmp(path, other, shallow=False):
                    return other
        return None


def _age(path: Path) -> tuple[int, str]:
    """Oldest first, and by name within one instant."""
    try:
        return path.stat().st_mtime_ns, path.as_posix()
    except FileNotFoundError:  # removed since it was listed
        return 0, path.as_posix()
