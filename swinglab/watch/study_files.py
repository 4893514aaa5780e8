"""Detection of changes to a study's own files, such as a new device table or an edit in a spreadsheet."""

from __future__ import annotations

from pathlib import Path

from swinglab.study import MATCH_FILE, Study

_OWN = ("study.toml", "golfers.csv", "swings.csv", "events_by_hand.csv", "excluded_by_hand.csv")


class StudyFiles:
    """State of a study's own files (size, time of last change, identity), to detect later changes.

    Create it before the study is opened again, from the study as opened before: changes made while the study is being
    read are then detected by the next call of `have_changed`.
    """

    def __init__(self, study: Study) -> None:
        self._folder = study.folder
        device = (study.device.file, MATCH_FILE) if study.device else ()
        self.names = (*_OWN, *device)
        self._stamps = self._now()

    def have_changed(self) -> bool:
        """Return whether a file of the study has changed since the last call, or since this object was created."""
        now = self._now()
        changed, self._stamps = now != self._stamps, now
        return changed

    def _now(self) -> dict[str, tuple[int, int, int] | None]:
        return {name: _stamp(self._folder / name) for name in self.names}


def _stamp(path: Path) -> tuple[int, int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns, found.st_ino
