"""A hunch answered for one golfer, or for a few golfers one by one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swinglab.answers.question import GOLFER, ORDER, SESSION, Asked, X, Y, with_method_term
from swinglab.errors import BadTable
from swinglab.records import Finding
from swinglab.statistics.attenuation import correct_observed_slope
from swinglab.statistics.series import fit_series

_SERIES = "regression with AR(1) errors and a trend, by REML"


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
    row = fit.coefficients.loc[[X]].iloc[0]
    others = np.column_stack([np.ones(len(rows)), *(rows[name] for name in (*moving, ORDER))])
    x = rows[X].to_numpy()
    rest = x - others @ np.linalg.lstsq(others, x, rcond=None)[0]
    left = float(len(rows) - others.shape[1])
    answer = correct_observed_slope(
        float(row["estimate"]), float(row["standard_error"]), float(row["df"]),
        predictor_variance=float(rest @ rest) / left, predictor_df=left, error_variance=asked.swing_variance,
    )  # fmt: skip
    corrected = answer.corrected and answer.reliability < 1.0
    words = f"golfer {golfer}, these sessions: {_SERIES}"
    own = [float(row[name]) for name in ("estimate", "standard_error", "df", "p", "ci_low", "ci_high")]
    if not corrected:
        return [asked.line("golfer", words, own, n_golfers=1, n_swings=fit.n_rows,
                           warnings=(*ways, *fit.warnings, *answer.warnings))]  # fmt: skip
    # p and the shape of the interval are the series' own; the correction stretches them about 0 alike.
    half = answer.standard_error / own[1]
    numbers = (
        answer.estimate, answer.standard_error, own[2], own[3],
        answer.estimate - half * (own[0] - own[4]), answer.estimate + half * (own[5] - own[0]),
    )  # fmt: skip
    return [
        asked.line("golfer", f"{words}, corrected for measurement error", numbers, n_golfers=1,
                   n_swings=fit.n_rows, warnings=(*ways, *fit.warnings, *answer.warnings)),
        asked.line("golfer", f"{words}, not corrected for measurement error", own, n_golfers=1,
                   n_swings=fit.n_rows),
    ]  # fmt: skip


def relate_each(asked: Asked) -> list[Finding]:
    """The first line of every golfer; one who cannot be answered for keeps a line with the reason."""
    found = []
    for golfer in sorted(asked.rows[GOLFER].unique(), key=str):
        try:
            found.append(relate_alone(asked, golfer)[0])
        except BadTable as fault:
            number = int((asked.rows[GOLFER] == golfer).sum())
            line = asked.line("golfer", f"golfer {golfer}: none", (np.nan,) * 6, n_golfers=1, n_swings=number)
            found.append(replace(line, warnings=(*line.warnings, fault.what)))
    return found
