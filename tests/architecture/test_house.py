"""The house rules of DEVELOPERS.md, held by reading the source. Truth: other (Python's own ast)."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import swinglab

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "swinglab"
MODULES = sorted(PACKAGE.rglob("*.py"))

BASE = ("errors", "conventions", "columns", "records", "finding_words", "shipped", "whole_file")
STAGES = ("load", "segments", "events", "strike", "statistics", "figures", "simulate")
#: What a room may import besides itself. The base rooms stand in import order.
LATE = ("answers", "study", "begin", "report", "watch", "controls")
ALLOWED = (
    {"errors": set(), "conventions": set(), "columns": {"errors", "conventions"},
     "records": {"errors", "conventions", "columns"}, "finding_words": set(), "shipped": {"errors"},
     "whole_file": set(), "environment": set()}
    | {"signals": {"errors"}}
    | {stage: {*BASE, "signals"} for stage in STAGES}
    | {room: {*BASE, "signals", *STAGES, *LATE[:i]} for i, room in enumerate(LATE)}
    | {"commands": {*BASE, "signals", *STAGES, *LATE, "environment", "console", "open_notebooks"},
       "open_notebooks": {*BASE, "study", "report", "lab", "page_state", "console"},
       "lab": {*BASE, "page_state"}, "warm_kernels": set(), "page_state": set(),
       "first_page": {"page_state"}, "console": set(), "__main__": {"environment", "commands"},
       "__init__": set()}
)  # fmt: skip
#: Run before the environment exists, by whatever Python was called.
FIRST = ("__init__.py", "__main__.py", "environment.py")
VAGUE = {"utils", "util", "helpers", "helper", "common", "misc", "tools"}
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "swinglab", "notebooks", "tests", "data_demo",
    "references",
}  # fmt: skip


def name_of(path: Path) -> str:
    """Path of a module from the root, for messages and test names."""
    return path.relative_to(ROOT).as_posix()


def tree_of(path: Path) -> ast.Module:
    """Syntax tree of a module."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def room_of(path: Path) -> str:
    """The room a module belongs to: its folder, or itself where it stands at the top of the package."""
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def imported_modules(path: Path) -> list[tuple[str, int]]:
    """Modules of swinglab that a module imports, wherever in it, with the line."""
    found = []
    package = ["swinglab", *path.relative_to(PACKAGE).parent.parts]
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            found.append((module, node.lineno))
            found += [(f"{module}.{alias.name}", node.lineno) for alias in node.names]
    return [(module, line) for module, line in found if module.split(".")[0] == "swinglab"]


def layer_faults(path: Path) -> list[str]:
    """Imports of a module that go to a room it may not know."""
    room = room_of(path)
    if room not in ALLOWED:
        return [f"{name_of(path)}: the room {room} stands in no layer"]
    known = set(ALLOWED) - {"__init__"}
    return [
        f"{name_of(path)}:{line}: {room} may not import {module}"
        for module, line in imported_modules(path)
        if len(module.split(".")) > 1
        and (other := module.split(".")[1]) in known
        and other != room
        and other not in ALLOWED[room]
    ]


def test_every_room_imports_only_what_stands_to_its_left() -> None:
    """Truth: other. Base rooms, signals, stages (never one another), answers, study, report, controls, commands."""
    faults = [fault for path in MODULES for fault in layer_faults(path)]
    assert not faults, "\n".join(faults)


def test_the_layer_test_sees_a_stage_that_imports_another(tmp_path: Path, monkeypatch) -> None:
    """Truth: made. A planted import, in each of the forms Python has, is found."""
    monkeypatch.setattr(sys.modules[__name__], "PACKAGE", tmp_path / "swinglab")
    monkeypatch.setattr(sys.modules[__name__], "ROOT", tmp_path)
    planted = tmp_path / "swinglab" / "events" / "finding.py"
    planted.parent.mkdir(parents=True)
    for line in (
        "from swinglab.segments import measure_posture",
        "import swinglab.segments",
        "from swinglab import segments",
        "from ..segments import frames",
        "def f():\n    from swinglab.segments import frames",
    ):
        planted.write_text(line, encoding="utf-8")
        assert layer_faults(planted), line
    planted.write_text(
        "from swinglab.records import Trial\nfrom swinglab.events.arms import find", encoding="utf-8"
    )
    assert not layer_faults(planted)


