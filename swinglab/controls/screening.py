"""Notebook panel that searches many posture quantities for those related to the strike, and saves one as a hunch."""

from __future__ import annotations

import ipywidgets as widgets
import pandas as pd
import traitlets

from swinglab import answers, columns
from swinglab.answers import ScreenAnswer
from swinglab.answers.cells import KINDS
from swinglab.answers.selection import rows_where
from swinglab.controls import html as words
from swinglab.controls.choosers import chosen_outcome, dropdown, name_options, outcome_options, refill
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.controls.saving import SaveQuestion
from swinglab.errors import BadRequest
from swinglab.records import FoundIn, Hunch, PostureScreen
from swinglab.report import screen_words, wording
from swinglab.report.screens import draw_part
from swinglab.statistics.screen_within import FEWEST_SWINGS
from swinglab.study import search_study

LEVELS = [
    ("within golfers: one swing against another", "within"),
    ("between golfers: their means", "between"),
    ("one golfer's swings", "golfer"),
]
ALL, PART = "all", "part"
SEARCHED = [
    (
        "a part of the golfers, so that the others can confirm (one golfer: half of the longest session)",
        PART,
    ),
    ("everything: new golfers or a later session are needed to confirm", ALL),
]
OWN = "a search of your own"


def ask_screen(chosen: ChosenStudy) -> ScreenPanel:
    """Show a search among many posture quantities for those related to the strike; one can be saved as a hunch.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.

    Returns
    -------
    ScreenPanel
    """
    return ScreenPanel(chosen)


