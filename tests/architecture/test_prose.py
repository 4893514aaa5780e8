"""No decision reads prose: methods, readings, warnings and notes are words for people; decisions read keys."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "swinglab"
#: Rooms that measure are left out: there the method of an event is a key among fixed names.
MEASURED = {"load", "segments", "events", "strike", "figures"}
MODULES = [
    path for path in sorted(PACKAGE.rglob("*.py")) if path.relative_to(PACKAGE).parts[0] not in MEASURED
]
#: Attributes (and columns of tables) that hold words.
PROSE = {"method", "reading", "warnings", "note"}
#: Where words are made.
MAKERS = {"finding_words.py", "report/wording.py"}
_STRING_TESTS = {
    "startswith", "endswith", "match", "search", "fullmatch", "find", "index", "count", "contains", "removeprefix",
    "removesuffix", "partition", "split",
}  # fmt: skip


def is_prose(node: ast.AST) -> bool:
    """Whether an expression is an attribute that holds words, or a part of one."""
    if isinstance(node, ast.Attribute):
        return node.attr in PROSE
    if isinstance(node, ast.Subscript):
        return is_prose(node.value)
    return False


def decisions_on_prose(tree: ast.Module) -> list[int]:
    """Lines on which words are compared, searched or matched."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            if any(is_prose(side) for side in (node.left, *node.comparators)):
                found.append(node.lineno)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            if node.func.attr in _STRING_TESTS and (
                is_prose(node.func.value) or any(is_prose(arg) for arg in node.args)
            ):
                found.append(node.lineno)
        elif isinstance(node, ast.Match) and is_prose(node.subject):
            found.append(node.lineno)
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_no_decision_reads_words(path: Path) -> None:
    """Truth: other (Python's own ast). Words are not compared, searched or matched outside the rooms that make them."""
    if path.relative_to(PACKAGE).as_posix() in MAKERS:
        return
    assert not decisions_on_prose(ast.parse(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize(
    "line",
    [
        'f.method == "x"', '"x" in f.warnings', 'f.reading.startswith("x")', 're.match("x", f.note)',
        'f.warnings[0].endswith("x")', "match f.method:\n    case 'x': pass", 'f.method in ("a", "b")',
    ],
)  # fmt: skip
def test_a_planted_decision_is_found(line: str) -> None:
    """Truth: made."""
    assert decisions_on_prose(ast.parse(line))
