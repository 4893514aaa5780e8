"""The study that a notebook uses: the demo study, the study whose folder contains the notebook, or any other."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as widgets
import traitlets

from swinglab import study as studies
from swinglab.controls import html as words
from swinglab.controls.preparing import prepared_results, study_nearby
from swinglab.errors import BadRequest, SwinglabError
from swinglab.records import Finding
from swinglab.report.wording import count
from swinglab.shipped import shipped_folder
from swinglab.study import Results, Study, SwingRecords

OTHER = "another folder"
#: Largest number of swings whose records are cached.
MOST_RECORDS = 6
#: Quotation marks that may surround a pasted path.
_QUOTES = (
    "'\"\N{LEFT DOUBLE QUOTATION MARK}\N{RIGHT DOUBLE QUOTATION MARK}\N{LEFT SINGLE QUOTATION MARK}"
    "\N{RIGHT SINGLE QUOTATION MARK}"
)


def choose_study(folder: str | Path | None = None) -> ChosenStudy:
    """Show a list of studies; every other panel of the notebook uses the study that is chosen in it.

    Parameters
    ----------
    folder : path, optional
        Folder of the study that is opened first. By default the study whose folder contains the notebook, or the demo
        study if there is none.

    Returns
    -------
    ChosenStudy
    """
    return ChosenStudy(folder)


def typed_folder(text: str | Path) -> str:
    """Return the folder meant by a typed or pasted path.

    Quotes and blanks around the path are removed; the path of a file study.toml becomes that of its folder.

    Examples
    --------
    >>> typed_folder(' "/data/my study/study.toml" ')
    '/data/my study'
    """
    bare = str(text).strip().strip(_QUOTES).strip()
    path = Path(bare)
    return str(path.parent) if bare and (path.is_file() or path.name == "study.toml") else bare


class ChosenStudy(widgets.VBox):
    """Notebook panel that opens a study, and holds the study and its results for the other panels.

    Attributes
    ----------
    study : Study or None
        The open study; None if the chosen folder cannot be opened (the panel then shows the reason).
    opened : int
        Counter that increases when a study is opened or has changed; other panels watch it.
    """

    opened = traitlets.Int(0)

    def __init__(self, folder: str | Path | None = None) -> None:
        self.study: Study | None = None
        self._results: Results | None = None
        self._findings: tuple[Finding, ...] | None = None
        self._records: dict[str, SwingRecords] = {}
        nearby = study_nearby(Path.cwd())
        options = [] if nearby is None else [(f"{nearby.name} (this notebook's study)", str(nearby))]
        options += [("demo study (simulated golfers)", str(shipped_folder("data_demo"))), (OTHER, "")]
        self._list = widgets.Dropdown(
            description="Study", options=options, style={"description_width": "initial"},
            layout=widgets.Layout(width="auto"),
        )  # fmt: skip
        self._path = widgets.Text(
            description="Folder", placeholder="path of a study folder", continuous_update=False,
            style={"description_width": "initial"}, layout=widgets.Layout(width="30em"),
        )  # fmt: skip
        self._open = widgets.Button(description="Open")
        self._bar = widgets.IntProgress(layout=widgets.Layout(display="none", width="20em"))
        self._said = widgets.HTML()
        self._row = widgets.HBox([self._list])
        super().__init__([self._row, self._bar, self._said])
        self._list.observe(self._listed, "value")
        self._open.on_click(lambda _: self.open_folder(self._path.value))
        if folder is None:
            self.open_folder(options[0][1])
        else:
            self._list.value = ""
            self._path.value = str(folder)
            self.open_folder(folder)

    # --- opening -------------------------------------------------------------------------------------------

    def _listed(self, change: dict) -> None:
        chose_other = not change["new"]
        self._row.children = [self._list, self._path, self._open] if chose_other else [self._list]
        if not chose_other:
            self.open_folder(change["new"])

    def open_folder(self, folder: str | Path) -> None:
        """Open a study folder; if it has faults, the panel lists them and no study is open."""
        self._results = self._findings = self.study = None
        self._records.clear()
        try:
            if not (named := typed_folder(folder)):
                raise BadRequest(
                    "no study folder was given", do="type the path of a study folder, then press Open"
                )
            self.study = studies.open_study(named)
            self._said.value = self._summary()
        except SwinglabError as fault:
            self._said.value = words.message(words.typed(folder, fault))
        self.opened += 1

    def _summary(self) -> str:
        study = self.study
        assert study is not None
        counts = f"{count(len(study.swings), 'swing')} of {count(study.swings['golfer'].nunique(), 'golfer')}"
        return words.heading(study.title) + words.lines(*([study.question] if study.question else []), counts)

    # --- what other panels read -------------------------------------------------------------------------

    def need_study(self) -> Study:
        """Return the open study; raise BadRequest if none is open."""
        if self.study is None:
            raise BadRequest("no study is open", do="choose one in the list at the top of this notebook")
        return self.study

    @property
    def results(self) -> Results:
        """Results of the open study; stored results are read if still valid, otherwise the study is measured."""
        if self._results is None:
            study = self.need_study()
            prepared = prepared_results(study)
            if prepared is not None:
                self._results, self._findings = prepared.results, prepared.findings
                return self._results
            try:
                self._results = studies.load_or_measure(study, progress=self._progress)
            finally:
                self._bar.layout.display = "none"
        return self._results

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Answers to all questions in the study's study.toml, with p values adjusted over these questions."""
        if self._findings is None:
            self._findings = studies.load_or_answer(self.need_study(), self.results)
        return self._findings

    def records_of(self, swing: str) -> SwingRecords:
        """Return trial, posture, events and strike of one swing; the last few swings are cached."""
        if swing not in self._records:
            while len(self._records) >= MOST_RECORDS:
                self._records.pop(next(iter(self._records)))
            self._records[swing] = studies.load_swing(self.need_study(), swing)
        return self._records[swing]

    def _progress(self, done: int, total: int, swing: str) -> None:
        self._bar.layout.display = ""
        self._bar.max, self._bar.value = total, done
        self._bar.description = f"measuring, {done} of {total}"
        self._bar.style.description_width = "initial"

    # --- events by hand ------------------------------------------------------------------------------------

    def mark_event(self, swing: str, event: str, time_s: float) -> None:
        """Set an event of a swing by hand (s from the capture's first frame), store it, and update all panels."""
        studies.mark_event(self.need_study(), swing, event, time_s, who="notebook")
        self._use_again(swing)

    def unmark_event(self, swing: str, event: str) -> None:
        """Remove an event of a swing that was set by hand, and update all panels."""
        studies.unmark_event(self.need_study(), swing, event)
        self._use_again(swing)

    def exclude_swing(self, swing: str, reason: str) -> None:
        """Exclude a swing from every answer of the study, store the reason, and update all panels."""
        studies.exclude_swing(self.need_study(), swing, reason, who="notebook")
        self._open_again()

    def include_swing(self, swing: str) -> None:
        """Include a swing again that was excluded by hand, and update all panels."""
        studies.include_swing(self.need_study(), swing)
        self._open_again()

    def _open_again(self) -> None:
        self.study = studies.open_study(self.need_study().folder)
        self._results = self._findings = None
        self._records.clear()
        self.opened += 1

    def _use_again(self, swing: str) -> None:
        study = studies.open_study(self.need_study().folder)
        if not studies.others_are_valid(swing, self.need_study(), study, self.results):
            self._open_again()
            return
        results = studies.measure_swing_again(study, self.results, swing)
        self.study, self._results, self._findings = study, results, None
        self._records.pop(swing, None)
        self.opened += 1
        studies.store_results(study, results)  # last, so that the panels are updated first
