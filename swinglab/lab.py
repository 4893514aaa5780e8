"""JupyterLab on a study's notebooks, with kernels that never import code from the study folder."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from swinglab.page_state import VARIABLE
from swinglab.shipped import shipped_folder

if TYPE_CHECKING:
    from nbformat.sign import NotebookNotary


def kit_notebooks() -> list[Path]:
    """Return the paths of the notebooks shipped with swinglab, in order of their numbers."""
    return sorted(shipped_folder("notebooks").glob("*.ipynb"))


def copy_missing(copies: Path) -> None:
    """Copy swinglab's notebooks that a folder lacks into it, and sign the copies so that Jupyter trusts them.

    Existing notebooks in the folder are not changed.
    """
    copies.mkdir(parents=True, exist_ok=True)
    for path in kit_notebooks():
        target = copies / path.name
        if not target.exists():
            beside = target.with_name(f".{target.name}.{os.getpid()}")
            try:
                shutil.copyfile(path, beside)
                beside.replace(target)
            except OSError:
                beside.unlink(missing_ok=True)
                raise
            sign_notebook(target)


def foreign_notebooks(copies: Path) -> list[str]:
    """Return the names of changed copies of swinglab's notebooks that were last saved on another computer.

    A copy is changed if its cells differ from those of the notebook of the same name. Jupyter signs notebooks that are
    saved on this computer. The signatures are stored outside the study, so they are not copied with it.
    """
    return [
        path.name
        for path in kit_notebooks()
        if (copies / path.name).is_file()
        and _cells(copies / path.name) != _cells(path)
        and not _is_signed(copies / path.name)
    ]


def foreign_code(folder: Path) -> list[str]:
    """Return the relative paths of Python files (.py) in a study folder and its notebooks folder."""
    found = [*folder.glob("*.py"), *(folder / "notebooks").rglob("*.py")]
    return sorted(path.relative_to(folder).as_posix() for path in found)


def _read(path: Path) -> Any:
    import nbformat

    try:
        return nbformat.read(path, as_version=4)
    except Exception:  # whatever a damaged or hostile file raises, it is no notebook of the kit's
        return None


def _cells(path: Path) -> list[tuple[str, str]] | None:
    notebook = _read(path)
    return None if notebook is None else [(cell.cell_type, cell.source) for cell in notebook.cells]


def _is_signed(path: Path) -> bool:
    notebook = _read(path)
    if notebook is None:
        return False
    with _notary() as notary:
        return bool(notary.check_signature(notebook))


def sign_notebook(path: Path) -> None:
    """Sign a notebook, so that Jupyter trusts it on this computer."""
    with _notary() as notary:
        notary.sign(_read(path))


@contextlib.contextmanager
def _notary() -> Iterator[NotebookNotary]:
    """Provide Jupyter's store of notebook signatures, and close its database, which Jupyter does not do itself."""
    from nbformat.sign import NotebookNotary

    notary = NotebookNotary()
    try:
        yield notary
    finally:
        notary.store.close()


def lab_command(copies: Path, start: str, *, browser: bool, port: int | None) -> list[str]:
    """Return the command line that starts JupyterLab on a folder of notebooks and opens the page `start`.

    `copies` : the folder. `start` : path in JupyterLab's address, such as ``/lab``. `browser` : whether to open a
    browser. `port` : port of the server; None for the next free one.
    """
    command = [
        sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={copies.resolve()}",
        f"--LabApp.default_url={start}", "--ServerApp.kernel_manager_class=swinglab.warm_kernels.WarmKernelManager",
    ]  # fmt: skip
    command += [] if browser else ["--no-browser"]
    command += [f"--ServerApp.port={port}"] if port else []
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    return command


def write_page_settings(folder: Path, *, runs: list[str], page: str) -> None:
    """Write JupyterLab settings: notebooks to run when they are opened, and the one to show without code.

    Parameters
    ----------
    folder : path
        Folder for the settings; to be added to ``JUPYTER_CONFIG_PATH``.
    runs : list of str
        Names of the notebooks to run when they are opened; only unchanged copies of swinglab's notebooks may be given.
    page : str
        File name of the notebook to show as a page without code; "" for none.
    """
    settings = folder / "labconfig"
    settings.mkdir(parents=True, exist_ok=True)
    # The check whether extensions need another build is off, because it delays each opening by seconds.
    lists = {"swinglabRuns": runs, "swinglabPage": page, "buildAvailable": False, "buildCheck": False}
    (settings / "page_config.json").write_text(json.dumps(lists), encoding="utf-8")


def lab_environment(settings_of_run: Path | None = None) -> dict[str, str]:
    """Return the environment variables for JupyterLab: no automatic network requests, and a safe import path.

    A kernel starts in the folder of its notebook. PYTHONSAFEPATH prevents imports from there, so that a file
    swinglab.py in a study from elsewhere is not imported instead of this package. `settings_of_run` : folder that
    `write_page_settings` wrote, if any.
    """
    settings = str(Path(__file__).parent / "controls" / "lab_settings")
    known = os.environ.get("JUPYTER_CONFIG_PATH")
    extension = str(Path(__file__).parent / "controls" / "lab_page")
    data = os.environ.get("JUPYTER_PATH")
    configs = [*([str(settings_of_run)] if settings_of_run else []), settings, *([known] if known else [])]
    package = str(Path(__file__).resolve().parent.parent)
    paths = [path for path in os.environ.get("PYTHONPATH", "").split(os.pathsep) if path and path != package]
    return os.environ | {
        "JUPYTER_CONFIG_PATH": os.pathsep.join(configs),
        "JUPYTER_PATH": os.pathsep.join([extension, *([data] if data else [])]),
        "PYTHONSAFEPATH": "1",
        "PYTHONPATH": os.pathsep.join([package, *paths]),
    }


def _environment_of_run(settings: Path, runs: list[str], page: str) -> dict[str, str]:
    write_page_settings(settings, runs=runs, page=page)
    return lab_environment(settings) | {VARIABLE: str(settings / "first_page.json")}


def run_lab(
    command: list[str], *, runs: list[str], page: str = "", draw_first: Callable[[Path], None] | None = None
) -> int:
    """Run JupyterLab until it ends and return its exit code; Ctrl-C goes only to JupyterLab, which asks to confirm.

    Parameters
    ----------
    command : list of str
        From `lab_command`.
    runs, page
        As for `write_page_settings`.
    draw_first : callable, optional
        Function that writes the page's first figure to the path that it is given; called once while the server starts.
        The page shows this figure until its panels are loaded.
    """
    before = signal.signal(signal.SIGINT, lambda *_: None)
    try:
        with (
            TemporaryDirectory(prefix="swinglab_") as settings,
            subprocess.Popen(command, env=_environment_of_run(Path(settings), runs, page)) as server,
        ):
            try:
                if draw_first is not None:
                    draw_first(Path(settings) / "first_page.json")
                return server.wait()
            except BaseException:
                server.terminate()
                raise
    finally:
        signal.signal(signal.SIGINT, before)
