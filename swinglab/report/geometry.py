"""Geometry and regression: the slope predicted by geometry, the slope within golfers, and their difference."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from swinglab import columns, figures
from swinglab.answers import GeometryBesideRegression, compare_geometry, geometric_slopes, has_geometry
from swinglab.answers.selection import columns_asked, rows_where
from swinglab.errors import SwinglabError
from swinglab.figures.forest import Row
from swinglab.records import Events, Finding, Hunch, Trial
from swinglab.report import wording
from swinglab.report.pictures import Drawn
from swinglab.report.typical import typical_swing
from swinglab.statistics.estimate import Estimate
from swinglab.study import Results, Study, load_swing

#: Largest number of golfers whose typical swing is changed by calculation, which takes a third of a second for each.
MOST_GOLFERS = 12
PHASES = ("before", "after")
CAPTION = (
    "Filled: the slope within golfers, by the primary method. Open: the slope predicted by geometry alone, from one "
    "measured swing of each golfer in which only this posture is changed and the club still meets the ball. Square: "
    "their difference. Lines: 95 % intervals."
)


class Beside(NamedTuple):
    """For one hunch, the slope predicted by geometry beside the slope within golfers: figure and sentences.

    drawn : None if the slopes could not be compared; the sentences then give the reason.
    """

    question: str
    drawn: Drawn | None
    sentences: tuple[str, ...]


def geometry_beside(study: Study, results: Results) -> list[Beside]:
    """Return the slopes by geometry and within golfers for each pair of posture and outcome in the study's hunches.

    Hunches whose posture cannot be changed by calculation are left out.
    """
    asked: dict[tuple, Hunch] = {}
    for hunch in study.hunches:
        asked.setdefault((hunch.posture, hunch.event, hunch.outcome, str(hunch.where)), hunch)
    return [_beside(study, results, hunch) for hunch in asked.values() if has_geometry(hunch)]


def _beside(study: Study, results: Results, hunch: Hunch) -> Beside:
    try:
        found = compare_with_geometry(study, results, hunch)
    except SwinglabError as fault:
        return Beside(
            hunch.name,
            None,
            (f"The slope predicted by geometry could not be compared with these swings: {fault.what}.",),
        )
    return Beside(hunch.name, draw_geometry(found), geometry_sentences(found))


def compare_with_geometry(study: Study, results: Results, hunch: Hunch) -> GeometryBesideRegression:
    """Compare the slope predicted by geometry, from one typical swing of each golfer, with the slope within golfers.

    The typical swing of a golfer who has swings of the phase "before" is one of these, so that a change is not
    predicted from later data; swings of the phase "after" are never used. Of more than twelve golfers, the
    typical swings of twelve are used, evenly spaced by name; the slope within golfers uses all golfers.

    Raises
    ------
    SwinglabError
        The posture of this hunch cannot be changed by calculation, or there are too few data.
    """
    column = columns.event_column_name(hunch.posture, hunch.event or "")
    asked = columns_asked(results.swings, hunch)
    table = not_after_a_lesson(rows_where(asked, hunch.where))
    known = table.dropna(subset=[name for name in (column, hunch.outcome) if name in table.columns])
    golfers = sorted(known["golfer"].unique())
    if len(golfers) > MOST_GOLFERS:
        places = np.linspace(0, len(golfers) - 1, MOST_GOLFERS).round().astype(int)
        golfers = [golfers[place] for place in places]
    swings = {
        str(golfer): _loaded(study, typical_swing(known[known["golfer"] == golfer], column))
        for golfer in golfers
    }
    slopes = geometric_slopes(swings, hunch.posture, hunch.outcome)
    return compare_geometry(asked, slopes, hunch, errors=study.errors_of(asked))


def not_after_a_lesson(table: pd.DataFrame) -> pd.DataFrame:
    """Return a swing table without the swings after a lesson.

    Of a golfer with swings of the phase "before", only these remain; of the others, all but those of the phase "after".
    """
    if "phase" not in table.columns:
        return table
    is_before = table["phase"] == PHASES[0]
    has_before = is_before.groupby(table["golfer"]).transform("any")
    return table[is_before | (~has_before & (table["phase"] != PHASES[1]))]


def _loaded(study: Study, swing: str) -> list[tuple[Trial, Events]]:
    """Return trial and events of a swing in a list; empty where it cannot be measured again."""
    try:
        records = load_swing(study, swing)
    except SwinglabError:
        return []
    return [(records.trial, records.events)]


def draw_geometry(found: GeometryBesideRegression) -> Drawn:
    """Return a figure of the slope predicted by geometry, the slope within golfers, and their difference."""
    players = found.players
    rows = [
        _row("geometry alone", found.geometric, "companion"),
        Row("within golfers", players.estimate, players.ci_low, players.ci_high, "judged"),
        _row("difference", found.difference, "other"),
    ]
    axis = f"{wording.label(found.outcome)}, {wording.unit_words(players.unit)}\nper {players.per}"
    axes = figures.draw_forest(rows, axis=axis)
    values = "; ".join(f"{row.words} {_size(row.estimate, row.low, row.high, players)}" for row in rows)
    return Drawn(axes, f"Estimates of {axis}: {values}.".replace("\n", ", "), CAPTION)


def _row(words: str, estimate: Estimate, weight: str) -> Row:
    return Row(words, estimate.estimate, estimate.ci_low, estimate.ci_high, weight)


def _size(value: float, low: float, high: float, like: Finding) -> str:
    """Return a number with its interval as text, with the unit and rounding rules of the finding `like`."""
    line = replace(like, estimate=value, ci_low=low, ci_high=high)
    return f"{wording.rounded(value, line)} {wording.interval(line)}"


def geometry_sentences(found: GeometryBesideRegression) -> tuple[str, ...]:
    """Return the comparison of the slope predicted by geometry with the slope within golfers, in sentences.

    They give both slopes and their difference. If golfers had a lesson, they also give the error with which each slope
    predicts how the golfer's strike changed.
    """
    players, geometric, difference = found.players, found.geometric, found.difference
    unit = wording.unit_words(players.unit)
    used = int((found.by_golfer["n_swings"] > 0).sum())
    more = wording.more_or_less(found.outcome, 1.0)
    when = wording.at_event(found.event)
    sizes = [_size(e.estimate, e.ci_low, e.ci_high, players) for e in (geometric, players, difference)]
    first = (
        f"Per {players.per}{when}, geometry alone predicts a change of {wording.label(found.outcome)} by {sizes[0]} "
        f"{unit} (+ = {more}; one swing of each of {wording.count(used, 'golfer')}). The slope within golfers is "
        f"{sizes[1]} {unit}. The difference, slope within golfers minus geometry, is {sizes[2]} {unit}."
    )
    reach = (
        "Its interval includes 0: geometry alone could explain the slope, or the slope could differ from geometry "
        "by as much as the ends of the interval."
        if difference.ci_low <= 0 <= difference.ci_high
        else "Its interval does not include 0: in these swings something else changes together with the posture, "
        "such as the motion of hands and wrists, which geometry alone does not include."
    )
    what = "This difference is not evidence of a cause."
    return (first, f"{reach} {what}", *_predicted(found, unit))


def _predicted(found: GeometryBesideRegression, unit: str) -> tuple[str, ...]:
    """Return a sentence on the errors of three predictions of golfers' changes; () without a change."""
    errors = found.prediction_error
    if not len(found.held_out) or not all(math.isfinite(error) for error in errors.values()):
        return ()
    golfers = ", ".join(found.held_out["golfer"].astype(str))
    off = {name: f"{error:.2f}" for name, error in errors.items()}
    return (
        f"The change of {wording.label(found.outcome)} from before to after the lesson in {golfers} was predicted from "
        f"the change of posture, without the golfer's own strikes after the lesson. The error (root mean square over "
        f"{wording.count(len(found.held_out), 'golfer')}) was {off['no_change']} {unit} if no change is predicted, "
        f"{off['geometry']} {unit} by geometry and {off['players']} {unit} by the slope within the other golfers.",
    )


def golfer_rows(found: GeometryBesideRegression) -> pd.DataFrame:
    """Return a table of text with each golfer's two slopes: by geometry, and from the golfer's own swings."""
    return pd.DataFrame(
        [
            {"golfer": row["golfer"],
             "geometry alone (± SE)": wording.with_error(row["geometric"], row["geometric_se"]),
             "own swings (± SE)": wording.with_error(row["players"], row["players_se"]), "why none": row["note"]}
            for row in found.by_golfer.fillna({"note": ""}).to_dict("records")
        ]
    )  # fmt: skip
