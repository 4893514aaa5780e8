"""A screen in words: its table for a coach, what was searched, and how sure what it found is."""

from __future__ import annotations

import pandas as pd

from swinglab import columns, conventions
from swinglab.answers import ScreenAnswer
from swinglab.report import wording
from swinglab.statistics.screen_family import FEW_FOR_SIGNS, smallest_p
from swinglab.statistics.screen_within import FEWEST_GOLFERS

#: What the table can be sorted by: words -> column of screen.csv, whether the largest comes first.
ORDERS = {
    "body part and event": ("", False),
    "how strongly it goes with the strike": ("size", True),
    "adjusted p": ("p_adjusted", False),
    "how much the player varies it": ("own_sd", True),
    "how many golfers share the sign": ("golfers_same_sign", True),
}
FOUND_BY_LOOKING = (
    "Found by looking is not confirmed: a search among many postures picks those that look largest, and they look "
    "larger than they are. Save the question, then measure golfers (for one golfer: a later session) that had no part "
    "in the search."
)


def posture_words(name: str) -> str:
    """A candidate in words: the posture and its event."""
    c = columns.column(name)
    return f"{wording.label(c.quantity)} at {conventions.EVENT_LABELS[c.event]}"


def before_searching(golfers: int, level: str) -> str:
    """What a search of so many golfers can show at best, for the reader before it is made."""
    if level != "within":
        return ""
    if golfers < FEWEST_GOLFERS:
        return f"{golfers} golfers are too few for a search among golfers: it takes {FEWEST_GOLFERS} or more."
    least = smallest_p(golfers)
    if least <= 0.005:
        return ""
    return (
        f"With {golfers} golfers no posture can have an adjusted p below {_p(least)}, however strongly it goes with "
        "the strike"
        + (
            ", unless the golfers' slopes are taken to be normally distributed."
            if golfers < FEW_FOR_SIGNS
            else "."
        )
    )


def coach_table(
    rows: pd.DataFrame, *, order: str, player: pd.DataFrame | None = None, only_found: bool = False
) -> pd.DataFrame:
    """The table a coach chooses from: one row for each group of postures that go together.

    Parameters
    ----------
    rows : DataFrame
        Rows of screen.csv of one screen.
    order : str
        One of `ORDERS`.
    player : DataFrame, optional
        `answers.player_against_group` of the same candidates.
    only_found : bool
        Whether to leave out what has no adjusted p below .05.

    Returns
    -------
    DataFrame
        Text, ready for a page.
    """
    shown = rows[rows["shown"] == True].copy()  # noqa: E712 - the column holds missing values too
    shown["size"] = (shown["estimate"] / shown["standard_error"]).abs()
    company = rows.groupby("group")["column"].apply(list)
    if only_found:
        shown = shown[shown["p_adjusted"] < 0.05]
    by, largest = ORDERS[order]
    if by:
        shown = shown.sort_values(by, ascending=not largest, kind="stable")
    if player is not None:
        shown = shown.merge(player, on="column", how="left")
    made = [_coach_row(row, company[row["group"]]) for row in shown.to_dict("records")]
    return pd.DataFrame(made)


def _coach_row(row: dict, company: list[str]) -> dict[str, str]:
    unit = columns.column(row["column"]).unit
    outcome = wording.unit_words(row["unit"])
    low, high = row["ci_low"], row["ci_high"]
    slope, low, high = (_signed(value, high - low) for value in (row["estimate"], low, high))
    cells = {
        "posture": posture_words(row["column"]),
        "strike for 10 more": f"{slope}\u00a0{outcome} [{low},\u00a0{high}]",
        "adjusted p": _p(row["p_adjusted"]),
    }
    if row["level"] != "golfer":
        cells["golfers of this sign"] = f"{row['golfers_same_sign']:.0f} of {row['n_golfers']:.0f}"
    if "difference" in row:
        cells["this player against the group"] = (
            f"{'+' if row['difference'] > 0 else ''}{wording.with_unit(row['difference'], unit)} (a new member: "
            f"within {wording.value_text(row['range_high'], unit)}; error {wording.value_text(row['error'], unit)})"
        )
    cells["varies from swing to swing"] = wording.with_unit(row["own_sd"], unit)
    cells["smallest change that can be seen: one swing; ten"] = (
        f"{wording.value_text(row['detectable_one'], unit)}; {wording.with_unit(row['detectable_session'], unit)}"
    )
    if row["reliability_one"] == row["reliability_one"]:
        cells["reliability: one swing; ten"] = (
            f"{row['reliability_one']:.2f}; {row['reliability_session']:.2f}"
        )
    others = [posture_words(name) for name in company if name != row["column"]]
    cells["moves together with"] = "; ".join(others[:3]) + (
        f"; and {len(others) - 3} more" if len(others) > 3 else ""
    )
    return cells


def _signed(value: float, width: float) -> str:
    """A slope with its sign, at a precision that its interval's width deserves."""
    if value != value:
        return "not known"
    return f"{value:+.{1 if width >= 5 else 2}f}".replace("-", "\u2212")


def _p(p: float) -> str:
    return "<\u00a0.001" if p < 0.001 else f"{p:.3f}".replace("0.", ".", 1)


def first_and_more(answer: ScreenAnswer) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What was searched and what came out, in sentences; then what else to know, which a page can fold."""
    if answer.found is None:
        return (f"This search could not be made: {answer.why}",), ()
    found = answer.found
    table = found.table
    hits = table[table["p_adjusted"] < 0.05]
    groups = len(set(answer.groups[hits.index])) if len(hits) else 0
    who = {
        "within": f"{table['n_golfers'].max()} golfers, each compared with himself or herself",
        "between": f"the means of {table['n_golfers'].max()} golfers",
        "golfer": f"{table['n_swings'].max()} swings of golfer {answer.question.golfer}",
    }[found.level]
    sentences = [
        f"{len(table)} postures were searched for those that go with {wording.label(found.outcome)}, among {who}. "
        "The adjusted p counts all of them: where nothing goes with the strike, one search in twenty finds anything.",
    ]
    if len(hits):
        sentences.append(
            f"Found: {wording.count(len(hits), 'posture')} in {wording.count(groups, 'group')} of postures that "
            "move together. Which of a group is the cause cannot be seen from this."
        )
    else:
        sentences.append("Nothing was found. This does not show that nothing is there: see the intervals.")
    more = [
        f"{wording.count(len(found.not_screened), 'posture')} could not be searched: too few golfers or swings "
        "have a value."
    ] if len(found.not_screened) else []  # fmt: skip
    # What few golfers can show at best is printed before the search.
    notes = (str(note) for note in answer.notes if not note.key.startswith("screen_few"))
    return tuple(sentences), (*more, *(note[:1].upper() + note[1:] + "." for note in notes))
