"""Errors of a set-up from a table of swings: placement, examiners, another device and marked turf."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from swinglab import columns
from swinglab.answers import validate_setup
from swinglab.answers.validation import VALIDATION_COLUMNS
from swinglab.records import Validation
from swinglab.statistics import agreement_by_golfer

ASKED = Validation(sessions=("first", "second"))
BIAS = 2.0


def swings(golfers: int = 8, *, seed: int = 3) -> pd.DataFrame:
    """Two sessions of four swings each: placement SD 1.5 deg, examiner B 2 deg higher in thorax flexion."""
    rng = np.random.default_rng(seed)
    rows = []
    for g in range(golfers):
        own = dict(zip(ASKED.angles, rng.normal(10, 6, 6), strict=True))
        for session, examiner in (("first", "A"), ("second", "B")):
            placed = {name: value + rng.normal(0, 1.5) for name, value in own.items()}
            placed["thorax_flexion_deg"] += BIAS * (examiner == "B")
            for _ in range(4):
                row = {
                    columns.event_column_name(name, "address"): value + rng.normal(0, 0.8)
                    for name, value in placed.items()
                }
                attack, entry = rng.normal(-4, 1), rng.normal(6, 2)
                rows.append(
                    row
                    | {"golfer": f"G{g}", "session": session, "examiner": examiner}
                    | {
                        "attack_angle_deg": attack,
                        "measured_attack_angle_deg": attack - 0.5 + rng.normal(0, 0.3),
                    }
                    | {
                        "turf_entry_ahead_cm": entry,
                        "measured_turf_entry_ahead_cm": entry + rng.normal(1, 0.5),
                    }
                )
    return pd.DataFrame(rows)


def found(table: pd.DataFrame, what: str, quantity: str) -> pd.Series:
    (row,) = [r for _, r in table.iterrows() if (r["what"], r["quantity"]) == (what, quantity)]
    return row


def test_everything_known_is_recovered() -> None:
    """Truth: made."""
    table = swings(20)
    answer = validate_setup(table, ASKED)
    assert list(answer.table.columns) == VALIDATION_COLUMNS and answer.not_given == ()
    whole = found(answer.table, "placement_deg", "; ".join(ASKED.angles))
    # Examiners' difference is part of what putting markers on again brings: variance of a pair 2^2 / 2, one angle of 6.
    truth = np.sqrt(1.5**2 + BIAS**2 / 2 / 6)
    assert whole["ci_low"] < truth < whole["ci_high"]
    assert (whole["golfers"], whole["n"], whole["unit"]) == (20, 40, "deg")
    assert answer.placement is not None and answer.placement.sd == whole["estimate"]
    one = found(answer.table, "placement_sd", "pelvis_flexion_deg")
    assert one["ci_low"] < 1.5 < one["ci_high"]
    for what, quantity, truth in (
        ("examiner_bias", "thorax_flexion_deg", -BIAS),
        ("device_bias", "attack_angle_deg", 0.5),
        ("turf_bias", "turf_entry_ahead_cm", -1.0),
    ):
        row = found(answer.table, what, quantity)
        # Three standard errors are about one and a half half-widths.
        assert abs(row["estimate"] - truth) < 0.75 * (row["ci_high"] - row["ci_low"]) < 2.5, what
    icc = found(answer.table, "examiner_icc", "pelvis_flexion_deg")
    assert 0.7 < icc["ci_high"] <= 1 and icc["unit"] == "" and icc["n"] == 40


def test_device_and_examiners_are_the_existing_agreement() -> None:
    """Truth: other (`agreement_by_golfer` on the same columns, and on golfers' means)."""
    table = swings()
    answer = validate_setup(table, ASKED)
    plain = agreement_by_golfer(table, "attack_angle_deg", "measured_attack_angle_deg")
    row = found(answer.table, "device_upper_limit", "attack_angle_deg")
    assert (row["estimate"], row["ci_low"], row["ci_high"], row["n"]) == (
        plain.upper, plain.upper_low, plain.upper_high, plain.n
    )  # fmt: skip
    at = columns.event_column_name("thorax_flexion_deg", "address")
    means = table.groupby(["golfer", "examiner"])[at].mean().unstack().reset_index()
    pairs = agreement_by_golfer(means, "A", "B")
    row = found(answer.table, "examiner_lower_limit", "thorax_flexion_deg")
    assert (row["estimate"], row["n"]) == (pytest.approx(pairs.lower), 8)


def test_what_cannot_be_given_is_named_and_the_rest_stands() -> None:
    """Truth: made. Two golfers; one examiner; an angle that no swing has."""
    table = swings(2).assign(examiner="A")
    table = table.drop(columns=columns.event_column_name("pelvis_flexion_deg", "address"))
    answer = validate_setup(table, ASKED)
    words = "\n".join(answer.not_given)
    assert "pelvis_flexion_deg: not measured at address" in words
    assert "2 repeated sessions, and 3 or more are needed" in words
    assert "fewer than two in the column examiner" in words
    assert "attack_angle_deg against the device: 2 golfers" in words
    assert answer.table.empty and answer.placement is None


def test_only_the_sessions_named_count() -> None:
    """Truth: made. A third session with another posture changes nothing."""
    table = swings()
    later = table[table["session"] == "first"].assign(session="months later", examiner="C")
    at = [columns.event_column_name(name, "address") for name in ASKED.angles]
    later[at] += 20
    more = pd.concat([table, later], ignore_index=True)
    a, b = (validate_setup(t, ASKED).table for t in (table, more))
    posture = a["what"].str.startswith(("placement", "examiner"))
    pd.testing.assert_frame_equal(a[posture], b[b["what"].str.startswith(("placement", "examiner"))])
