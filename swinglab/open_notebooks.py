"""The command `notebooks`: a study's copies of swinglab's notebooks, opened in JupyterLab."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import time
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from swinglab import lab
from swinglab.console import progress_line, say
from swinglab.errors import BadRequest, SwinglabError, near_names, shortened
from swinglab.page_state import state_of_inputs, state_of_records, write_first_page
from swinglab.shipped import shipped_folder

if TYPE_CHECKING:
    from swinglab.records import Finding
    from swinglab.study import Results, Study

#: Folder of the working copy of the demo study, in the current directory.
DEMO = Path("swinglab_demo")


def open_notebooks(options: argparse.Namespace) -> int:
    """Copy missing notebooks to a study, measure it, open JupyterLab, and return JupyterLab's exit code."""
    folder = _notebook_study(options)
    copies = folder / "notebooks"
    names = [path.name for path in lab.kit_notebooks()]
    page = _page_named(options.page, names) if options.page else None
    lab.copy_missing(copies)
    foreign = lab.foreign_notebooks(copies)
    _name_foreign(folder, foreign)
    inputs = state_of_inputs(folder)
    measured = measure_first(folder)
    first = page or names[0]
    kind = "doc" if page else "lab"
    # A foreign notebook is not opened; JupyterLab shows its folder instead.
    start = "/lab" if first in foreign else f"/{kind}/tree/{first}"
    say(f"notebooks: {copies}\nJupyterLab runs until you press Ctrl+C twice in this window.")
    command = lab.lab_command(copies, start, browser=not options.no_browser, port=options.port)
    own = [name for name in names if name not in foreign]
    if page is None or page not in own:
        return lab.run_lab(command, runs=own)

    def draw_first(path: Path) -> None:
        if measured:
            from swinglab.report.first_picture import first_picture

            records = state_of_records(folder)
            newest = max((changed for _, changed in records.values()), default=time.time_ns())
            try:
                html = first_picture(*measured, page, date.fromtimestamp(newest / 1e9))
            except Exception as fault:  # a picture that fails must not end the server
                say(
                    f"swinglab: stored results cannot be shown while the page loads: {fault}", file=sys.stderr
                )
                return
            write_first_page(path, folder, html, inputs | records)

    return lab.run_lab(command, runs=own, page=page, draw_first=draw_first)


def _name_foreign(folder: Path, notebooks: list[str]) -> None:
    if notebooks:
        say(
            f"swinglab: these notebooks differ from swinglab's own and were not saved on this computer: "
            f"{', '.join(notebooks)}.\nDo: read them before you run them. To get swinglab's own notebooks, rename "
            "these files and run the same command again.",
            file=sys.stderr,
        )
    code = lab.foreign_code(folder)
    if code:
        say(
            f"swinglab: the study folder contains Python files, which swinglab never runs: {shortened(code)}",
            file=sys.stderr,
        )


def _notebook_study(options: argparse.Namespace) -> Path:
    """Return the study folder for the notebooks; the demo is first copied to a working folder."""
    from swinglab import study

    if options.folder:
        # Faults of a study are shown in the notebook's page; only a folder without study.toml is an error here.
        folder = Path(options.folder)
        if not (folder / "study.toml").is_file():
            study.open_study(folder)
        return folder
    if not (DEMO / "study.toml").is_file():
        beside = DEMO.with_name(f"{DEMO.name}.{os.getpid()}")
        shutil.copytree(shipped_folder("data_demo"), beside, ignore=shutil.ignore_patterns("results"))
        shutil.copytree(beside, DEMO, dirs_exist_ok=True)
        shutil.rmtree(beside)
    return DEMO


def measure_first(folder: Path) -> tuple[Study, Results, tuple[Finding, ...]] | None:
    """Measure and answer a study before its notebooks are opened, with progress shown in the terminal.

    Returns
    -------
    tuple of (Study, Results, findings) or None
        None if the study cannot be opened or measured; the reason is printed.
    """
    from swinglab import study

    try:
        opened = study.open_study(folder)
        results = study.load_or_measure(opened, progress=progress_line())
        return opened, results, study.load_or_answer(opened, results)
    except SwinglabError as fault:
        say(
            f"swinglab: {fault}\nThe notebooks are opened all the same and show this message too.",
            file=sys.stderr,
        )
        return None


def _page_named(asked: str, names: list[str]) -> str:
    """Return the notebook whose name begins with `asked` (number or name), or else contains it."""
    word = asked.strip().lower().replace(" ", "_")
    found = [name for name in names if name.startswith(word)] or [name for name in names if word in name]
    if len(found) != 1:
        near = near_names(asked, names) or "use one of " + ", ".join(name[:2] for name in names)
        raise BadRequest(f"there is no notebook {asked}, or more than one fits this name", do=near)
    return found[0]
