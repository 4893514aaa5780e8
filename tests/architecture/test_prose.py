"""No decision reads prose: methods, readings, warnings and notes are words for people; decisions read keys."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "swinglab"
#: Where words are made.
MAKERS = {"finding_words.py", "report/wording.py"}
MODULES = [
    path for path in sorted(PACKAGE.rglob("*.py")) if path.relative_to(PACKAGE).as_posix() not in MAKERS
]
#: Attributes that hold words.
PROSE = {"method", "reading", "warnings", "note", "notes"}
_STRING_TESTS = {
    "startswith", "endswith", "match", "search", "fullmatch", "find", "index", "count", "contains", "removeprefix",
    "removesuffix", "partition", "split", "get",
}  # fmt: skip
_FUNCTIONS = (ast.FunctionDef, ast.Module)


def is_prose(node: ast.AST, names: frozenset[str] = frozenset()) -> bool:
    """Whether an expression holds words: an attribute of `PROSE`, a part of one, or a variable bound to one."""
    if isinstance(node, ast.Name):
        return node.id in names
    if isinstance(node, ast.Attribute):
        return node.attr in PROSE
    if isinstance(node, ast.Subscript):
        return is_prose(node.value, names)
    return False


def within(scope: ast.AST) -> Iterator[ast.AST]:
    """Nodes of a function or module without those of the functions in it."""
    for child in ast.iter_child_nodes(scope):
        yield child
        if not isinstance(child, _FUNCTIONS):
            yield from within(child)


def bound_to_prose(scope: ast.AST) -> frozenset[str]:
    """Variables that are assigned words, or that loop over them."""
    pairs: list[tuple[ast.AST, ast.AST]] = []
    for node in within(scope):
        if isinstance(node, ast.Assign):
            pairs += [(target, node.value) for target in node.targets]
        elif isinstance(node, ast.For | ast.comprehension):
            pairs.append((node.target, node.iter))
        elif isinstance(node, ast.NamedExpr):
            pairs.append((node.target, node.value))
    return frozenset(to.id for to, value in pairs if isinstance(to, ast.Name) and is_prose(value))


def decisions_on_prose(tree: ast.Module) -> list[int]:
    """Lines on which words are compared, searched, matched, or look something up."""
    found = []
    for scope in ast.walk(tree):
        if not isinstance(scope, _FUNCTIONS):
            continue
        names = bound_to_prose(scope)
        for node in within(scope):
            if isinstance(node, ast.Compare):
                read = [node.left, *node.comparators]
            elif (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and node.func.attr in _STRING_TESTS
            ):
                read = [node.func.value, *node.args]
            elif isinstance(node, ast.Match):
                read = [node.subject]
            elif isinstance(node, ast.Subscript):
                read = [node.slice]
            else:
                continue
            if any(is_prose(part, names) for part in read):
                found.append(node.lineno)
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_no_decision_reads_words(path: Path) -> None:
    """Truth: other (Python's own ast). Words are not compared, searched or matched outside the rooms that make them."""
    assert not decisions_on_prose(ast.parse(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize(
    "line",
    [
        'f.method == "x"', '"x" in f.warnings', 'f.reading.startswith("x")', 're.match("x", f.note)',
        'f.warnings[0].endswith("x")', "match f.method:\n    case 'x': pass", 'f.method in ("a", "b")',
        'any("x" in text for text in f.warnings)', "rank.get(e.method, 2)", "rank[e.method]",
        'def look(e):\n    why = e.note\n    return why.startswith("x")',
        'for text in f.warnings:\n    print("x" in text)',
    ],
)  # fmt: skip
def test_a_planted_decision_is_found(line: str) -> None:
    """Truth: made."""
    assert decisions_on_prose(ast.parse(line))
