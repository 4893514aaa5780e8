"""Notebook panel that makes a study of a folder of captures: the user assigns markers to landmarks and sets axes."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as widgets

from swinglab import begin, study
from swinglab.begin.draft import JOINED, Draft, captures_of, open_landmarks, read_draft, still_body
from swinglab.begin.unlocks import by_what_they_unlock, known_landmarks, measurable
from swinglab.controls import html as words
from swinglab.controls.chosen_study import typed_folder
from swinglab.controls.marker_picker import MarkerPicker
from swinglab.conventions import AXIS_NAMES
from swinglab.errors import SwinglabError

_WIDE = {"description_width": "initial"}
_ITS_OWN = widgets.Layout(width="auto", align_self="flex-start")


def name_captures(folder: str | Path | None = None) -> NamingPanel:
    """Make a study from a folder of captures, and let the user decide what the command `begin` could not decide.

    Parameters
    ----------
    folder : path, optional
        Folder that contains captures/. By default the notebook's own folder or the nearest parent with captures/.

    Returns
    -------
    NamingPanel
    """
    return NamingPanel(Path(folder) if folder else _nearby(Path.cwd()))


def _nearby(start: Path) -> Path:
    return next((folder for folder in (start, *start.parents) if (folder / "captures").is_dir()), start)


class NamingPanel(widgets.VBox):
    """Notebook panel to assign markers to landmarks, and to set axes and golfers' hands.

    Attributes
    ----------
    draft : Draft
        The decisions so far, not yet saved.
    quantities : frozenset of str
        Posture and strike quantities that can be measured with the landmarks assigned so far.
    """

    def __init__(self, folder: Path) -> None:
        self.draft: Draft | None = None
        self.quantities: frozenset[str] = frozenset()
        self._filling = False
        self.folder = widgets.Text(str(folder), description="Folder of captures", style=_WIDE,
                                   layout=widgets.Layout(width="36em"))  # fmt: skip
        self.golfers = widgets.Text(description="Golfers by file name", placeholder="such as {golfer}_{session}_*",
                                    style=_WIDE, layout=widgets.Layout(width="26em"))  # fmt: skip
        self.look = widgets.Button(description="Look at the captures", layout=_ITS_OWN)
        self._message = widgets.HTML()
        self._decided, self._written = widgets.HTML(), widgets.HTML()
        self.capture = widgets.Dropdown(description="Capture", style=_WIDE)
        self.picker = MarkerPicker()
        self.questions = widgets.Select(description="Open, most useful first", style=_WIDE, rows=5,
                                   layout=widgets.Layout(width="32em", max_width="100%"))  # fmt: skip
        self.marker = widgets.Dropdown(description="Marker", style=_WIDE)
        self.landmark = widgets.Dropdown(
            description="Landmark", style=_WIDE, options=["", *known_landmarks()]
        )
        self.give = widgets.Button(
            description="Give the marker to the landmark", layout=widgets.Layout(width="auto")
        )
        self.take = widgets.Button(
            description="Take the landmark's marker away", layout=widgets.Layout(width="auto")
        )
        self.up = widgets.Dropdown(description="Up", options=["", *AXIS_NAMES], style=_WIDE)
        self.target = widgets.Dropdown(description="Target", options=["", *AXIS_NAMES], style=_WIDE)
        self.golfer = widgets.Dropdown(description="Golfer", style=_WIDE)
        self.hand = widgets.Dropdown(description="plays", options=["", "right", "left"], style=_WIDE)
        self.save = widgets.Button(
            description="Save", button_style="", tooltip="Write study.toml and golfers.csv"
        )
        self._gives = widgets.HTML()
        self._saved = widgets.HTML()
        self._body = widgets.VBox(
            [
                self._decided, _heading("Name the markers"), self.questions, _row(self.marker, self.landmark),
                _row(self.give, self.take, self.save), self._saved, self._gives, self.capture, self.picker,
                _heading("Turn the axes: the arrows in the picture follow. Then save"),
                _row(self.up, self.target, self.golfer, self.hand), self._written,
            ],
            layout=widgets.Layout(display="none"),
        )  # fmt: skip
        super().__init__([_row(self.folder, self.golfers), self.look, self._message, self._body])
        self._listen()
        if (folder / "study.toml").is_file():
            self._look()

    def _listen(self) -> None:
        self.look.on_click(lambda _: self._look())
        self.give.on_click(lambda _: self._do(self._give))
        self.take.on_click(lambda _: self._do(self._take))
        self.save.on_click(lambda _: self._do(self._save))
        self.capture.observe(lambda _: self._do(self._show), "value")
        self.picker.observe(self._picked, "picked")
        self.marker.observe(self._marker_chosen, "value")
        self.questions.observe(self._open_chosen, "value")
        for key, chooser in (("up", self.up), ("target", self.target)):
            chooser.observe(lambda change, key=key: self._do(lambda: self._turn(key, change["new"])), "value")
        self.golfer.observe(lambda _: self._do(self._show_hand), "value")
        self.hand.observe(lambda change: self._do(lambda: self._play(change["new"])), "value")

    # --- what the choosers do ----------------------------------------------------------------------------------

    def _do(self, action) -> None:  # type: ignore[no-untyped-def]
        """Run an action and show its error message in the panel; do nothing while the lists are filled."""
        if self._filling:
            return
        try:
            action()
            self._message.value = ""
        except SwinglabError as fault:
            self._message.value = words.message(str(fault))

    def _look(self) -> None:
        self.look.disabled = True
        self._message.value = words.lines("looking at the captures ...")
        try:
            begun = begin.begin_study(typed_folder(self.folder.value), golfers=self.golfers.value or None)
            self.draft = read_draft(begun.folder)
            self._decided.value = words.heading("Check these: not decided, or only likely") + words.lines(
                *(begun.asked or ("Nothing: everything is certain.",))
            )
            self._written.value = words.folded(
                "Everything that was decided and written", words.lines(*begun.lines)
            )
            self._fill(captures_of(begun.folder))
            self._body.layout.display = ""
            self._message.value = ""
        except SwinglabError as fault:
            self._message.value = words.message(words.typed(self.folder.value, fault))
        finally:
            self.look.disabled = False

    def _fill(self, captures: list[str]) -> None:
        assert self.draft is not None
        self._filling = True
        self.capture.options, self.capture.value = captures, captures[0]
        self.golfer.options = list(self.draft.hands)
        self.golfer.value = next(iter(self.draft.hands), None)
        self.up.value, self.target.value = self.draft.up, self.draft.target
        self._filling = False
        self._show()
        self._show_hand()

    def _show(self) -> None:
        """Show the chosen capture's markers, landmarks without a marker, and how much can be measured."""
        assert self.draft is not None
        body = still_body(self.draft, self.capture.value)
        self.picker.show(body.labels, body.places_m, body.landmarks, body.arrows, JOINED)
        named = {mark for mark in body.landmarks.values() if mark}
        opened = open_landmarks(self.draft, self.capture.value)
        ordered = by_what_they_unlock([mark for mark in opened if mark not in named], named)
        self._filling = True
        picked = self.marker.value
        labelled = [
            (f"{label.rpartition(':')[2]}: {body.landmarks[label] or 'open'}", label) for label in body.labels
        ]
        self.marker.options = [("", ""), *labelled]
        self.marker.value = picked if picked in body.labels else ""
        bare = {mark: " or ".join(label.rpartition(":")[2] for label in opened[mark]) for mark, _ in ordered}
        self.questions.options = [
            (f"{mark} [{bare[mark]}?], quantities that need it: {number}", mark) for mark, number in ordered
        ] or [("no label is in doubt", "")]
        self.questions.value = None
        self._filling = False
        self.quantities = measurable(named)
        lacking = len(measurable(known_landmarks())) - len(self.quantities)
        self._gives.value = words.lines(
            f"{len(named)} landmarks are named. Quantities that can be measured with them: "
            f"{len(self.quantities)}"
            + (
                f"; quantities that need more landmarks: {lacking} (see references/capture_guide.md)."
                if lacking
                else " (all)."
            )
        )

    def _picked(self, change: dict) -> None:
        if self.picker.picked != self.marker.value and self.picker.picked in [
            v for _, v in self.marker.options
        ]:
            self.marker.value = self.picker.picked

    def _marker_chosen(self, change: dict) -> None:
        if not self._filling and change["new"] != self.picker.picked:
            self.picker.picked = change["new"] or ""

    def _open_chosen(self, change: dict) -> None:
        """Choose the landmark of an open question, and the first of the markers that it may have."""
        if self._filling or not change["new"] or self.draft is None:
            return
        self.landmark.value = change["new"]
        labels = open_landmarks(self.draft, self.capture.value).get(change["new"], ())
        if labels:
            self.picker.picked = labels[0]

    def _give(self) -> None:
        assert self.draft is not None
        if not self.marker.value or not self.landmark.value:
            raise SwinglabError(
                "no marker or no landmark is chosen", do="click a marker and choose a landmark"
            )
        self.draft.give(self.marker.value.rpartition(":")[2], self.landmark.value)
        self._show()

    def _take(self) -> None:
        assert self.draft is not None
        self.draft.take(self.landmark.value)
        self._show()

    def _turn(self, key: str, axis: str) -> None:
        if self.draft is not None and axis:
            self.draft.turn(key, axis)
            self._show()

    def _show_hand(self) -> None:
        if self.draft is not None and self.golfer.value:
            self._filling = True
            self.hand.value = self.draft.hands[self.golfer.value] or ""
            self._filling = False

    def _play(self, hand: str) -> None:
        if self.draft is not None and hand:
            self.draft.play(self.golfer.value, hand)

    def _save(self) -> None:
        assert self.draft is not None
        written = self.draft.save()
        done = f"written: {', '.join(written)}" if written else "nothing had changed"
        try:
            opened = study.open_study(self.draft.folder)
            done += (
                f". The study can be measured: {len(opened.swings)} swings of {len(opened.golfers)} golfers. "
                f"Next: 02_check_captures, or the report: python3 -m swinglab study {self.draft.folder.name}"
            )
        except SwinglabError as fault:
            done += f". Still open:\n{fault}"
        self._saved.value = words.message(done)


def _row(*parts: widgets.Widget) -> widgets.HBox:
    """Return a row of widgets, which continues on further lines if the page is narrow."""
    return widgets.HBox(parts, layout=widgets.Layout(flex_flow="row wrap"))


def _heading(text: str) -> widgets.HTML:
    """Return a heading as a widget."""
    return widgets.HTML(words.heading(text))
