"""Notebook panel that plans a study: how many golfers, sessions and swings are needed to settle a hunch."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from swinglab import columns, figures
from swinglab.answers.cells import cells_of
from swinglab.answers.found import judged_rows
from swinglab.controls import html as words
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.errors import BadRequest
from swinglab.records import Hunch
from swinglab.report.robustness import robustness_of, robustness_sentence
from swinglab.statistics.confounding import Robustness
from swinglab.statistics.planning import (
    WANTED,
    Plan,
    SlopeSpread,
    for_one_player,
    least_golfers,
    plan_within,
    spread_of_slopes,
)

_STEP = 10.0
_SWINGS_SHOWN = (6, 12, 24, 48)


def plan_question(chosen: ChosenStudy, question: Any) -> PlanPanel:
    """Show how many golfers, sessions and swings are needed to settle a hunch, from standard deviations in this study.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.
    question : QuestionPanel
        Panel returned by ``ask_hunch``.

    Returns
    -------
    PlanPanel
    """
    return PlanPanel(chosen, question)


class PlanPanel(Panel):
    """Notebook panel with sliders for golfers, sessions and swings.

    Attributes
    ----------
    plan : Plan
        The probability that a study with the numbers on the sliders settles the hunch.
    robustness : Robustness or None
        How strong an unmeasured cause would have to be to explain the whole slope in the present study; None if
        this is not defined.
    """

    def __init__(self, chosen: ChosenStudy, question: Any) -> None:
        self._asked = question
        self.plan: Plan | None = None
        self.robustness: Robustness | None = None
        self._spread: tuple[tuple, SlopeSpread] | None = None
        self.golfers = _slider("Golfers", 12, 1, 60)
        self.sessions = _slider("Sessions", 1, 1, 6)
        self.swings = _slider("Swings a session", 20, 6, 80)
        self.smallest = widgets.BoundedFloatText(
            description="Smallest change that matters, for 10 units more",
            value=0.5, min=0.01, max=1000.0, step=0.1, style={"description_width": "initial"},
            layout=widgets.Layout(width="30em", max_width="100%"),
        )  # fmt: skip
        super().__init__(chosen, [self.golfers, self.sessions, self.swings, self.smallest])
        question.observe(lambda _: self.refresh(), "asked")

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: the probability of a settled answer, by numbers of golfers and swings.

        It also says how strong an unmeasured cause would have to be to explain the whole slope in the present study.
        """
        hunch = self._asked.question
        if not isinstance(hunch, Hunch):
            raise BadRequest("a plan can be made only for a hunch", do="choose a hunch above")
        spread = self._spread_of(hunch)
        smallest = self.smallest.value / _STEP
        counts = {"sessions": self.sessions.value, "swings": self.swings.value}
        used = for_one_player(spread) if self.golfers.value == 1 else spread
        self.plan = plan_within(used, golfers=self.golfers.value, smallest_effect=smallest, **counts)
        most = max(30, self.golfers.value)
        chances = {
            swings: [
                (g, plan_within(spread, golfers=g, sessions=self.sessions.value, swings=swings,
                                smallest_effect=smallest).chance)
                for g in range(3, most + 1)
            ]
            for swings in _SWINGS_SHOWN
        }  # fmt: skip
        mark = (self.plan.golfers, self.plan.chance, self.plan.low, self.plan.high)
        axes = figures.draw_plan(chances, chosen=mark, wanted=WANTED)
        least = least_golfers(spread, smallest_effect=smallest, **counts)
        return [
            words.picture(axes, "Probability that the question is settled, by number of golfers and swings.")
            + words.lines(*self._sentences(least))
            + words.folded(
                "Spreads used in this calculation", words.lines(_rests_on(spread), *self._causes(hunch))
            )
        ]

    def _spread_of(self, hunch: Hunch) -> SlopeSpread:
        """Return the spreads in the swings on which a hunch is judged, about the means of their cells."""
        if hunch.level == "golfer":
            raise BadRequest(
                f"a plan is computed from the spreads in several golfers, but the hunch {hunch.name} is about golfer "
                f"{hunch.golfer} alone",
                do="choose a hunch within golfers; set Golfers to 1 to plan for one player",
            )
        key = (hunch, self.chosen.opened)
        if self._spread is None or self._spread[0] != key:
            rows = judged_rows(self.chosen.results.swings, hunch)
            rows = rows.assign(cell=cells_of(rows))
            column = columns.event_column_name(hunch.posture, hunch.event)
            self._spread = key, spread_of_slopes(rows, hunch.outcome, column, session="cell")
        return self._spread[1]

    def _sentences(self, least: Plan | None) -> list[str]:
        plan = self.plan
        assert plan is not None
        who = "this player alone" if plan.golfers == 1 else f"{plan.golfers} golfers"
        sentences = [
            f"With {who}, {plan.sessions} session{'s' * (plan.sessions != 1)} of {plan.swings} swings each: the "
            f"reading would be settled in {plan.at_zero:.0%} of such studies if the posture has no effect, and in "
            f"{plan.at_twice:.0%} if its effect is twice the smallest change that matters. Because the spread is "
            "estimated from few golfers, the smaller of the two probabilities may lie between "
            f"{plan.low:.0%} and {plan.high:.0%}."
        ]
        if least is None:
            sentences.append(
                "Even with 200 golfers fewer than four in five such studies would be settled. More swings or "
                "sessions may help."
            )
        else:
            sentences.append(
                f"Four in five such studies are settled with {least.golfers} golfers or more, at this number of swings."
            )
        return sentences

    def _causes(self, hunch: Hunch) -> list[str]:
        """Return a sentence on how strong an unmeasured cause would have to be; empty if not defined."""
        self.robustness = robustness_of(self.chosen.results.swings, hunch)
        return [robustness_sentence(self.robustness, hunch)] if self.robustness else []


def _rests_on(spread: SlopeSpread) -> str:
    """Return a text with the spreads of this study from which the probabilities are calculated."""
    memory = spread.posture_memory * spread.outcome_memory
    return (
        f"Standard deviations in this study: {10 * spread.slope_sd:.2g} for golfers' slopes (for 10 units "
        f"more of the posture), {spread.residual_sd:.2g} for the strike about a golfer's line, "
        f"{spread.posture_sd:.2g} for the posture from swing to swing."
        + (" Successive swings are correlated, so more swings are needed." if memory > 0.05 else "")
    )


def _slider(label: str, value: int, low: int, high: int) -> widgets.IntSlider:
    return widgets.IntSlider(
        description=label, value=value, min=low, max=high, continuous_update=False,
        style={"description_width": "initial"}, layout=widgets.Layout(width="22em"),
    )  # fmt: skip
