"""Published cases: references/published/*.toml, each with its source, flag, given, expected and tolerance."""

from __future__ import annotations

import tomllib
from pathlib import Path

FOLDER = Path(__file__).parent.parent / "references" / "published"
FLAGS = ("seen", "memory", "computed", "common practice, no source")


def cases(file: str) -> list[dict]:
    """The cases of one file; each must say where it comes from and how sure that is."""
    found = tomllib.loads((FOLDER / file).read_text(encoding="utf-8"))["case"]
    for case in found:
        missing = {"name", "source", "flag", "given", "expected", "tolerance"} - set(case)
        if missing or case["flag"] not in FLAGS:
            raise ValueError(
                f"{file}: case {case.get('name')} lacks {sorted(missing)} or has an unknown flag"
            )
    return found
