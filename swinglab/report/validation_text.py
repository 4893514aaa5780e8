"""Methods text on the estimated errors of the set-up: validation.csv in words."""

from __future__ import annotations

import pandas as pd

from swinglab.answers import validate_setup
from swinglab.report.wording import count, label, unit_words, with_limits
from swinglab.study import Results, Study


def validation_estimates(study: Study, results: Results) -> bool:
    """Return whether the errors of the study's set-up could be estimated from its own captures ([validate])."""
    return study.validation is not None and not validate_setup(results.swings, study.validation).table.empty


def validation_text(study: Study, results: Results) -> str:
    """Return a paragraph on the estimated errors of the set-up; empty if study.toml has no [validate]."""
    if study.validation is None:
        return ""
    answer = validate_setup(results.swings, study.validation)
    sentences = [_placement(row) for _, row in answer.shown("placement_deg").iterrows()]
    sentences += [
        _agreement(answer.table, row, kind)
        for kind in ("examiner", "device", "turf")
        for _, row in answer.shown(f"{kind}_bias").iterrows()
    ]
    if answer.not_given:
        sentences.append(f"Not estimated: {'; '.join(answer.not_given)}.")
    return " ".join(sentences)


def _interval(row: pd.Series) -> str:
    return with_limits(row["estimate"], row["ci_low"], row["ci_high"])


def _placement(row: pd.Series) -> str:
    names = ", ".join(label(name) for name in str(row["quantity"]).split("; "))
    return (
        f"Markers were removed and placed again on {count(int(row['golfers']), 'golfer')} "
        f"({count(int(row['n']), 'session')}); the resulting standard deviation of an angle was {_interval(row)} deg "
        f"({row['method']}: {names}), which includes any change of posture between the sessions."
    )


def _agreement(table: pd.DataFrame, row: pd.Series, kind: str) -> str:
    """Return a sentence on the bias of one quantity, with its limits of agreement.

    kind : "examiner", "device" or "turf".
    """
    own = table[(table["quantity"] == row["quantity"]) & (table["method"] == row["method"])]
    lower, upper = (own[own["what"] == f"{kind}_{end}"].iloc[0] for end in ("lower_limit", "upper_limit"))
    return (
        f"Agreement in {label(row['quantity'])} ({row['method']}, {count(int(row['golfers']), 'golfer')}, n = "
        f"{row['n']}): bias {_interval(row)} {unit_words(row['unit'])}, limits of agreement {_interval(lower)} to "
        f"{_interval(upper)} {unit_words(row['unit'])}."
    )
