"""Sensitivity of a slope within golfers to soft-tissue artefact whose size is not known.

It is computed if `[errors]` of study.toml does not give soft_tissue_deg. It is shown, but no conclusion uses it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields, replace

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.contact_hunch import in_steps, in_words
from swinglab.answers.found import SEARCHED, after_judging, confirming_rows
from swinglab.answers.judging import read_line
from swinglab.answers.level import Level
from swinglab.answers.question import STEP, frame_question
from swinglab.answers.within import level_within
from swinglab.records import Errors, Finding, Hunch
from swinglab.statistics.attenuation import MOST_ERROR, correct_observed_slope
from swinglab.statistics.estimate import Estimate

#: Assumed SDs (deg) of the part of the artefact that differs between swings: none, small, large. The true SD
#: is not known.
SUPPOSED_DEG = (0.0, 2.0, 5.0)
_SCALED = (
    "estimate",
    "standard_error",
    "ci_low",
    "ci_high",
    "ci90_low",
    "ci90_high",
    "ci80_low",
    "ci80_high",
)


@dataclass(frozen=True, slots=True, eq=False)
class SupposedTissue:
    """The answer to a hunch if soft-tissue artefact had an assumed size.

    tissue_deg : assumed SD of the artefact between swings of one golfer (deg). spread_deg : SD of the measured posture
    within golfers (deg). share : share of the variance of the posture that would be measurement error. line : the
    finding after correction for it; None if the share is too large for a correction.
    """

    tissue_deg: float
    spread_deg: float
    share: float
    line: Finding | None


def suppose_soft_tissue(
    table: pd.DataFrame, hunch: Hunch, lines: Sequence[Finding], errors: Errors
) -> list[SupposedTissue]:
    """Return the slope within golfers and its reading if soft-tissue artefact had an SD of 0, 2 and 5 deg.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table of the study.
    hunch : Hunch
        The question.
    lines : sequence of Finding
        The findings of the hunch, after `judging.judge`.
    errors : Errors
        Known measurement errors.

    Returns
    -------
    list of SupposedTissue
        Empty if `errors` gives the size of the artefact, if the posture is not an angle, or if the hunch is not
        tested within golfers.

    Notes
    -----
    An artefact that is the same in every swing of a golfer does not change a slope within golfers, so the assumed SD
    is that of the part that differs between swings. p is adjusted for multiplicity by the same factor as in the
    finding itself.
    """
    judged = next(line for line in lines if line.role == "default")
    known = errors.soft_tissue_deg is not None
    if known or judged.level != "within" or not np.isfinite(judged.estimate):
        return []
    rows, standing = confirming_rows(table, hunch)
    if standing == SEARCHED or not columns.is_column(hunch.posture) or _unit(hunch) != "deg":
        return []
    asked = frame_question(rows, hunch, errors)
    level = level_within(in_steps(asked) if in_words(asked) else asked)
    beside = [line for line in lines if (line.role, line.level) == ("beside", "within")]
    spread, found = STEP * float(np.sqrt(level.variance)), []
    for tissue in SUPPOSED_DEG:
        error = level.error + (tissue / STEP) ** 2
        line = judged if tissue == 0 else None
        if line is None and error / level.variance < MOST_ERROR:
            others = [_corrected(other, level, error) for other in beside]
            line = after_judging(read_line(_corrected(judged, level, error), others, hunch), standing)
        found.append(SupposedTissue(tissue, spread, error / level.variance, line))
    return found


def _unit(hunch: Hunch) -> str:
    return columns.column(columns.event_column_name(hunch.posture, hunch.event)).unit


def _corrected(line: Finding, level: Level, error: float) -> Finding:
    """Return a finding corrected for the error variance `error` of the posture, not for that used before."""
    before = level.error if line.correction == "corrected" else 0.0
    left = level.variance - before
    estimate = line.estimate * left / level.variance
    if not np.isfinite(line.standard_error):  # estimate and limits are then multiplied by the same factor
        factor = left / (level.variance - error)
        made = Estimate(**{item.name: getattr(line, item.name) for item in fields(Estimate)}).stretched(
            factor
        )
        return replace(line, **asdict(made), not_supported_by="")
    # The first correction added a part for the uncertainty of the observed variance; it is removed again.
    by_variance = 2 / level.variance_df * (estimate * before * level.variance / left**2) ** 2
    plain = np.sqrt(max(line.standard_error**2 - by_variance, 0.0)) * left / level.variance
    answer = correct_observed_slope(
        estimate, float(plain), line.df if np.isfinite(line.df) else np.inf,
        predictor_variance=level.variance, predictor_df=level.variance_df, error_variance=error,
    )  # fmt: skip
    made = Estimate.by_t(answer.estimate, answer.standard_error, answer.df)
    weight = line.p_adjusted / line.p if line.p > 0 else 1.0
    return replace(line, **asdict(made), p_adjusted=min(1.0, weight * made.p), not_supported_by="")
