"""The recipe "Add a quantity" of DEVELOPERS.md, followed word for word on a copy of the package."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import textwrap
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def blocks() -> list[str]:
    """The code of the recipe, in order: declaration, function, entry, test."""
    recipe = (
        (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Add a quantity")[1].split("\n## ")[0]
    )
    return re.findall(r"```(?:python|text)\n(.*?)   ```", recipe, flags=re.S)


def insert(path: Path, mark: str, text: str, *, after: bool) -> None:
    """Put text before or after a mark that is there once."""
    whole = path.read_text(encoding="utf-8")
    assert whole.count(mark) == 1
    path.write_text(whole.replace(mark, mark + text if after else text + mark), encoding="utf-8")


def test_a_quantity_added_by_the_recipe_is_measured_and_in_the_code_book(tmp_path: Path) -> None:
    """Truth: made. Copied code, pasted where the recipe says: its own test passes, the code book names it."""
    declared, function, entry, test = blocks()
    ignored = shutil.ignore_patterns("__pycache__")
    shutil.copytree(ROOT / "swinglab", tmp_path / "swinglab", ignore=ignored)
    shutil.copytree(ROOT / "references", tmp_path / "references", ignore=ignored)
    (tmp_path / "tests" / "segments").mkdir(parents=True)
    shutil.copy(ROOT / "tests" / "segments" / "made_body.py", tmp_path / "tests" / "segments")
    columns = tmp_path / "swinglab" / "columns" / "posture_columns.py"
    insert(
        columns,
        "def _other_posture() -> list[Column]:\n    return [\n",
        textwrap.indent(textwrap.dedent(declared), " " * 8),
        after=True,
    )
    quantities = tmp_path / "swinglab" / "segments" / "quantities.py"
    groups = "GROUPS: tuple[Group, ...] = (\n"
    insert(quantities, groups, textwrap.dedent(function) + "\n\n", after=False)
    insert(quantities, groups, textwrap.indent(textwrap.dedent(entry), " " * 4), after=True)
    (tmp_path / "tests" / "segments" / "test_heel_spacing.py").write_text(
        textwrap.dedent(test), encoding="utf-8"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join((str(tmp_path), str(tmp_path / "tests")))}

    def run(*words: str) -> None:
        done = subprocess.run(
            [sys.executable, *words], cwd=tmp_path, env=env, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stdout + done.stderr

    run("-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/segments")
    run("references/make_conventions.py")
    assert "`heel_spacing_cm`" in (tmp_path / "references" / "conventions.md").read_text(encoding="utf-8")
