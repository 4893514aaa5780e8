"""The result of a search among postures in words: sentences, and a table for a coach."""

from __future__ import annotations

import pandas as pd

from swinglab import columns, conventions
from swinglab.answers import ScreenAnswer
from swinglab.report import wording
from swinglab.statistics.screen_family import FEW_FOR_SIGNS, smallest_p
from swinglab.statistics.screen_within import FEWEST_GOLFERS

#: Order of the table, in words -> (column of screen.csv to sort by, "" for none; whether the largest comes first).
ORDERS = {
    "body part and event": ("", False),
    "how strongly it is related to the strike": ("size", True),
    "adjusted p": ("p_adjusted", False),
    "how much the player varies it": ("own_sd", True),
    "how many golfers share the sign": ("golfers_same_sign", True),
}
FOUND_BY_LOOKING = (
    "A relation found by a search is not confirmed: the search picks the postures that look strongest, and their "
    "estimates are too large. Save the question as a hunch, then test it with golfers (for one golfer: with a later "
    "session) that were not part of the search."
)


def posture_words(name: str) -> str:
    """Return words for a posture column of the swing table: the posture and its event."""
    c = columns.column(name)
    return f"{wording.label(c.quantity)} at {conventions.EVENT_LABELS[c.event]}"


def before_searching(golfers: int, level: str) -> str:
    """Return a sentence on the smallest adjusted p that a search within golfers can reach with this number of golfers.

    It is "" for enough golfers, and for the levels "between" and "golfer" (a search in one golfer's swings).
    """
    if level != "within":
        return ""
    if golfers < FEWEST_GOLFERS:
        return f"{golfers} golfers are too few for a search among golfers, which needs at least {FEWEST_GOLFERS}."
    least = smallest_p(golfers)
    if least <= 0.005:
        return ""
    return (
        f"With {golfers} golfers no posture can have an adjusted p below {_p(least)}, however strongly it is related "
        "to the strike"
        + (
            ", unless the golfers' slopes are assumed to be normally distributed."
            if golfers < FEW_FOR_SIGNS
            else "."
        )
    )


def coach_table(
    rows: pd.DataFrame, *, order: str, player: pd.DataFrame | None = None, only_found: bool = False
) -> pd.DataFrame:
    """Return the table from which a coach chooses a posture: one row for each group of correlated postures.

    Parameters
    ----------
    rows : DataFrame
        Rows of screen.csv of one search.
    order : str
        Order of the rows, a key of `ORDERS`.
    player : DataFrame, optional
        Comparison of a player with the reference group, from `answers.player_against_group`.
    only_found : bool
        Whether postures with an adjusted p of .05 or more are left out.

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
    """Return a slope with its sign; with one decimal if its interval is 5 or more units wide, otherwise two."""
    if value != value:
        return "not known"
    return f"{value:+.{1 if width >= 5 else 2}f}".replace("-", "\u2212")


def _p(p: float) -> str:
    return "<\u00a0.001" if p < 0.001 else f"{p:.3f}".replace("0.", ".", 1)


def first_and_more(answer: ScreenAnswer) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the result of a search as sentences: what was searched and found, and further remarks.

    The further remarks are less important, so a page may hide them until the reader unfolds them.
    """
    if answer.found is None:
        return (f"This search is not possible: {answer.why}",), ()
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
        f"{len(table)} postures were searched for those related to {wording.label(found.outcome)}, among {who}. "
        "The adjusted p accounts for all of them: if no posture is related to the strike, only one search in twenty "
        "finds one.",
    ]
    if len(hits):
        sentences.append(
            f"Found: {wording.count(len(hits), 'posture')} in {wording.count(groups, 'group')} of correlated postures. "
            "Within a group, the search cannot show which posture matters."
        )
    else:
        sentences.append(
            "No posture was found. This does not show that there is no relation: see how wide the intervals are."
        )
    more = [
        f"{wording.count(len(found.not_screened), 'posture')} could not be searched: too few golfers or swings "
        "have a value."
    ] if len(found.not_screened) else []  # fmt: skip
    # What few golfers can show at best is in the text of `before_searching`.
    notes = (str(note) for note in answer.notes if not note.key.startswith("screen_few"))
    return tuple(sentences), (*more, *(note[:1].upper() + note[1:] + "." for note in notes))
