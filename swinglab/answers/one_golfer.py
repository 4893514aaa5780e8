"""A hunch answered for one golfer, or for a few golfers one by one."""

from __future__ import annotations

from typing import Any

import numpy as np

from swinglab.answers.lines import NO_NUMBER
from swinglab.answers.question import GOLFER, ORDER, SESSION, Asked, X, Y, with_method_term
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.records import Finding
from swinglab.statistics.attenuation import correct_observed_slope
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.series import fit_series


def relate_alone(asked: Asked, golfer: object) -> list[Finding]:
    """Lines of one golfer: the answer for this player, in these sessions; corrected first, then as fitted.

    Raises
    ------
    BadTable
        Too few swings of this golfer, or a posture that does not vary.
    """
    rows, adjust, ways = with_method_term(asked.rows[asked.rows[GOLFER] == golfer], asked.adjust)
    moving = [name for name in adjust if rows[name].nunique() > 1]
    session = SESSION if rows[SESSION].nunique() > 1 else None
    fit = fit_series(rows, Y, [X, *moving], order=ORDER, session=session)
    own = Estimate.of_term(fit.coefficients, X)
    others = np.column_stack([np.ones(len(rows)), *(rows[name] for name in (*moving, ORDER))])
    x = rows[X].to_numpy()
    rest = x - others @ np.linalg.lstsq(others, x, rcond=None)[0]
    left = float(len(rows) - others.shape[1])
    answer = correct_observed_slope(
        own.estimate, own.standard_error, own.df, predictor_variance=float(rest @ rest) / left,
        predictor_df=left, error_variance=asked.swing_variance,
    )  # fmt: skip
    method, notes = Note("series", golfer=golfer), (*ways, *fit.warnings, *answer.warnings)
    more: dict[str, Any] = {"n_golfers": 1, "n_swings": fit.n_rows, "golfer": golfer, "adjusted_for": moving}
    if not (answer.corrected and answer.reliability < 1.0):
        return [asked.line("golfer", method, own, warnings=notes, **more)]
    # p and the shape of the interval are the series' own; the correction stretches both alike about 0.
    stretched = own.moved(answer.estimate, answer.standard_error)
    return [
        asked.line("golfer", method, stretched, warnings=notes, correction="corrected", **more),
        asked.line("golfer", method, own, correction="as_fitted", **more),
    ]


def relate_each(asked: Asked) -> list[Finding]:
    """The first line of every golfer; one who cannot be answered for keeps a line with the reason."""
    found = []
    for golfer in sorted(asked.rows[GOLFER].unique(), key=str):
        try:
            found.append(relate_alone(asked, golfer)[0])
        except BadTable as fault:
            number = int((asked.rows[GOLFER] == golfer).sum())
            found.append(
                asked.line(
                    "golfer",
                    Note("none"),
                    NO_NUMBER,
                    n_golfers=1,
                    n_swings=number,
                    golfer=golfer,
                    warnings=[Note("no_fit", why=fault.what)],
                )
            )
    return found
