"""Notebook panels for a hunch, a comparison of groups, or a lesson: choosers, figures and the answer."""

from __future__ import annotations

import ipywidgets as widgets
import pandas as pd
import traitlets
from matplotlib.axes import Axes

from swinglab import answers, columns, conventions
from swinglab.controls import html as words
from swinglab.controls.choosers import (
    QuantityChooser,
    chosen_outcome,
    dropdown,
    event_options,
    name_options,
    outcome_options,
    refill,
)
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.figure_panel import FigurePanel
from swinglab.controls.saving import SaveQuestion
from swinglab.errors import BadRequest, SwinglabError
from swinglab.records import Comparison, Finding, Hunch, Lesson
from swinglab.report import wording
from swinglab.report.checked_fit import fit_drawn, fit_sentence
from swinglab.report.pictures import draw_question
from swinglab.report.typical import golfer_with_most_swings, typical_swing
from swinglab.study import answer_question, diagnose_question

OWN = "a question of your own"
LOOKING = (
    "This is an exploratory look: the p value is not adjusted for other questions that you try. The more questions are "
    "tried, the more often one of them looks borne out by chance. Write the question that matters into study.toml "
    "before you see the data; all questions in that file are judged together."
)
POINTING = "Point at a mark to see the name of the swing; click the mark to see the swing."
LEVELS = [
    ("within golfers: one swing against another", "within"),
    ("between golfers: their means", "between"),
]
EXPECTED = [
    ("positive: more with more", "positive"),
    ("negative: more with less", "negative"),
    ("either", "either"),
]

Question = Hunch | Comparison | Lesson


class QuestionPanel(FigurePanel):
    """Notebook panel to choose a question of the study, or to compose one, and to see its answer.

    Attributes
    ----------
    question : Hunch, Comparison or Lesson
        The question that is shown.
    findings : tuple of Finding
        The answer that is shown.
    quantity, event_asked : str
        Names of the posture quantity and of the event in the question.
    pair : tuple of str
        Names of one or two typical swings: those with the posture nearest the mean of a golfer, or of each phase.
    asked : Hunch, Comparison or Lesson
        The same as `question`, but changed only after the answer has been shown. Other panels observe it.
    """

    kind: type[Question]
    asked = traitlets.Any()
    pair = traitlets.Tuple()

    def __init__(self, chosen: ChosenStudy, own: list[widgets.Widget]) -> None:
        self.question: Question | None = None
        self.findings: tuple[Finding, ...] = ()
        self.listed = dropdown("Question", [])
        self.save = SaveQuestion(chosen)
        self._own = own
        self._figures = widgets.HBox(layout=widgets.Layout(flex_flow="row wrap"))
        self._captions: dict[str, widgets.HTML] = {}
        super().__init__(chosen, [self.listed, *own])

    def refill_choosers(self) -> None:
        """Fill the lists with the study's questions of the panel's kind, and with quantities to compose a question."""
        known = [(q.name, q.name) for q in self.chosen.need_study().questions if isinstance(q, self.kind)]
        refill(self.listed, [*known, (OWN, "")])
        self.offer(self.chosen.results.swings)

    def offer(self, table: pd.DataFrame) -> None:
        """Fill the lists for composing a question with the quantities, groups or golfers in a swing table."""
        raise NotImplementedError

    def own_question(self) -> Question:
        """Return the question that the user has composed in the lists."""
        raise NotImplementedError

    def swings_to_show(self, question: Question) -> tuple[str, ...]:
        """Return the names of one or two typical swings for the viewer; here one, of the golfer with most swings."""
        table = self.chosen.results.swings
        own = table[table["golfer"] == golfer_with_most_swings(table)]
        return (typical_swing(own, column_asked(question)),)

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: the figures of the answer, and the answer in words."""
        study, results = self.chosen.need_study(), self.chosen.results
        is_own = not self.listed.value
        for chooser in self._own:
            chooser.layout.display = "" if is_own else "none"
        if is_own:
            self.question = self.own_question()
            lines = answer_question(study, results.swings, self.question)
            self.findings = answers.judge(lines, [self.question])
        else:
            self.question = next(q for q in study.questions if q.name == self.listed.value)
            self.findings = tuple(f for f in self.chosen.findings if f.name == self.question.name)
        drawn, undrawn = draw_question(study, results, self.question)
        self._figures.children = [
            self._captioned(f"figure_{number}", *figure) for number, figure in enumerate(drawn, start=1)
        ]
        if is_own:
            self.save.offer(self.question)
        return [
            words.finding(self.findings, study.report_units) + (words.lines(LOOKING) if is_own else ""),
            *([self.save] if is_own else []),
            self._figures,
            *([words.lines(*undrawn)] if undrawn else []),
            self.picked,
        ]

    def show_more(self) -> list[widgets.Widget | str]:
        """Return the caution printed below each answer, and update the other panels that show the same question."""
        assert self.question is not None
        with self.hold_trait_notifications():
            self.quantity = posture_asked(self.question)
            self.event_asked = self.question.event or ""
            self.pair = self.swings_to_show(self.question)
            self.asked = self.question
        return [words.CAUTION]

    def _captioned(self, name: str, axes: Axes, alt: str, caption: str) -> widgets.VBox:
        """Return a figure above its caption, as a widget."""
        text = self._captions.setdefault(name, widgets.HTML(layout=widgets.Layout(max_width="34em")))
        text.value = words.lines(f"{caption} {POINTING}")
        return widgets.VBox([self.picture(name, axes, alt), text], layout=widgets.Layout(max_width="100%"))


def posture_asked(question: Question) -> str:
    """Return the name of the posture quantity in a question."""
    return question.posture if isinstance(question, Hunch) else question.of


def column_asked(question: Question) -> str:
    """Return the column of the swing table with the question's posture at its event."""
    name = posture_asked(question)
    return columns.event_column_name(name, question.event) if question.event else name


