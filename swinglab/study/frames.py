"""Export of posture at every frame for other programs: a CSV table and a C3D file for each swing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from swinglab.errors import SwinglabError
from swinglab.load import write_capture
from swinglab.segments import frames_table
from swinglab.study.csv_tables import write_table
from swinglab.study.opening import Study
from swinglab.study.results import Results
from swinglab.study.swing import load_swing

FRAMES_FOLDER = "frames"


def write_frames(study: Study, results: Results, findings: Any, out: Path) -> Path:
    """Write a table of posture quantities over time, and a C3D file with angles and events, for each measured swing.

    Parameters
    ----------
    study : Study
    results : Results
        From `measure_study`; its swings are written.
    findings : Any
        Not used; `write_results` calls every function in its argument `also` with these four arguments.
    out : Path
        An existing folder; files are written to its subfolder ``frames``.

    Returns
    -------
    Path
        The folder: ``SWING.csv`` (see `frames_table`) and ``SWING.c3d`` (see `write_capture`).

    Raises
    ------
    SwinglabError
        A capture that was measured can no longer be read, or the files of two swings would have the same name.

    Examples
    --------
    >>> write_frames(study, results, (), Path("my_study/results"))  # doctest: +SKIP
    PosixPath('my_study/results/frames')
    """
    folder = out / FRAMES_FOLDER
    folder.mkdir(exist_ok=True)
    for swing in results.swings["swing"].astype(str):
        records = load_swing(study, swing)
        name = "".join(c if c.isalnum() or c in "-_." else "_" for c in swing)
        if (folder / f"{name}.csv").exists():
            raise SwinglabError(
                f"the files of two swings would have the same name, {name}",
                do="rename one of these swings in swings.csv",
            )
        write_table(frames_table(records.posture, records.events), folder / f"{name}.csv")
        write_capture(records.trial, folder / f"{name}.c3d", posture=records.posture, events=records.events)
    return folder
