"""JupyterLab on a study's notebooks, with kernels that import nothing from the study: a study is data alone."""

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
    """The kit's own notebooks, in order."""
    return sorted(shipped_folder("notebooks").glob("*.ipynb"))


def copy_missing(copies: Path) -> None:
    """Copy the kit's notebooks into a folder, none over one that is there; what is copied counts as trusted."""
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
    """Notebooks under a kit's name whose cells differ from the kit's and were not saved on this machine.

    Jupyter signs what is saved here; the signatures lie outside the study and do not travel with it.
    """
    return [
        path.name
        for path in kit_notebooks()
        if (copies / path.name).is_file()
        and _cells(copies / path.name) != _cells(path)
        and not _is_signed(copies / path.name)
    ]


def foreign_code(folder: Path) -> list[str]:
    """Files of Python code in a study folder and its notebooks, by their names from the folder."""
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
    with _notary() as notary:
        notary.sign(_read(path))


@contextlib.contextmanager
def _notary() -> Iterator[NotebookNotary]:
    """Jupyter's signatures of notebooks; it leaves its database open by itself, which Python 3.13 warns of."""
    from nbformat.sign import NotebookNotary

    notary = NotebookNotary()
    try:
        yield notary
    finally:
        notary.store.close()


def lab_command(copies: Path, start: str, *, browser: bool, port: int | None) -> list[str]:
    """The command that starts JupyterLab on a folder, at an address in it."""
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
    """Write which notebooks run when they are opened, and which one is a page without code, for JupyterLab to read.

    Parameters
    ----------
    folder : path
        Becomes a part of ``JUPYTER_CONFIG_PATH``.
    runs : list of str
        Names of the kit's own notebooks; one that differs from the kit's never runs by itself.
    page : str
        The one to show as a page; empty for none.
    """
    settings = folder / "labconfig"
    settings.mkdir(parents=True, exist_ok=True)
    # Whether extensions need another build is not asked: the answer takes the server seconds of each opening.
    lists = {"swinglabRuns": runs, "swinglabPage": page, "buildAvailable": False, "buildCheck": False}
    (settings / "page_config.json").write_text(json.dumps(lists), encoding="utf-8")


def lab_environment(settings_of_run: Path | None = None) -> dict[str, str]:
    """This environment, with settings for JupyterLab that send nothing unasked, and a safe path for kernels.

    A kernel starts in the folder of its notebook. With PYTHONSAFEPATH it imports nothing from there, so that a
    swinglab.py in a study that was sent by mail is not taken for this package.
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
    """Run JupyterLab until it ends. Ctrl-C reaches it alone: it asks whether to stop.

    `runs` and `page` as for `write_page_settings`; `draw_first` writes, while the server starts, what the page shows
    before its controls are there.
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
