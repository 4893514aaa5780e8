"""Measurement errors of a study's set-up by its section [validate], as lines to print and to paste."""

from __future__ import annotations

from swinglab.answers.validation import ValidationAnswer, validate_setup
from swinglab.errors import BadRequest, BadTable
from swinglab.records import Validation
from swinglab.study.opening import Study
from swinglab.study.results import Results
from swinglab.study.settings import FILE

#: Kinds of rows that are printed; all others are in validation.csv only.
_PRINTED = ("placement_sd", "examiner_bias", "device_bias", "turf_bias")


def validation_asked(study: Study) -> Validation:
    """Return the section [validate] of study.toml.

    Raises
    ------
    BadRequest
        study.toml has no section [validate].
    """
    if study.validation is None:
        raise BadRequest(
            "there is no [validate] section", file=FILE,
            do='add [validate], with sessions = ["...", "..."] where markers were put on again',
        )  # fmt: skip
    return study.validation


def validate_study(study: Study, results: Results) -> ValidationAnswer:
    """Estimate placement error and agreement of a measured study.

    Raises
    ------
    BadRequest
        study.toml has no [validate].
    BadTable
        Nothing could be estimated; the message gives the reason.

    Examples
    --------
    >>> validate_study(study, results).table  # doctest: +SKIP
    """
    answer = validate_setup(results.swings, validation_asked(study))
    if answer.table.empty:
        why = "; ".join(answer.not_given) or "no sessions are named, no examiner and no measured_ outcome"
        raise BadTable(
            f"nothing can be validated: {why}", file=FILE, where="[validate]",
            do="see [validate] in references/study_folder.md",
        )  # fmt: skip
    return answer


def validation_lines(answer: ValidationAnswer) -> list[str]:
    """Return lines with estimates and 95 % intervals, what could not be estimated, and the section [errors]."""
    lines = ["estimates with 95 % intervals; other angles and limits of agreement are in validation.csv"]
    for row in [row for what in _PRINTED for row in answer.shown(what).to_dict("records")]:
        lines.append(
            f"  {row['what']} {row['quantity']}: {row['estimate']:.2f} {row['unit']} [{row['ci_low']:.2f}, "
            f"{row['ci_high']:.2f}] ({row['golfers']} golfers, n = {row['n']}; {row['method']})"
        )
    lines += [f"  not given: {words}" for words in answer.not_given]
    if answer.placement is None:
        return [*lines, "no line for [errors]: there is no placement error"]
    return [*lines, "", "to paste into study.toml:", *errors_lines(answer)]


def errors_lines(answer: ValidationAnswer) -> list[str]:
    """Return the section [errors] for study.toml with the placement error in `answer.placement`.

    Raises
    ------
    BadTable
        There is no placement error.
    """
    found = answer.placement
    if found is None:
        raise BadTable("there is no placement error")
    return [
        "[errors]",
        f"placement_deg = {found.sd:.2f}  # 95 % interval {found.ci_low:.2f} to {found.ci_high:.2f}; "
        f"{found.n_golfers} golfers, {found.n_sessions} sessions",
    ]