class ScreenPanel(Panel):
    """Notebook panel for a search; the user chooses outcome, level (within or between golfers) and golfers.

    Attributes
    ----------
    answer : ScreenAnswer
        The result of the search.
    rows : DataFrame
        Its rows of screen.csv, one for each posture quantity and event.
    quantity, event_asked : str
        Names of the posture quantity and event that are chosen to be saved.
    pair : tuple of str
        Names of the swings with the largest and the smallest value of this quantity, of the golfer with most swings.
    """

    quantity = traitlets.Unicode()
    event_asked = traitlets.Unicode()
    pair = traitlets.Tuple()

    def __init__(self, chosen: ChosenStudy) -> None:
        self.answer: ScreenAnswer | None = None
        self.rows = pd.DataFrame()
        self._made: dict[tuple, tuple[ScreenAnswer, pd.DataFrame]] = {}
        self.listed = dropdown("Search", [])
        self.outcome = dropdown("what goes with", [])
        self.level = dropdown("among", LEVELS)
        self.golfer = dropdown("Golfer", [])
        self.searched = dropdown("in", SEARCHED)
        self.part = dropdown("Picture of", [])
        self.player = dropdown("Compare a player", [])
        self.order = dropdown("Sorted by", [(name, name) for name in screen_words.ORDERS])
        self.shown = dropdown("Show", [("what was found", "found"), ("every posture", "all")])
        self.candidate = dropdown("Posture to save", [])
        self.save = SaveQuestion(chosen)
        self._own = [self.outcome, self.level, self.searched]
        super().__init__(
            chosen,
            [
                self.listed,
                *self._own,
                self.golfer,
                self.part,
                self.player,
                self.order,
                self.shown,
                self.candidate,
            ],
        )

    def refill_choosers(self) -> None:
        """Fill the lists with the searches in study.toml, the outcomes and the golfers."""
        study, table = self.chosen.need_study(), self.chosen.results.swings
        self._made.clear()
        refill(self.listed, [*((s.name, s.name) for s in study.screens), (OWN, "")])
        refill(self.outcome, outcome_options(table), self.outcome.value or "attack_angle_deg")
        names = sorted(table["golfer"].unique())
        most = table["golfer"].value_counts().index[0]
        refill(self.golfer, name_options(names), self.golfer.value or most)
        refill(self.player, [("no player", ""), *name_options(names)], self.player.value or most)

    def question(self) -> PostureScreen:
        """Return the search that the user has composed in the lists."""
        study, table = self.chosen.need_study(), self.chosen.results.swings
        if self.listed.value:
            return next(s for s in study.screens if s.name == self.listed.value)
        level, outcome = self.level.value, chosen_outcome(self.outcome)
        golfer = self.golfer.value if level == "golfer" else None
        if golfer is not None:
            need_sessions(table)
        name = f"what goes with {wording.label(outcome)} ({level if golfer is None else golfer})"
        where = {} if self.searched.value == ALL else part_of(table, golfer)
        return PostureScreen(name, outcome, level, golfer, where=where)

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: figure of a body part, table of results, and the hunch that can be saved."""
        asked = self.question()
        is_own = not self.listed.value
        for chooser in self._own:
            chooser.layout.display = "" if is_own else "none"
        self.golfer.layout.display = "" if is_own and asked.level == "golfer" else "none"
        table = self.chosen.results.swings
        golfers = rows_where(table, asked.where)["golfer"].nunique()
        head = screen_words.before_searching(golfers, asked.level)
        self.answer, self.rows = self._searched(asked)
        first, more = screen_words.first_and_more(self.answer)
        looking = [screen_words.FOUND_BY_LOOKING] if self.answer.found is not None else []
        summary = words.lines(*([head] if head else []), *first, *looking)
        if more:
            summary += words.folded("More about this search", words.lines(*more))
        if self.answer.found is None:
            return [summary]
        self._offer_candidates()
        return [summary, self._picture(), self._table(table), self._kept(table), self.save, words.CAUTION]

    def _searched(self, asked: PostureScreen) -> tuple[ScreenAnswer, pd.DataFrame]:
        study, results = self.chosen.need_study(), self.chosen.results
        key = (asked.name, asked.outcome, asked.level, asked.golfer, repr(asked.where))
        if key not in self._made:
            if self.listed.value:  # p is adjusted over all searches of a study together
                answer = next(a for a in search_study(study, results) if a.question.name == asked.name)
            else:
                (answer,) = answers.answer_screens(results.swings, [asked])
            self._made[key] = answer, answers.screen_table([answer], study.errors)
        return self._made[key]

    def _offer_candidates(self) -> None:
        """Fill the lists with the body parts and postures of this search, smallest adjusted p first."""
        self._is_filling = True
        known = self.rows[self.rows["estimate"].notna()].sort_values("p_adjusted", kind="stable")
        parts = list(dict.fromkeys(columns.column(name).group for name in known["column"]))
        refill(self.part, [(part.replace("_", " "), part) for part in parts])
        named = [(screen_words.posture_words(name), name) for name in known["column"]]
        refill(self.candidate, named)
        self._is_filling = False

    def _picture(self) -> str:
        drawn = draw_part(self.rows, self.part.value)
        return words.picture(drawn.axes, drawn.alt) + words.lines(drawn.caption)

    def _table(self, table: pd.DataFrame) -> str:
        study, found = self.chosen.need_study(), self.shown.value == "found"
        player = None
        if self.player.value and study.reference_group:
            names = [str(name) for name in self.rows["column"]]
            player = answers.player_against_group(
                table, names, golfer=str(self.player.value), group=study.reference_group, errors=study.errors
            )
        shown = screen_words.coach_table(self.rows, order=self.order.value, player=player, only_found=found)
        if shown.empty:
            return words.lines("No posture was found. Choose to show every posture to see their intervals.")
        notes = [] if player is None else [
            f"Difference: golfer {self.player.value} minus the mean of the group {study.reference_group}"
            f"{_clubs(player)}. "
            "Within: the range in which 19 of 20 new members of the group would lie. Error: standard error of the "
            "difference."
        ]  # fmt: skip
        if study.errors.placement_deg is None:
            notes.append(
                "Placing the markers again adds an error that is not known in this study. Do: give placement_deg "
                "under [errors] in study.toml."
            )
        return words.table(shown) + words.lines(*notes)

    def _kept(self, table: pd.DataFrame) -> str:
        """Offer to save the chosen posture as a hunch; the hunch records the data in which it was found."""
        assert self.answer is not None
        asked = self.answer.question
        c = columns.column(self.candidate.value)
        with self.hold_trait_notifications():
            self.quantity, self.event_asked = c.quantity, c.event
            self.pair = most_and_least(self.answer.rows, c.name)
        row = self.rows[self.rows["column"] == c.name].iloc[0]
        name = f"found by looking: {screen_words.posture_words(c.name)} and {wording.label(asked.outcome)}"
        self.save.offer(
            Hunch(
                name, asked.outcome, c.quantity, c.event, asked.level,
                "positive" if row["estimate"] > 0 else "negative", asked.adjust, asked.smallest_effect,
                golfer=asked.golfer, where=kind_where(asked), found_in=found_in(table, asked),
            )
        )  # fmt: skip
        direction = "higher" if row["estimate"] > 0 else "lower"
        return words.heading("Save one of them as a question") + words.lines(
            f"{screen_words.posture_words(c.name)}: the hunch expects a {direction} value of "
            f"{wording.label(asked.outcome)} where this is larger, as in the search."
        )


def kind_where(asked: PostureScreen) -> dict:
    """Return the conditions of a search on club and shot, as `where` of a hunch that the search found.

    The search's other conditions, such as golfers and sessions, say which swings it used; they are left out, because
    the hunch is tested on other swings.
    """
    return {name: asked.where[name] for name in KINDS if name in asked.where}


def found_in(table: pd.DataFrame, asked: PostureScreen) -> FoundIn:
    """Return the golfers, sessions or swings that a search uses; a hunch found in them must be tested on other data.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table.
    asked : PostureScreen
        The search.
    """
    rows = rows_where(table, asked.where)
    if asked.level != "golfer":
        return FoundIn(golfers=tuple(sorted(rows["golfer"].unique())))
    own = table[table["golfer"] == asked.golfer]
    rows = rows[rows["golfer"] == asked.golfer]
    swings = tuple(rows["swing"]) if len(rows) < len(own) else ()
    return FoundIn(sessions=tuple(sorted(own["session"].unique())), swings=swings)


def need_sessions(table: pd.DataFrame) -> None:
    """Raise BadRequest if a swing table has no column session."""
    if "session" not in table:
        raise BadRequest(
            "one golfer's swings are shown and searched by session, but swings.csv has no column session",
            do="add a column session to swings.csv, for example with the date",
        )


def most_and_least(rows: pd.DataFrame, name: str) -> tuple[str, ...]:
    """Return the names of the swings with the largest and the smallest value of a posture column.

    Only swings of the golfer with most swings are considered.
    """
    known = rows[rows[name].notna()]
    own = known[known["golfer"] == known["golfer"].value_counts().index[0]]
    most, least = own[name].idxmax(), own[name].idxmin()
    return (str(own.at[most, "swing"]), str(own.at[least, "swing"]))


def part_of(table: pd.DataFrame, golfer: str | None) -> dict:
    """Select the swings for a search, so that its result can be confirmed in the other swings.

    These are the swings of about two of three golfers in each group or, if `golfer` is given, the first half
    of the session with most swings. Golfers with fewer than five swings are not searched, but can be used to
    confirm.

    Parameters
    ----------
    table : pandas.DataFrame
        Swing table.
    golfer : str or None
        Code of the golfer, for a search in one golfer's swings.

    Returns
    -------
    dict
        Column -> values to select, as `where` of a `PostureScreen`.
    """
    if golfer is not None:
        own = table[table["golfer"] == golfer]
        longest = own["session"].value_counts().index[0]
        order = own.loc[own["session"] == longest, "order"]
        return {"golfer": [golfer], "session": [longest], "order": {"to": float(order.median())}}
    counts = table["golfer"].value_counts()
    able = [name for name, number in counts.items() if number >= FEWEST_SWINGS]
    by_group = (
        table[table["golfer"].isin(able)].groupby("golfer")["group"].first().sort_values(kind="stable").index
    )
    kept = [name for place, name in enumerate(by_group) if place % 3 != 2]
    return {"golfer": sorted(kept)}


def _clubs(player: pd.DataFrame) -> str:
    """Return the end of a phrase, which names the club whose swings of a golfer and a group are compared."""
    if player["club"].iloc[0]:
        return f", swings with the {player['club'].iloc[0]}"
    if player["group_golfers"].any():
        return " (clubs are not known and may differ)"
    return ": no club was swung by both, so nothing is compared"
