"""The code book is what the package says now, with a picture and a known source for every quantity."""

from __future__ import annotations

import importlib
import importlib.util
import re
from pathlib import Path

import pytest

from swinglab.columns import QUANTITIES, STRIKES, SWINGS

FOLDER = Path(__file__).resolve().parents[2] / "references"


@pytest.fixture(scope="module")
def book():
    """references/make_conventions.py as a module."""
    spec = importlib.util.spec_from_file_location("make_conventions", FOLDER / "make_conventions.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_code_book_is_up_to_date(book) -> None:
    """Truth: kept. After a change to columns.py: python references/make_conventions.py."""
    written = (FOLDER / "conventions.md").read_text(encoding="utf-8")
    assert written == book.text(), "run python references/make_conventions.py"


def test_every_column_stands_in_it_with_sign_frame_and_picture(book) -> None:
    """Truth: made. Names, frames and pictures of all quantities; the pictures' files are there and no others."""
    text = book.text()
    assert all(f"`{name}`" in text for name in (*QUANTITIES, *SWINGS, *STRIKES))
    for c in QUANTITIES.values():
        assert c.positive and c.meaning and c.source and book.frame_and_sequence(c)[0], c.name
    shown = {book.picture_name(c) for c in QUANTITIES.values()}
    assert shown == {path.stem for path in (FOLDER / "pictures").glob("*.svg")}


def test_its_sources_are_in_the_references(book) -> None:
    """Truth: other. Keys in brackets stand in references.bib; other words are the kit's own."""
    keys = set(re.findall(r"@\w+\{(\w+),", (FOLDER / "references.bib").read_text(encoding="utf-8")))
    cited = set(re.findall(r"\b([a-z]+\d{4})\b", " ".join(re.findall(r"\[([^]]+)\]", book.text()))))
    assert len(cited) > 10 and not cited - keys
    words = {word.strip() for c in QUANTITIES.values() for word in c.source.split(";")}
    assert words <= {*book.KEYS, "this kit"}
