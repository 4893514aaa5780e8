"""A hunch, a comparison or a lesson: chosen in words, drawn, and answered by the rules of the kit."""

from __future__ import annotations

import ipywidgets as widgets
import pandas as pd
import traitlets
from matplotlib.axes import Axes

from swinglab import answers, columns
from swinglab.controls import html as words
from swinglab.controls.choosers import (
    QuantityChooser,
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
    "You are looking around: this reading counts this one question alone. The more questions are tried, the more "
    "often one of them looks borne out by chance. Write the question that matters into study.toml before the data are "
    "seen; there all questions of the study are judged together."
)
POINTING = "Point at a mark to see whose swing it is; click it to see that swing."
LEVELS = [
    ("within golfers: one swing against another", "within"),
    ("between golfers: their means", "between"),
]
EXPECTED = [("more goes with more", "positive"), ("more goes with less", "negative"), ("either", "either")]

Question = Hunch | Comparison | Lesson


class QuestionPanel(FigurePanel):
    """Chooses one of the study's questions or an own one; `question` and `findings` hold what is shown.

    `quantity` and `event_asked` name the posture quantity and the event in question, `pair` one or two typical
    swings, the nearest to a golfer's mean.
    """

    kind: type[Question]
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
        """Offer the study's questions of this kind, then what an own one can be made of."""
        known = [(q.name, q.name) for q in self.chosen.need_study().questions if isinstance(q, self.kind)]
        refill(self.listed, [*known, (OWN, "")])
        self.offer(self.chosen.results.swings)

    def offer(self, table: pd.DataFrame) -> None:
        """Offer what the table holds for an own question."""
        raise NotImplementedError

    def own_question(self) -> Question:
        """Return the user's own question as chosen."""
        raise NotImplementedError

    def swings_to_show(self, question: Question) -> tuple[str, ...]:
        """One or two typical swings: here one of the golfer with most swings."""
        table = self.chosen.results.swings
        own = table[table["golfer"] == golfer_with_most_swings(table)]
        return (typical_swing(own, column_asked(question)),)

    def show(self) -> list[widgets.Widget | str]:
        """The answer's figures and words."""
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
        """The caution; whatever follows this question follows now."""
        assert self.question is not None
        with self.hold_trait_notifications():
            self.quantity = posture_asked(self.question)
            self.event_asked = self.question.event or ""
            self.pair = self.swings_to_show(self.question)
        return [words.CAUTION]

    def _captioned(self, name: str, axes: Axes, alt: str, caption: str) -> widgets.VBox:
        """A figure over its caption; figures stand side by side where the page is wide enough."""
        text = self._captions.setdefault(name, widgets.HTML(layout=widgets.Layout(max_width="34em")))
        text.value = words.lines(f"{caption} {POINTING}")
        return widgets.VBox([self.picture(name, axes, alt), text], layout=widgets.Layout(max_width="100%"))


def posture_asked(question: Question) -> str:
    """The posture quantity that a question is about."""
    return question.posture if isinstance(question, Hunch) else question.of


def column_asked(question: Question) -> str:
    """The column of the swing table that holds the posture in question."""
    name = posture_asked(question)
    return columns.event_column_name(name, question.event) if question.event else name


def ask_hunch(chosen: ChosenStudy) -> HunchPanel:
    """Panel for a hunch: does this posture at this event go with this strike, within golfers and between them?"""
    return HunchPanel(chosen)


class HunchPanel(QuestionPanel):
    """A hunch: posture, event, outcome, the level that is judged, the sign that is expected."""

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
        """Quantities and outcomes that were measured."""
        self.posture.offer(measured_quantities(table))
        refill(self.outcome, outcome_options(table), self.outcome.value or "attack_angle_deg")

    def own_question(self) -> Hunch:
        """The hunch as it is chosen."""
        need_event(self.posture.value, self.event.value)
        name = f"{columns.quantity_column(self.posture.value).label} and {wording.label(self.outcome.value)}"
        return Hunch(
            name,
            self.outcome.value,
            self.posture.value,
            self.event.value,
            self.level.value,
            self.expect.value,
        )

    def show(self) -> list[widgets.Widget | str]:
        """The answer; below it the diagnostics of its fit behind a button."""
        self._fit.layout.visibility = "hidden"  # until it belongs to what is chosen now
        return [*super().show(), self.fit_opened, self._fit]

    def show_more(self) -> list[widgets.Widget | str]:
        """The diagnostics, where they are asked for; then the caution."""
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
            return [widgets.HTML(words.lines(f"There is no fit to look at: {fault.what}."))]
        shown: list[widgets.Widget] = []
        for number, one in enumerate(found, start=1):
            axes, alt, caption = fit_drawn(one)
            said = widgets.HTML(words.lines(fit_sentence(one), caption))
            shown += [self.picture(f"fit_{number}", axes, alt), said]
        return shown


