"""A study that was sent by mail: nothing of it runs, and what is not the kit's is named."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest

from swinglab import lab, open_notebooks
from swinglab.__main__ import main

ROOT = Path(__file__).resolve().parents[2]
PLANTED = 'raise RuntimeError("code of the study ran")\n'


@pytest.fixture
def mailed(home: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A study with code under the kit's name and a changed notebook; Jupyter's own data in a folder of the test."""
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path / "jupyter"))
    (home / "notebooks").mkdir()
    (home / "notebooks" / "swinglab.py").write_text(PLANTED, encoding="utf-8")
    (home / "helper.py").write_text(PLANTED, encoding="utf-8")
    notebook = json.loads(lab.kit_notebooks()[0].read_text(encoding="utf-8"))
    notebook["cells"][-1]["source"] = "changed by somebody"
    (home / "notebooks" / lab.kit_notebooks()[0].name).write_text(json.dumps(notebook), encoding="utf-8")
    return home


def test_what_is_not_the_kits_is_named_and_not_opened_as_such(
    mailed: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. The server starts at the list of files; a notebook saved on this machine opens again."""
    calls: list[list[str]] = []
    monkeypatch.setattr(lab, "run_lab", lambda command, **more: calls.append(command) or 0)
    monkeypatch.setattr(open_notebooks, "measure_first", lambda *a, **k: None)
    monkeypatch.setenv("SWINGLAB_NO_VENV", "1")
    first = lab.kit_notebooks()[0].name
    assert main(["notebooks", str(mailed), "--no-browser"]) == 0
    words = capsys.readouterr().err
    assert f"differ from swinglab's own and were not saved on this computer: {first}" in words
    assert "helper.py, notebooks/swinglab.py" in words
    assert "--LabApp.default_url=/lab" in calls[-1]
    lab.sign_notebook(mailed / "notebooks" / first)
    assert main(["notebooks", str(mailed), "--no-browser"]) == 0
    assert f"--LabApp.default_url=/lab/tree/{first}" in calls[-1]


def test_a_kernel_imports_the_kit_and_not_the_studys_file(
    mailed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: other (a real kernel, in the folder of the notebooks, as the server starts it)."""
    manager = pytest.importorskip("jupyter_client.manager")
    for name, value in lab.lab_environment().items():
        if name.startswith("PYTHON"):
            monkeypatch.setenv(name, value)
    kernel, client = manager.start_new_kernel(
        kernel_name="python3", cwd=str(mailed / "notebooks"), env=dict(os.environ)
    )
    try:
        answers: list[str] = []
        client.execute_interactive(
            "import swinglab, sys; print(swinglab.__file__, sys.flags.safe_path)", timeout=60,
            output_hook=lambda message: answers.append(str(message["content"])),
        )  # fmt: skip
    finally:
        client.stop_channels()
        kernel.shutdown_kernel(now=True)
    said = "".join(answers)
    assert "code of the study ran" not in said
    assert str(ROOT / "swinglab" / "__init__.py") in said and "True" in said


def test_copies_of_the_kits_notebooks_are_no_foreign_ones(home: Path, monkeypatch, tmp_path: Path) -> None:
    """Truth: made. Also after outputs were saved in them."""
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path / "jupyter"))
    lab.copy_missing(home / "notebooks")
    path = home / "notebooks" / lab.kit_notebooks()[0].name
    notebook = json.loads(path.read_text(encoding="utf-8"))
    notebook["metadata"]["kernelspec"] = {"name": "other", "display_name": "other"}
    path.write_text(json.dumps(notebook), encoding="utf-8")
    assert lab.foreign_notebooks(home / "notebooks") == [] and lab.foreign_code(home) == []
    path.write_text("no notebook", encoding="utf-8")
    assert lab.foreign_notebooks(home / "notebooks") == [path.name]
    shutil.rmtree(home / "notebooks")