def ask_hunch(chosen: ChosenStudy) -> HunchPanel:
    """Show the panel for a hunch: is a posture at an event related to the strike, within and between golfers?

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.

    Returns
    -------
    HunchPanel
    """
    return HunchPanel(chosen)


class HunchPanel(QuestionPanel):
    """Notebook panel for a hunch.

    The user chooses posture, event, outcome, the level to judge (within or between golfers) and the expected sign.
    """

    kind = Hunch

    def __init__(self, chosen: ChosenStudy) -> None:
        self.posture = QuantityChooser("thorax_lateral_flexion_deg")
        self.event = dropdown("at", event_options(), "shaft_horizontal_down")
        self.outcome = dropdown("goes with", [])
        self.level = dropdown("judged", LEVELS)
        self.expect = dropdown("expected", EXPECTED, "either")
        self._fit = widgets.VBox()
        self.fit_opened = widgets.ToggleButton(
            description="Does the model fit, and is a line enough?",
            layout=widgets.Layout(width="23em", max_width="100%"),
        )
        self.fit_opened.observe(self._show_fit, "value")
        super().__init__(chosen, [self.posture, self.event, self.outcome, self.level, self.expect])

    def offer(self, table: pd.DataFrame) -> None:
        """Fill the lists with the posture quantities and outcomes that have values in a swing table."""
        self.posture.offer(measured_quantities(table))
        refill(self.outcome, outcome_options(table), self.outcome.value or "attack_angle_deg")

    def own_question(self) -> Hunch:
        """Return the hunch that the user has composed in the lists."""
        need_event(self.posture.value, self.event.value)
        outcome = chosen_outcome(self.outcome)
        name = f"{columns.quantity_column(self.posture.value).label} and {wording.label(outcome)}"
        return Hunch(
            name,
            outcome,
            self.posture.value,
            self.event.value,
            self.level.value,
            self.expect.value,
        )

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: the answer, and a button that shows the diagnostics of the fitted model."""
        self._fit.layout.visibility = "hidden"  # until it shows the present question
        return [*super().show(), self.fit_opened, self._fit]

    def show_more(self) -> list[widgets.Widget | str]:
        """Return the caution printed below each answer, and update the model diagnostics if the user asked for them."""
        last = super().show_more()
        self._show_fit()
        return last

    def _show_fit(self, change: object = None) -> None:
        self._fit.children = self._fits() if self.fit_opened.value else []
        self._fit.layout.visibility = "visible"

    def _fits(self) -> list[widgets.Widget]:
        assert self.question is not None
        try:
            found = diagnose_question(self.chosen.need_study(), self.chosen.results, self.question)
        except SwinglabError as fault:
            return [
                widgets.HTML(
                    words.lines(f"No model could be fitted, so there are no diagnostics: {fault.what}.")
                )
            ]
        shown: list[widgets.Widget] = []
        for number, one in enumerate(found, start=1):
            axes, alt, caption = fit_drawn(one)
            said = widgets.HTML(words.lines(fit_sentence(one), caption))
            shown += [self.picture(f"fit_{number}", axes, alt), said]
        return shown


def ask_comparison(chosen: ChosenStudy) -> ComparisonPanel:
    """Show the panel for a comparison: do groups of golfers differ in a quantity at an event?

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.

    Returns
    -------
    ComparisonPanel
    """
    return ComparisonPanel(chosen)


class ComparisonPanel(QuestionPanel):
    """Notebook panel for a comparison; the user chooses quantity, event, and the column that defines the groups."""

    kind = Comparison

    def __init__(self, chosen: ChosenStudy) -> None:
        self.of = QuantityChooser("thorax_flexion_deg")
        self.event = dropdown("at", event_options(), "impact")
        self.between = dropdown("between", [])
        super().__init__(chosen, [self.of, self.event, self.between])

    def offer(self, table: pd.DataFrame) -> None:
        """Fill the lists with measured quantities, and with columns of few different values that can define groups."""
        self.of.offer(measured_quantities(table))
        known = [
            n for n in ("group", "hand", "club", "phase", "session") if n in table and table[n].nunique() > 1
        ]
        refill(self.between, name_options(known), self.between.value or "group")

    def own_question(self) -> Comparison:
        """Return the comparison that the user has composed in the lists."""
        need_event(self.of.value, self.event.value)
        if not self.between.value:
            raise BadRequest(
                "the study has no column with groups of golfers to compare",
                do="add a column group with two groups to golfers.csv",
            )
        name = f"{columns.quantity_column(self.of.value).label} between {self.between.value}"
        return Comparison(name, self.of.value, self.event.value, self.between.value)


def ask_lesson(chosen: ChosenStudy) -> LessonPanel:
    """Show the panel for a lesson: did a golfer's posture and strike change by more than gradual drift explains?

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.

    Returns
    -------
    LessonPanel
    """
    return LessonPanel(chosen)


class LessonPanel(QuestionPanel):
    """Notebook panel for a lesson.

    The user chooses golfer, column that separates before from after, posture quantity, event and outcome.
    """

    kind = Lesson

    def __init__(self, chosen: ChosenStudy) -> None:
        self.golfer = dropdown("Golfer", [])
        self.phase = dropdown("before and after in column", [])
        self.of = QuantityChooser("thorax_flexion_deg")
        self.event = dropdown("at", event_options(), "trail_arm_horizontal_through")
        self.outcome = dropdown("and the strike", [])
        super().__init__(chosen, [self.golfer, self.phase, self.of, self.event, self.outcome])

    def offer(self, table: pd.DataFrame) -> None:
        """Fill the lists with the golfers who have swings in more than one phase, and with measured quantities."""
        known = [n for n in ("phase", "session") if n in table and table[n].nunique() > 1]
        refill(self.phase, name_options(known))
        golfers = []
        if self.phase.value:
            counts = table.groupby("golfer")[self.phase.value].nunique()
            golfers = [name for name, number in counts.items() if number > 1]
        refill(self.golfer, name_options(golfers))
        self.of.offer(measured_quantities(table))
        refill(self.outcome, outcome_options(table), self.outcome.value or "low_point_ahead_cm")

    def own_question(self) -> Lesson:
        """Return the lesson that the user has composed in the lists."""
        if not self.golfer.value:
            raise BadRequest(
                "no golfer has swings both before and after a lesson",
                do="add a column phase with the values before and after to swings.csv",
            )
        need_event(self.of.value, self.event.value)
        outcome = chosen_outcome(self.outcome)
        name = f"{columns.quantity_column(self.of.value).label} of golfer {self.golfer.value}"
        return Lesson(name, self.golfer.value, self.phase.value, self.of.value, self.event.value, outcome)

    def swings_to_show(self, question: Question) -> tuple[str, ...]:
        """Return the names of two typical swings: the one nearest the mean of each of the two phases."""
        assert isinstance(question, Lesson)
        table = self.chosen.results.swings
        own = table[table["golfer"] == question.golfer]
        phases = [rows for _, rows in own.groupby(question.phase, sort=False)][:2]
        return tuple(typical_swing(rows, column_asked(question)) for rows in phases)


def measured_quantities(table: pd.DataFrame) -> list[str]:
    """Return the posture quantities that a swing table contains at one event or more."""
    held = {
        columns.column(n).quantity for n in table.columns if columns.is_column(n) and columns.column(n).event
    }
    return [name for name in columns.QUANTITIES if name in held]


def need_event(quantity: str, event: str) -> None:
    """Raise BadRequest if a quantity is not measured at an event; the message lists the events with a value."""
    column = columns.quantity_column(quantity)
    if event not in column.events:
        known = ", ".join(label for label, _ in event_options(column.events))
        raise BadRequest(
            f"{column.label} is not measured at {conventions.EVENT_LABELS.get(event, event)}",
            do=f"choose one of: {known}",
        )