def test_no_module_imports_itself_in_a_circle() -> None:
    """Truth: other. Imports made when a module loads (not those inside functions or for types) have no cycle."""
    graph = {}
    names = {
        ".".join(p.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): p for p in MODULES
    }
    for module, path in names.items():
        tree = tree_of(path)
        late = {
            id(inner)
            for node in ast.walk(tree)
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.If)
            for inner in ast.walk(node)
        }
        targets = set()
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and id(node) not in late and (node.module or "") in names:
                inner = {f"{node.module}.{alias.name}" for alias in node.names} & set(names)
                # A shelf imports its own modules; a module that names its shelf would close the circle.
                targets |= inner or {node.module}
            elif isinstance(node, ast.Import) and id(node) not in late:
                targets |= {alias.name for alias in node.names} & set(names)
        graph[module] = targets - {module}
    done: set[str] = set()

    def walk(module: str, way: tuple[str, ...]) -> None:
        assert module not in way, " -> ".join([*way, module])
        if module not in done:
            for target in sorted(graph[module]):
                walk(target, (*way, module))
            done.add(module)

    for module in graph:
        walk(module, ())


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_modules_and_functions_stay_short(path: Path) -> None:
    """Truth: other. At most 400 lines a module and 60 lines of code a function, its docstring aside."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert code_lines(node) <= 60, (
                f"{name_of(path)}:{node.lineno} {node.name} has {code_lines(node)} lines"
            )


def code_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function without its docstring."""
    whole = (node.end_lineno or node.lineno) - node.lineno + 1
    first = node.body[0]
    has_docstring = ast.get_docstring(node, clean=False) is not None
    return whole - ((first.end_lineno or 0) - first.lineno + 1 if has_docstring else 0)


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_modules_have_a_plain_name_and_say_what_they_are(path: Path) -> None:
    """Truth: other. No vague names; a docstring on every module."""
    assert not VAGUE & set(path.relative_to(PACKAGE).with_suffix("").parts)
    assert ast.get_docstring(tree_of(path)), f"{name_of(path)} has no docstring"


@pytest.mark.parametrize("path", sorted(PACKAGE.glob("*/__init__.py")), ids=name_of)
def test_a_rooms_init_is_its_shelf_and_nothing_else(path: Path) -> None:
    """Truth: other. Imports and ``__all__`` only."""
    for node in tree_of(path).body:
        is_docstring = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        is_import = isinstance(node, ast.ImportFrom)
        is_shelf = isinstance(node, ast.Assign) and [ast.unparse(t) for t in node.targets] == ["__all__"]
        assert is_docstring or is_import or is_shelf, (
            f"{name_of(path)}:{node.lineno} does more than set a shelf"
        )


def test_importing_swinglab_reads_the_standard_library_only_and_touches_nothing() -> None:
    """Truth: other. Python's own audit hook sees no file written, no socket, no foreign module."""
    watch = """
import json, os, sys
before = set(sys.modules)
environment, folder = dict(os.environ), os.getcwd()
seen = []
def look(event, args):
    if event.startswith(("socket.", "os.mkdir", "os.remove", "subprocess.", "os.putenv")):
        seen.append(event)
    if event == "open" and isinstance(args[0], str):
        writes = isinstance(args[1], str) and set(args[1]) & set("wax+")
        if writes or not args[0].endswith((".py", ".pyc")):
            seen.append([event, args[0]])
sys.addaudithook(look)
import swinglab
loaded = {m.split(".")[0] for m in set(sys.modules) - before}
foreign = sorted(loaded - set(sys.stdlib_module_names) - {"swinglab"})
same = dict(os.environ) == environment and os.getcwd() == folder
print(json.dumps([seen, foreign, same]))
"""
    answer = subprocess.run(
        [sys.executable, "-B", "-c", watch], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert json.loads(answer.stdout) == [[], [], True]


@pytest.mark.parametrize("name", FIRST)
def test_what_runs_before_the_environment_reads_in_an_old_python(name: str) -> None:
    """Truth: other. Parsed with the grammar of Python 3.6; nothing but the standard library at the top."""
    text = (PACKAGE / name).read_text(encoding="utf-8")
    tree = ast.parse(text, feature_version=(3, 6))
    assert "annotations" not in [
        a.name for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) for a in n.names
    ]
    for node in tree.body:
        modules = [a.name for a in node.names] if isinstance(node, ast.Import) else []
        modules += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        for module in modules:
            assert module.split(".")[0] in {*sys.stdlib_module_names, "swinglab"}, f"{name} imports {module}"
    for node in ast.walk(tree):
        # Evaluated when the function is made: list[str] or X | Y would stop an older Python there.
        if isinstance(node, ast.FunctionDef):
            notes = [a.annotation for a in [*node.args.args, *node.args.kwonlyargs]] + [node.returns]
            assert not any(isinstance(n, ast.Subscript | ast.BinOp) for n in notes), f"{name}:{node.lineno}"


@pytest.mark.parametrize("name", ["__init__.py", "__main__.py"])
def test_what_an_old_python_reads_first_has_its_syntax(name: str) -> None:
    """Truth: other (the grammar of Python 2.7: no annotations, f-strings, keyword-only arguments, stars in lists)."""
    text = (PACKAGE / name).read_text(encoding="utf-8")
    assert text.isascii()
    for node in ast.walk(ast.parse(text)):
        assert not isinstance(
            node, ast.JoinedStr | ast.AnnAssign | ast.AsyncFunctionDef | ast.Nonlocal | ast.NamedExpr
        )
        if isinstance(node, ast.List | ast.Tuple | ast.Set):
            assert not any(isinstance(one, ast.Starred) for one in node.elts), f"{name}:{node.lineno}"
        assert not (isinstance(node, ast.Dict) and None in node.keys)
        if isinstance(node, ast.FunctionDef):
            plain = not node.args.kwonlyargs and not node.args.posonlyargs and node.returns is None
            assert plain and not any(a.annotation for a in node.args.args), f"{name}:{node.lineno}"
        if isinstance(node, ast.Raise):
            assert node.cause is None


