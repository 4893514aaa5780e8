"""Measurement errors of a study's set-up, estimated from the captures that [validate] in study.toml names."""

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
    """Return the section [validate] of a study, or raise an error if there is none.

    Raises
    ------
    BadRequest
        study.toml has no section [validate].
    """
    if study.validation is None:
        raise BadRequest(
            "the section [validate] is missing",
            file=FILE,
            do='add [validate] with sessions = ["...", "..."]: sessions of the same golfers, with all markers removed '
            "and placed again before each session",
        )  # fmt: skip
    return study.validation


def validate_study(study: Study, results: Results) -> ValidationAnswer:
    """Return estimates of marker placement error, agreement of examiners and agreement with another device.

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
        why = (
            "; ".join(answer.not_given)
            or "[validate] names no sessions, and the tables have no column examiner and no measured_ outcome"
        )
        raise BadTable(
            f"no error can be estimated: {why}",
            file=FILE,
            where="[validate]",
            do='read "validate: the errors of your own set-up" in references/study_folder.md',
        )  # fmt: skip
    return answer


def validation_lines(answer: ValidationAnswer) -> list[str]:
    """Return the estimated errors as lines to print, with a section [errors] to paste into study.toml.

    The lines give estimates with 95 % intervals, and the errors that could not be estimated.
    """
    lines = ["estimates with 95 % intervals; other angles and limits of agreement are in validation.csv"]
    for row in [row for what in _PRINTED for row in answer.shown(what).to_dict("records")]:
        lines.append(
            f"  {row['what']} {row['quantity']}: {row['estimate']:.2f} {row['unit']} [{row['ci_low']:.2f}, "
            f"{row['ci_high']:.2f}] ({row['golfers']} golfers, n = {row['n']}; {row['method']})"
        )
    lines += [f"  not estimated: {words}" for words in answer.not_given]
    if answer.placement is None:
        return [*lines, "no section [errors] to paste: placement error could not be estimated"]
    return [*lines, "", "to paste into study.toml:", *errors_lines(answer)]


def errors_lines(answer: ValidationAnswer) -> list[str]:
    """Return the section [errors] for study.toml, with the estimated placement error, as lines.

    Raises
    ------
    BadTable
        Placement error could not be estimated.
    """
    found = answer.placement
    if found is None:
        raise BadTable(
            "placement error could not be estimated",
            do="capture golfers in two sessions with the markers placed again, and name the sessions under [validate]",
        )
    return [
        "[errors]",
        f"placement_deg = {found.sd:.2f}  # 95 % interval {found.ci_low:.2f} to {found.ci_high:.2f}; "
        f"{found.n_golfers} golfers, {found.n_sessions} sessions",
    ]
