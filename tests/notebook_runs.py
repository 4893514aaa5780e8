"""Runs a notebook as JupyterLab would, and finds the errors that hide in widget outputs."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient

ROOT = Path(__file__).resolve().parents[1]
NOTEBOOKS = ROOT / "notebooks"


def run_notebook(
    path: Path, folder: Path, *, asked: dict[str, str] | None = None
) -> tuple[Any, dict[str, Any]]:
    """Run a copy of a notebook in a folder.

    `asked` maps names to expressions, evaluated in the kernel after the last cell. Returns the run notebook
    and their values (what JSON can carry).
    """
    folder.mkdir(parents=True, exist_ok=True)
    copy = folder / path.name
    if copy != path:
        shutil.copyfile(path, copy)
    notebook = nbformat.read(copy, as_version=4)
    pairs = ", ".join(f"{name!r}: {expression}" for name, expression in (asked or {}).items())
    probe = f"import json as _json\nprint(_json.dumps({{{pairs}}}, default=float))"
    notebook.cells.append(nbformat.v4.new_code_cell(probe))
    NotebookClient(
        notebook, timeout=600, kernel_name="python3", resources={"metadata": {"path": str(folder)}}
    ).execute(env=os.environ | {"PYTHONPATH": str(ROOT)})
    last = notebook.cells.pop().outputs
    return notebook, json.loads("".join(output.get("text", "") for output in last))


def hidden_faults(notebook: Any) -> list[str]:
    """Errors in a run notebook that its cells do not show: in Output widgets, in messages, on standard error."""
    faults = []
    for cell in notebook.cells:
        for output in cell.get("outputs", []):
            if output.output_type == "error" or (output.output_type == "stream" and output.name == "stderr"):
                faults.append(str(output.get("text") or output.get("evalue")))
    widgets = notebook.metadata.get("widgets", {}).get("application/vnd.jupyter.widget-state+json", {})
    for model in widgets.get("state", {}).values():
        state = model.get("state", {})
        for output in state.get("outputs", []):
            if output.get("output_type") == "error":
                faults.append(f"{output.get('ename')}: {output.get('evalue')}")
        value = state.get("value")
        if isinstance(value, str) and 'role="alert"' in value:
            faults.append(f"a message in the page: {value}")
    return faults