@pytest.mark.parametrize("name", sorted(swinglab.__all__))
def test_every_public_name_resolves_and_says_what_it_is(name: str) -> None:
    """Truth: other. The shelf of swinglab, and a docstring on everything on it."""
    thing = getattr(swinglab, name)
    assert name == "__version__" or (thing.__doc__ and thing.__doc__.strip())


@pytest.mark.parametrize("room", ["signals", *STAGES, *LATE])
def test_every_name_on_a_rooms_shelf_says_what_it_is(room: str) -> None:
    """Truth: other. Each room sets ``__all__``; each function and class on it has a docstring of its own."""
    module = getattr(swinglab, room)
    assert module.__all__
    for name in module.__all__:
        thing = getattr(module, name)
        if callable(thing):
            assert (thing.__doc__ or "").strip(), f"{room}.{name} has no docstring"


def test_an_unknown_name_is_an_attribute_error() -> None:
    """Truth: made."""
    with pytest.raises(AttributeError, match="has no attribute 'nothing'"):
        swinglab.nothing  # noqa: B018


def tracked_files() -> list[Path]:
    """Files that git knows; a source archive has no git, there the tests that need it are skipped."""
    try:
        listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("not a git checkout")
    return [ROOT / name for name in listed.decode("utf-8").split("\0") if name and (ROOT / name).is_file()]


def test_the_top_level_holds_only_what_it_should() -> None:
    """Truth: made. The list of DEVELOPERS.md; dot-files aside."""
    tops = {path.relative_to(ROOT).parts[0] for path in tracked_files()}
    assert {name for name in tops if not name.startswith(".")} <= TOP_LEVEL


def test_no_file_is_large_or_names_a_package_host_or_leaves_a_note_for_later() -> None:
    """Truth: made. The words are put together here, or this file would hold them."""
    hosts = [
        *("pypi" + ".org", "pythonhosted" + ".org", "registry.npm" + "js", "debian" + ".org"),
        *("js" + "delivr", "unpkg" + ".com", "cdn" + "js"),
    ]
    notes = ["TO" + "DO", "FIX" + "ME", "XX" + "X"]
    faults = []
    for path in tracked_files():
        content = path.read_bytes()
        if len(content) > 1_000_000 and room_is_not_data(path):
            faults.append(f"{name_of(path)} is larger than 1 MB")
        if b"\0" in content[:8000]:
            continue
        text = content.decode("utf-8")
        faults += [f"{name_of(path)} names {word}" for word in hosts if word in text.lower()]
        faults += [f"{name_of(path)} holds {word}" for word in notes if word in text]
    assert not faults, "\n".join(faults)


def room_is_not_data(path: Path) -> bool:
    """Whether a file is none of the demo's captures."""
    return path.relative_to(ROOT).parts[0] != "data_demo"


def test_every_dependency_is_pinned() -> None:
    """Truth: made. constraints.txt pins each package that pyproject.toml names, with == and nothing else."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = [
        *project["dependencies"],
        *(d for extra in project["optional-dependencies"].values() for d in extra),
    ]
    lines = (PACKAGE / "constraints.txt").read_text(encoding="utf-8").splitlines()
    pins = [line for line in lines if line.strip() and not line.startswith("#")]
    assert all("==" in pin and "://" not in pin for pin in pins)
    pinned = {plain_name(pin) for pin in pins}
    assert {plain_name(d) for d in named} <= pinned


def plain_name(requirement: str) -> str:
    """Name of a requirement, as packaging standards compare it (lower case, hyphens)."""
    name = requirement
    for sign in "=<>!~[; ":
        name = name.split(sign)[0]
    return name.strip().lower().replace("_", "-").replace(".", "-")


def test_every_test_that_the_table_of_faults_names_exists() -> None:
    """Truth: other (the files of tests). What DEVELOPERS.md promises under a fault is held by a test of that name."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.split("## What is promised under which fault")[1].split("\n## ")[0]
    rows = [line for line in table.splitlines() if line.startswith("| ")][1:]
    assert len(rows) > 30
    for row in rows:
        named = re.findall(r"`(tests/[\w/]+\.py)(?:::(\w+))?`", row)
        assert named, f"no test stands in the row: {row}"
        for file, test in named:
            source = (ROOT / file).read_text(encoding="utf-8")
            assert f"def {test or 'test_'}" in source, f"{file} has no {test}"
