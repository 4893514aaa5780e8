"""Opening a study folder: every name in its files is checked before anything is computed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from swinglab import conventions
from swinglab.errors import BadRequest, StudyFaults, SwinglabError, UnreadableFile, near_if_listed, near_names
from swinglab.records import Accepted, Comparison, Errors, Hunch, Lesson, PostureScreen, Setup, Validation
from swinglab.study.device_outcomes import MATCH_FILE, Device, join_device
from swinglab.study.events_by_hand import FILE as BY_HAND
from swinglab.study.events_by_hand import read_by_hand
from swinglab.study.excluded_by_hand import FILE as EXCLUDED
from swinglab.study.excluded_by_hand import REGISTRATION, read_excluded
from swinglab.study.file_hashes import hash_files
from swinglab.study.folder_tables import (
    PART_OF_FILE,
    find_captures,
    find_still_captures,
    places_of,
    read_golfers,
    read_swings,
    rows,
    uncaptured_faults,
    with_session_values,
)
from swinglab.study.question_names import accepted_faults, override_faults, question_faults, validation_faults
from swinglab.study.setting_keys import is_number
from swinglab.study.settings import FILE, Settings, read_settings


@dataclass(frozen=True, slots=True, eq=False)
class Study:
    """A study folder that was opened and checked: its settings, tables and questions.

    golfers, swings : the tables golfers.csv and swings.csv, with numeric columns as numbers; empty cells of a column
    hand in swings.csv are filled from golfers.csv. captures : swing -> path of its capture. by_hand : events set by
    hand. by_name, by_session : club or session -> fields of `Setup` that differ for its swings. neutral, static :
    golfer -> path of a capture in the neutral posture, and of a static calibration capture. errors : measurement errors
    of the study. session_errors : session -> its `Errors`. reference_group : group that figures show as a reference.
    report_units : further units in the report. accepted : doubts that a person has accepted. device : table of another
    device; None if there is none. validation : section [validate]; None if study.toml has none. ethics, participants :
    key -> text, for the methods text. notes : texts that say how a table was read, where this was not evident.
    excluded : swings excluded by hand. inputs : file name -> SHA-256 of the study's own files when they were opened.
    """

    folder: Path
    title: str
    question: str
    setup: Setup
    golfers: pd.DataFrame
    swings: pd.DataFrame
    captures: dict[str, Path]
    by_hand: pd.DataFrame
    hunches: tuple[Hunch, ...] = ()
    comparisons: tuple[Comparison, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    screens: tuple[PostureScreen, ...] = ()
    errors: Errors = Errors()  # noqa: RUF009 - a frozen record without state
    reference_group: str | None = None
    report_units: tuple[str, ...] = ()
    neutral: dict[str, Path] | None = None
    static: dict[str, Path] = field(default_factory=dict)
    by_name: dict[str, dict[str, Any]] = field(default_factory=dict)
    by_session: dict[str, dict[str, Any]] = field(default_factory=dict)
    session_errors: dict[str, Errors] = field(default_factory=dict)
    accepted: tuple[Accepted, ...] = ()
    device: Device | None = None
    validation: Validation | None = None
    ethics: dict[str, str] = field(default_factory=dict)
    participants: dict[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    excluded: pd.DataFrame = field(default_factory=lambda: read_excluded(None))
    inputs: dict[str, str] = field(default_factory=dict)

    @property
    def questions(self) -> tuple[Hunch | Comparison | Lesson, ...]:
        """All questions of the study that are judged: hunches, comparisons and lessons, in that order."""
        return (*self.hunches, *self.comparisons, *self.lessons)

    def need_swing(self, swing: str) -> None:
        """Raise BadRequest, with similar names, if the study has no swing of this name."""
        known = list(self.swings["swing"])
        if swing not in known:
            raise BadRequest(
                f"there is no swing {swing} in this study",
                do=near_names(swing, known) or "use a name in the column swing of swings.csv",
            )

    def shown(self, path: Path) -> str:
        """Return a path relative to the study folder, as it is shown in messages."""
        return path.relative_to(self.folder).as_posix() if path.is_relative_to(self.folder) else str(path)

    def setup_for(self, golfer: str) -> Setup:
        """Return the study's set-up (axes, unit, club, ball) with the hand of one golfer."""
        hands = self.golfers.set_index("golfer")["hand"]
        return replace(self.setup, hand=str(hands.get(golfer, "right")))

    def setup_for_swing(self, swing: str) -> Setup:
        """Return the set-up of one swing.

        It is the study's set-up, with the values that study.toml gives for the swing's session or club, and those in
        the swing's row of swings.csv.
        """
        row = self._row(swing)
        return self.setup_for_row(row, self.setup_for(str(row["golfer"])))

    def setup_for_row(self, row: Mapping[Any, Any], setup: Setup) -> Setup:
        """Return the set-up of the swing in a row of swings.csv.

        Parameters
        ----------
        row : mapping
            Column -> value.
        setup : Setup
            Set-up of the swing's golfer, from `setup_for`.
        """
        cells = {name: cell for name, cell in row.items() if isinstance(cell, str) and cell}
        session, club = cells.get("session", ""), cells.get("club", "")
        own = dict(self.by_session.get(session, {}))
        if "landmarks" in own:
            own["landmarks"] = {**setup.landmarks, **own["landmarks"]}
        own |= self.by_name.get(session, {}) | self.by_name.get(club, {})
        own |= {name: cells[name] for name in ("hand", "surface", "lie", "shot") if name in cells}
        if "soled" in cells:
            own["soled_at_address"] = cells["soled"] == "yes"
        if "surface" in cells:
            own["teed"] = cells["surface"] == "tee"
        own |= {name: float(row[name]) for name in PART_OF_FILE if name in row and is_number(row[name])}
        return replace(setup, **own)

    def errors_of(self, swings: pd.DataFrame) -> Errors:
        """Return the measurement errors that apply to an answer computed from these rows of swings.csv.

        If sessions have different errors, each error is a root mean square. That of placement error is over sessions,
        because all swings of a session share this error; that of soft tissue error is over swings. Errors are in
        degrees; an error is None if it is unknown for any of the sessions.
        """
        if not self.session_errors or "session" not in swings:
            return self.errors
        each = [self.session_errors.get(str(session), self.errors) for session in swings["session"]]
        by_session = dict(zip(swings["session"], each, strict=True)).values()
        return Errors(
            _root_mean_square([errors.placement_deg for errors in by_session]),
            _root_mean_square([errors.soft_tissue_deg for errors in each]),
        )

    def hand_set_times(self, swing: str) -> dict[str, float]:
        """Return the event times of a swing that were set by hand, as event -> seconds from the file's first frame.

        Times in events_by_hand.csv take precedence over those in swings.csv.
        """
        return self.hand_set_times_in_row(self._row(swing))

    def hand_set_times_in_row(self, row: Mapping[Any, Any]) -> dict[str, float]:
        """Return the same as `hand_set_times`, for a swing given by its row of swings.csv."""
        times = {
            event: float(row[f"{event}_s"])
            for event in conventions.EVENTS
            if f"{event}_s" in row and np.isfinite(pd.to_numeric(row[f"{event}_s"], errors="coerce"))
        }
        if self.by_hand.empty:
            return times
        marked = self.by_hand.loc[self.by_hand["swing"] == row["swing"]]
        return times | dict(zip(marked["event"], marked["time_s"], strict=True))

    def _row(self, swing: str) -> dict[Any, Any]:
        return self.swings.loc[self.swings["swing"] == swing].iloc[0].to_dict()


