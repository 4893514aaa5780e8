"""The answer between golfers: a regression on golfers' means, in which each golfer counts once."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab.answers.level import Level, depends_on, need_golfers, spread_of
from swinglab.answers.question import (
    CLUB_TERM,
    GOLFER,
    SESSION,
    STEP,
    WAY,
    Asked,
    X,
    Y,
    with_kind_term,
    with_method_term,
)
from swinglab.answers.rules import ASSUMED_PLACEMENT_DEG
from swinglab.finding_words import Note
from swinglab.records import Finding
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.golfer_means import GolferMeansFit, fit_golfer_means
from swinglab.statistics.mixed import fit_mixed

#: Partial leverage above which one golfer mostly determines a slope.
_MUCH_LEVERAGE = 0.5
_MEANS = Note("golfer_means")


def relate_between(asked: Asked) -> list[Finding]:
    """Return the answer to a hunch between golfers, one finding for each method; the primary method is first."""
    rows, adjust, about_rows = between_rows(asked)
    golfers = rows.groupby(GOLFER)
    terms = [X, *adjust]
    fit = fit_golfer_means(rows, Y, terms, golfer=GOLFER)
    swing = asked.swing_variance * float((1.0 / golfers.size()).mean())
    session = float((1.0 / golfers[SESSION].nunique()).mean())
    unknown = asked.placement_variance is None
    means = fit.means.reset_index()
    error = swing + (asked.placement_variance or 0.0) * session
    level = Level(asked, "between", rows, adjust, *spread_of(means, adjust, fit.n_golfers - 1), error)
    own = Estimate.of_term(fit.coefficients, X)
    notes = [
        *about_rows,
        *fit.warnings,
        *leverage_notes(fit, X),
        *depends_on(fit, rows, terms, fit=fit_golfer_means),
    ]
    if unknown:
        assumed = " and ".join(f"{degrees:g}" for degrees in ASSUMED_PLACEMENT_DEG)
        notes.append(Note("placement_unknown", assumed=assumed))
    found = [level.line(_MEANS, own, notes, placement_deg=0.0 if unknown else float("nan"))]
    for degrees in ASSUMED_PLACEMENT_DEG if unknown else ():
        more = swing + (degrees / STEP) ** 2 * session
        found.append(level.line(_MEANS, own, error=more, placement_deg=degrees))
    found += level.robust(means, Y, terms)
    moving = ["posture deviation"] if rows["posture deviation"].abs().max() > 1e-12 else []
    mixed = fit_mixed(rows, Y, [X, *moving, *adjust], golfer=GOLFER, slopes=moving)
    row = mixed.coefficients.loc[[X]].iloc[0]
    df = min(float(row["df"]), mixed.n_golfers - 1.0)
    by_t = Estimate.by_t(float(row["estimate"]), float(row["standard_error"]), df)
    found.append(level.line(Note("mixed_model"), by_t, mixed.warnings))
    if found[0].correction == "corrected":
        found.append(level.as_fitted(_MEANS, own))
    return found


def between_rows(asked: Asked) -> tuple[pd.DataFrame, list[str], list[Note]]:
    """Return a hunch's swings with posture and covariates replaced by the means of the golfer.

    The column "posture deviation" is added: the posture minus that mean. Also returned are the names of the
    covariates, and notes on measurement methods. Raises BadTable with fewer than six golfers.
    """
    rows, apart = _comparable(asked)
    need_golfers(int(rows[GOLFER].nunique()), "between")
    rows, adjust, ways = with_method_term(rows, asked.adjust)
    rows, adjust = with_kind_term(rows, adjust)
    golfers = rows.groupby(GOLFER)
    deviation = rows[X] - golfers[X].transform("mean")
    rows[[X, *adjust]] = golfers[[X, *adjust]].transform("mean")
    rows["posture deviation"] = deviation
    # If all golfers have the same share of swings with a club, its term would be constant.
    adjust = [name for name in adjust if not (name.startswith(CLUB_TERM) and np.ptp(rows[name]) <= 1e-12)]
    return rows, adjust, [*ways, *apart]


def leverage_notes(fit: GolferMeansFit, term: str) -> list[Note]:
    """Return a note for each golfer with more than half of the information on the coefficient `term`.

    This share is the golfer's partial leverage; the list is empty if there is no such golfer.
    """
    means = fit.means.drop(columns=fit.outcome)
    others = np.column_stack([np.ones(len(means)), means.drop(columns=term).to_numpy()])
    own = means[term].to_numpy()
    rest = (own - others @ np.linalg.lstsq(others, own, rcond=None)[0]) ** 2
    share = pd.Series(rest / rest.sum(), means.index)
    far = share[share > _MUCH_LEVERAGE]
    return [Note("leverage", golfer=golfer, share=float(share)) for golfer, share in far.items()]


def _comparable(asked: Asked) -> tuple[pd.DataFrame, list[Note]]:
    """Return the rows measured by a method that two or more golfers share, with a note on each other method.

    The effect of a method used for one golfer alone cannot be separated from that golfer's own mean.
    """
    golfers = asked.rows.groupby(WAY)[GOLFER].nunique()
    lonely = sorted(golfers.index[golfers < 2]) if len(golfers) > 1 else []
    left = asked.rows[asked.rows[WAY].isin(lonely)]
    notes = [Note("lonely_method", golfer=rows[GOLFER].iloc[0], way=way) for way, rows in left.groupby(WAY)]
    return asked.rows.drop(left.index), notes