def ask_comparison(chosen: ChosenStudy) -> ComparisonPanel:
    """Panel for a comparison: do groups of golfers differ in a quantity at an event?"""
    return ComparisonPanel(chosen)


class ComparisonPanel(QuestionPanel):
    """A comparison: quantity, event, and the column whose values make the groups."""

    kind = Comparison

    def __init__(self, chosen: ChosenStudy) -> None:
        self.of = QuantityChooser("thorax_flexion_deg")
        self.event = dropdown("at", event_options(), "impact")
        self.between = dropdown("between", [])
        super().__init__(chosen, [self.of, self.event, self.between])

    def offer(self, table: pd.DataFrame) -> None:
        """Quantities that were measured, and columns with a few values."""
        self.of.offer(measured_quantities(table))
        known = [
            n for n in ("group", "hand", "club", "phase", "session") if n in table and table[n].nunique() > 1
        ]
        refill(self.between, name_options(known), self.between.value or "group")

    def own_question(self) -> Comparison:
        """The comparison as it is chosen."""
        need_event(self.of.value, self.event.value)
        if not self.between.value:
            raise BadRequest(
                "there is nothing to compare between", do="give golfers.csv a column group with two groups"
            )
        name = f"{columns.quantity_column(self.of.value).label} between {self.between.value}"
        return Comparison(name, self.of.value, self.event.value, self.between.value)


def ask_lesson(chosen: ChosenStudy) -> LessonPanel:
    """Panel for a lesson: did a golfer's posture and strike change between two phases by more than drift explains?"""
    return LessonPanel(chosen)


class LessonPanel(QuestionPanel):
    """A lesson: golfer, the column that separates before from after, quantity, event, outcome."""

    kind = Lesson

    def __init__(self, chosen: ChosenStudy) -> None:
        self.golfer = dropdown("Golfer", [])
        self.phase = dropdown("before and after in column", [])
        self.of = QuantityChooser("thorax_flexion_deg")
        self.event = dropdown("at", event_options(), "trail_arm_horizontal_through")
        self.outcome = dropdown("and the strike", [])
        super().__init__(chosen, [self.golfer, self.phase, self.of, self.event, self.outcome])

    def offer(self, table: pd.DataFrame) -> None:
        """Golfers with more than one phase, and what was measured."""
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
        """The lesson as it is chosen."""
        if not self.golfer.value:
            raise BadRequest(
                "no golfer has swings before and after", do="give swings.csv a column phase: before, after"
            )
        need_event(self.of.value, self.event.value)
        name = f"{columns.quantity_column(self.of.value).label} of golfer {self.golfer.value}"
        return Lesson(
            name, self.golfer.value, self.phase.value, self.of.value, self.event.value, self.outcome.value
        )

    def swings_to_show(self, question: Question) -> tuple[str, ...]:
        """A typical swing of the first phase and one of the second: those nearest the means."""
        assert isinstance(question, Lesson)
        table = self.chosen.results.swings
        own = table[table["golfer"] == question.golfer]
        phases = [rows for _, rows in own.groupby(question.phase, sort=False)][:2]
        return tuple(typical_swing(rows, column_asked(question)) for rows in phases)


def measured_quantities(table: pd.DataFrame) -> list[str]:
    """Posture quantities that a swing table holds at some event."""
    held = {
        columns.column(n).quantity for n in table.columns if columns.is_column(n) and columns.column(n).event
    }
    return [name for name in columns.QUANTITIES if name in held]


def need_event(quantity: str, event: str) -> None:
    """BadRequest where a quantity is not measured at an event."""
    column = columns.quantity_column(quantity)
    if event not in column.events:
        known = ", ".join(label for label, _ in event_options(column.events))
        raise BadRequest(f"{column.label} is not measured at this event", do=f"choose one of: {known}")