def _root_mean_square(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return float(np.sqrt(np.mean(np.square(known)))) if known and len(known) == len(values) else None


def open_study(folder: str | Path, *, allow_outside: bool = False) -> Study:
    """Open a study folder, check every name in its files, and return the study.

    Parameters
    ----------
    folder : path
        Folder with study.toml, golfers.csv, swings.csv and captures/.
    allow_outside : bool
        Whether captures outside the folder are allowed. Symbolic links are resolved before this is checked.

    Returns
    -------
    Study

    Raises
    ------
    StudyFaults
        The study has faults; the message lists all of them, each with its file and place.

    Examples
    --------
    >>> from swinglab.study import open_study
    >>> open_study("data_demo").title  # doctest: +SKIP
    """
    study, faults = gather_study(folder, allow_outside=allow_outside)
    if faults:
        raise StudyFaults(faults, file=study.folder.name)
    return study


def gather_study(folder: str | Path, *, allow_outside: bool = False) -> tuple[Study, list[SwinglabError]]:
    """Read a study folder; return the study and a list of all faults of its tables and settings.

    Faulty values are replaced by defaults, so that the rest of the study can still be checked. Parameters as for
    `open_study`.

    Raises
    ------
    StudyFaults
        The folder has no study.toml, so it is not a study folder.
    """
    folder = Path(folder).expanduser().resolve()
    # Hashed before reading: a file that changes later has a different hash when the results are written.
    own = (FILE, "golfers.csv", "swings.csv", "golfers.xlsx", "swings.xlsx", BY_HAND, EXCLUDED, REGISTRATION)
    inputs = hash_files({name: folder / name for name in own})
    faults: list[SwinglabError] = []
    notes: list[str] = []
    settings = Settings()
    try:
        settings, faults = read_settings(folder / FILE)
    except UnreadableFile as error:
        faults.append(error)
        if not (folder / FILE).exists():
            raise StudyFaults(faults, file=folder.name) from error
    if settings.device is not None:
        inputs |= hash_files({name: folder / name for name in (settings.device.file, MATCH_FILE)})
    golfers, of_session = read_golfers(folder, faults, notes)
    swings = read_swings(folder, golfers, faults, notes)
    swings = with_session_values(swings, golfers, of_session, faults)
    swings = join_device(folder, settings.device, swings, golfers, faults, notes)
    faults += uncaptured_faults(swings)
    captures = find_captures(folder, swings, allow_outside, faults)
    still = {
        section: find_still_captures(folder, section, named, golfers, allow_outside, faults)
        for section, named in (("neutral", settings.neutral), ("static", settings.static))
    }
    by_hand = _by_hand(folder, swings, faults)
    excluded = _excluded(folder, swings, faults)
    faults += question_faults(settings, golfers, swings)
    faults += override_faults(settings, swings)
    faults += accepted_faults(settings, golfers, swings)
    faults += validation_faults(settings, swings)
    study = Study(
        folder=folder, title=settings.title, question=settings.question, setup=settings.setup, golfers=golfers,
        swings=swings, captures=captures, by_hand=by_hand, hunches=settings.hunches,
        comparisons=settings.comparisons, lessons=settings.lessons, screens=settings.screens, errors=settings.errors,
        reference_group=settings.reference_group, report_units=settings.report_units, neutral=still["neutral"],
        static=still["static"], by_name=settings.by_name, by_session=settings.by_session,
        session_errors=settings.session_errors,
        accepted=settings.accepted, device=settings.device, validation=settings.validation,
        ethics=settings.ethics, participants=settings.participants,
        notes=tuple(notes), excluded=excluded, inputs=inputs,
    )  # fmt: skip
    return study, faults


def _by_hand(folder: Path, swings: pd.DataFrame, faults: list[SwinglabError]) -> pd.DataFrame:
    try:
        marked = read_by_hand(folder)
    except StudyFaults as error:
        faults.extend(error.faults)
        return read_by_hand(None)
    known = set(swings["swing"])
    for name, places in places_of(marked["swing"], ~marked["swing"].isin(known)):
        faults.append(SwinglabError(f"there is no swing {name} in swings.csv", file=BY_HAND, where=rows(places),
                                    do=near_if_listed(faults, name, known) or "remove the row"))  # fmt: skip
    return marked


def _excluded(folder: Path, swings: pd.DataFrame, faults: list[SwinglabError]) -> pd.DataFrame:
    try:
        excluded = read_excluded(folder)
    except StudyFaults as error:
        faults.extend(error.faults)
        return read_excluded(None)
    known = set(swings["swing"])
    for name in excluded["swing"][~excluded["swing"].isin(known)]:
        faults.append(SwinglabError(f"there is no swing {name} in swings.csv", file=EXCLUDED,
                                    do=near_if_listed(faults, name, known) or "remove the row"))  # fmt: skip
    return excluded
