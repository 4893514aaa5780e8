"""The page of public names is what the docstrings say now."""

from __future__ import annotations

import importlib.util
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "references"


def test_the_api_page_is_up_to_date() -> None:
    """Truth: kept. After a change of a public name or docstring: python references/make_api.py."""
    spec = importlib.util.spec_from_file_location("make_api", FOLDER / "make_api.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    written = (FOLDER / "api.md").read_text(encoding="utf-8")
    assert written == module.text(), "run python references/make_api.py"
