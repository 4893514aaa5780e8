"""The examples in docstrings give what they say; those that need a capture are marked and not run."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

import swinglab

ROOT = Path(swinglab.__file__).parent
MODULES = sorted(
    ".".join(("swinglab", *path.relative_to(ROOT).with_suffix("").parts))
    for path in ROOT.rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_run(name: str) -> None:
    """Truth: made. Each example of a module; the printed value is its own."""
    found = doctest.testmod(importlib.import_module(name))
    assert not found.failed


def test_examples_are_found() -> None:
    """Truth: made. The list above holds the modules with examples, and examples that run are the greater part."""
    texts = [(ROOT.parent / (name.replace(".", "/") + ".py")) for name in MODULES]
    lines = [
        line for path in texts if path.is_file() for line in path.read_text(encoding="utf-8").splitlines()
    ]
    shown = [line for line in lines if line.lstrip().startswith(">>> ")]
    assert len(MODULES) > 70 and len(shown) > 150
    assert sum("doctest: +SKIP" in line for line in shown) < len(shown) / 4
