"""What a notebook's page shows first: the stored answer, as long as nothing has changed since."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from swinglab.page_state import first_page_now, state_of_inputs, state_of_records, write_first_page


def _study(folder: Path) -> Path:
    (folder / "captures" / "g1").mkdir(parents=True)
    for name in ("study.toml", "swings.csv", "captures/g1/one.c3d"):
        (folder / name).write_text(name, encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    "change",
    [
        lambda s: (s / "swings.csv").write_text("other swings", encoding="utf-8"),
        lambda s: (s / "events_by_hand.csv").write_text("an event by hand", encoding="utf-8"),
        lambda s: (s / "captures" / "g1" / "one.c3d").unlink(),
        lambda s: (s / "captures" / "g1" / "two.c3d").touch(),
        lambda s: os.utime(s / "captures" / "g1" / "one.c3d", ns=(1, 1)),
        lambda s: ((s / "results").mkdir(), (s / "results" / "run.json").write_text("{}", encoding="utf-8")),
    ],
    ids=[
        "a table",
        "an event by hand",
        "a capture less",
        "a capture more",
        "a capture touched",
        "another run",
    ],
)
def test_a_stored_picture_is_never_shown_after_a_change(tmp_path: Path, change) -> None:
    """Truth: made."""
    study, path = _study(tmp_path / "study"), tmp_path / "first.json"
    assert first_page_now(path) == ""
    write_first_page(path, study, "<p>an answer</p>", state_of_inputs(study) | state_of_records(study))
    assert first_page_now(path) == "<p>an answer</p>"
    change(study)
    assert first_page_now(path) == ""
