"""Writing of a simulated study as a folder: the files of an ordinary study, and tables of the true values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from swinglab.columns import STRIKES, quantity_column
from swinglab.conventions import EVENTS
from swinglab.errors import BadRequest
from swinglab.simulate.capture import Lab, write_c3d, write_pose_table
from swinglab.simulate.posture import is_from_address
from swinglab.simulate.swing import Swing, as_kind

#: Quantities that are defined at address only, or at address and impact only.
ONLY_AT = {
    "stance_width_cm": ("address",),
    "ball_ahead_of_lead_heel_cm": ("address",),
    "ball_distance_cm": ("address",),
    "shaft_forward_lean_deg": ("address", "impact"),
}


@dataclass(frozen=True, slots=True, eq=False)
class StudySwing:
    """A simulated swing of a study.

    cells : column -> value, for further columns of its row in swings.csv. kind : "markers" or
    "joint_centres". landmarks : landmarks that are captured; None for all.
    """

    swing: Swing
    cells: Mapping[str, object] = field(default_factory=dict)
    kind: str = "markers"  # markers (a C3D) | joint_centres (a pose table)
    landmarks: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedStudy:
    """A simulated study that can be written to a folder.

    golfers : golfer -> column -> value, for further columns of the golfer's row in golfers.csv. question :
    question of the study, in words. lab : axes of the captures. settings : further text of study.toml.
    fat_behind_cm, thin_above_cm : limits of the true contact. sole_height_se_mm : standard error of the sole's height
    at address, in study.toml. truth_quantities, truth_events : quantities and events in the table of true posture; None
    for all.
    """

    title: str
    swings: Sequence[StudySwing]
    golfers: Mapping[str, Mapping[str, object]] = field(default_factory=dict)
    question: str = ""
    lab: Lab = field(default_factory=Lab)
    settings: str = ""
    fat_behind_cm: float = 1.0
    thin_above_cm: float = 1.0
    sole_height_se_mm: float = 1.0  # small, because a simulated sole rests exactly on the turf
    truth_quantities: tuple[str, ...] | None = None
    truth_events: tuple[str, ...] | None = None


def write_study(folder: str | Path, study: SimulatedStudy) -> Path:
    """Write the files of a study (study.toml, golfers.csv, swings.csv, captures) and tables of the true values.

    Parameters
    ----------
    folder : str or Path
        Created if it does not exist; it must be empty.
    study : SimulatedStudy
        The study.

    Returns
    -------
    Path
        The folder; the true values are in its folder truth.

    Raises
    ------
    BadRequest
        The folder is not empty, or two swings have the same name.
    """
    folder = empty_folder(folder)
    names = [item.swing.name for item in study.swings]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise BadRequest(
            f"several swings of the simulated study have the same name: {', '.join(twice)}",
            do="give each swing its own name",
        )
    (folder / "captures").mkdir()
    (folder / "truth").mkdir()
    for name, table in write_captures(folder, study).items():
        append_table(table, folder / name)
    (folder / "study.toml").write_text(settings_text(study), encoding="utf-8")
    return folder


def write_captures(folder: Path, study: SimulatedStudy) -> dict[str, pd.DataFrame]:
    """Write the captures of a simulated study to a folder, and return its other tables, which are not written yet.

    These are golfers.csv, swings.csv and the tables of true values, as path relative to the folder -> table.
    """
    rows = []
    for item in study.swings:
        swing = item.swing
        suffix = "c3d" if item.kind == "markers" else "csv"
        path = folder / "captures" / f"{swing.name}.{suffix}"
        if item.kind == "markers":
            write_c3d(swing, path, study.lab, landmarks=item.landmarks)
        else:
            write_pose_table(swing, path, study.lab)
        rows.append({"swing": swing.name, "golfer": swing.golfer.name, "capture": path.name, **item.cells})
    tables = {"swings.csv": pd.DataFrame(rows), "golfers.csv": _golfer_table(study)}
    return tables | {f"truth/{name}.csv": table for name, table in truth_tables(study).items()}


def append_table(table: pd.DataFrame, path: Path) -> None:
    """Write a table to a CSV file, or append its rows if the file exists."""
    table.to_csv(
        path, index=False, float_format="%.4f", lineterminator="\n", mode="a", header=not path.exists()
    )


def empty_folder(folder: str | Path) -> Path:
    """Create a folder if it does not exist, and return its path; raises BadRequest if it is not empty or is a file."""
    folder = Path(folder)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadRequest(
            "a simulated study can be written to an empty folder only",
            file=folder,
            do="give the name of a new or an empty folder",
        )
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def truth_tables(study: SimulatedStudy) -> dict[str, pd.DataFrame]:
    """Return true values of all swings in the tables truth_events, truth_posture and truth_strike.

    They have the columns of events.csv, posture.csv and strike.csv.
    """
    swings = [as_kind(item.swing, item.kind) for item in study.swings]
    asked = study.truth_quantities, study.truth_events
    posture = pd.concat([truth_posture(s, *asked) for s in swings], ignore_index=True)
    thresholds = {"fat_behind_cm": study.fat_behind_cm, "thin_above_cm": study.thin_above_cm}
    strikes = [truth_strike(s) | {"contact": s.true_contact(**thresholds)} for s in swings]
    events = pd.concat([truth_events(s) for s in swings], ignore_index=True)
    return {"truth_events": events, "truth_posture": posture, "truth_strike": pd.DataFrame(strikes)}


def truth_events(swing: Swing) -> pd.DataFrame:
    """Return the true events of a swing, one row for each event, with the columns of events.csv."""
    times = swing.true_events
    rows = [
        (swing.name, name, times[name], times[name] - times["impact"], times[name] * swing.rate_hz, "made", 0.0,
         "" if np.isfinite(times[name]) else "outside the capture")
        for name in EVENTS
    ]  # fmt: skip
    names = ["swing", "event", "time_s", "time_from_impact_s", "frame", "method", "standard_error_s", "note"]
    return pd.DataFrame(rows, columns=names)


def truth_posture(
    swing: Swing, quantities: Sequence[str] | None = None, events: Sequence[str] | None = None
) -> pd.DataFrame:
    """Return the true posture of a swing, one row for each event and quantity, with the columns of posture.csv.

    `quantities`, `events` : those in the table; None for all.
    """
    rows = [
        (swing.name, event, name, value, 0.0, quantity_column(name).unit, "made")
        for event, values in swing.true_posture().items()
        for name, value in values.items()
        if (quantities is None or name in quantities) and (events is None or event in events)
        and event in ONLY_AT.get(name, (event,))
        and not (event == "address" and is_from_address(name))
    ]  # fmt: skip
    names = ["swing", "event", "quantity", "value", "standard_error", "unit", "frame_method"]
    return pd.DataFrame(rows, columns=names)


def truth_strike(swing: Swing) -> dict[str, object]:
    """Return the true strike of a swing as column -> value, with the columns of strike.csv."""
    return {"swing": swing.name, **{name: swing.true_strike[name] for name in STRIKES}}


def _golfer_table(study: SimulatedStudy) -> pd.DataFrame:
    rows: dict[str, dict[str, object]] = {}
    for item in study.swings:
        asked = item.swing.golfer.parameters
        rows.setdefault(
            asked.name,
            {"golfer": asked.name, "hand": asked.hand, **study.golfers.get(asked.name, {}),
             "stature_m": asked.stature_m, "mass_kg": asked.mass_kg, "sex": asked.sex},
        )  # fmt: skip
    return pd.DataFrame(list(rows.values()))


def settings_text(study: SimulatedStudy) -> str:
    """Return the text of study.toml for a simulated study."""
    lab = study.lab
    lines = [
        f"title = {_quoted(study.title)}",
        *([f"question = {_quoted(study.question)}"] if study.question else []),
        "",
        "[lab]",
        f'up = "{lab.up}"',
        f'target = "{lab.target}"',
        f"ground = {lab.ground_mm}",
        'unit = "mm"',
        "",
        "[club]",
        "soled_at_address = true",
        f"sole_height_se_mm = {study.sole_height_se_mm}",
        "reference_behind_face_cm = 0.0",
    ]
    return "\n".join(lines) + "\n" + ("\n" + study.settings.strip() + "\n" if study.settings else "")


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
