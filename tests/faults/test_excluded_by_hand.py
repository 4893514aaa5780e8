"""Swings excluded by hand: recorded with their reason, undone, counted, and both answers shown."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from swinglab.errors import BadRequest, StudyFaults
from swinglab.report import write_report
from swinglab.study import (
    Results,
    answer_study,
    apply_exclusions,
    exclude_swing,
    include_swing,
    measure_study,
    open_study,
    read_results,
    register_study,
    write_results,
)

FILE = "excluded_by_hand.csv"


def test_excluded_recorded_and_included_again(home: Path) -> None:
    """Truth: made. Reason, person, time and whether an answer had been seen are stored; undone leaves no file."""
    study = open_study(home)
    exclude_swing(study, "G01_0", "slipped on the mat", who="C1")
    table = exclude_swing(study, "G02_1", "waggle", answer_seen=True)
    assert table["answer_seen"].tolist() == ["no", "yes"]
    assert pd.read_csv(home / FILE)["reason"].tolist() == ["slipped on the mat", "waggle"]
    assert open_study(home).excluded["when"].str.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00").all()
    include_swing(study, "G01_0")
    include_swing(study, "G02_1")
    assert not (home / FILE).exists()


def test_an_answer_that_is_stored_counts_as_seen(home: Path, measured: Results) -> None:
    """Truth: made. After answers were written to results/, an exclusion is recorded as made with knowledge of them."""
    study = open_study(home)
    assert exclude_swing(study, "G01_0", "waggle")["answer_seen"].tolist() == ["no"]
    write_results(study, measured, answer_study(study, measured), home / "results")
    (home / "registered.json").write_text("{}", encoding="utf-8")
    table = exclude_swing(study, "G02_0", "waggle")
    assert table["answer_seen"].tolist() == ["no", "yes"]


def test_an_exclusion_after_registration_is_flagged(home: Path, measured: Results) -> None:
    """Truth: made. What `register` wrote stands; the exclusion is flagged in its file, left_out.csv and the report."""
    study = open_study(home)
    exclude_swing(study, "G01_0", "slipped")
    registered = register_study(open_study(home))
    assert json.loads(registered.read_text(encoding="utf-8"))["excluded"] == ["G01_0"]
    before = registered.read_bytes()
    exclude_swing(study, "G02_0", "waggle")
    assert registered.read_bytes() == before
    study = open_study(home)
    assert study.excluded["after_registration"].tolist() == ["no", "yes"]
    results = apply_exclusions(study, measured)
    out = write_results(study, results, answer_study(study, results), home / "results", also=(write_report,))
    left_out = pd.read_csv(out / "left_out.csv").set_index("swing")
    assert "after registration" in left_out.loc["G02_0", "what"]
    assert "after registration" not in left_out.loc["G01_0", "what"]
    assert "after registration" in (out / "report.html").read_text(encoding="utf-8")


def test_refused_without_a_reason_twice_or_for_an_unknown_swing(home: Path) -> None:
    """Truth: made. Nothing is written then; a damaged file is refused with all its faults."""
    study = open_study(home)
    for swing, reason, words in (("G01_0", " ", "reason"), ("G01_00", "waggle", "no swing G01_00")):
        with pytest.raises(BadRequest, match=words):
            exclude_swing(study, swing, reason)
    assert not (home / FILE).exists()
    with pytest.raises(BadRequest, match="is not among the swings excluded"):
        include_swing(study, "G01_0")
    exclude_swing(study, "G01_0", "waggle")
    with pytest.raises(BadRequest, match="excluded already"):
        exclude_swing(study, "G01_0", "again")
    (home / FILE).write_text("swing,reason\nG01_0,\nG99_0,odd\nG01_0,twice\n", encoding="utf-8")
    with pytest.raises(StudyFaults) as caught:
        open_study(home)
    assert len(caught.value.faults) == 2  # a reason is missing, a swing appears twice


def test_the_same_split_without_measuring_as_when_measured(home: Path, measured: Results) -> None:
    """Truth: other (two ways to the same tables)."""
    exclude_swing(open_study(home), "G03_1", "waggle")
    study = open_study(home)
    fresh = measure_study(study, workers=1)
    applied = apply_exclusions(study, measured)
    assert fresh.excluded["swing"].tolist() == ["G03_1"]
    for name in ("swings", "excluded", "left_out", "posture"):
        pd.testing.assert_frame_equal(getattr(fresh, name), getattr(applied, name), check_dtype=False)
    back = apply_exclusions(replace(study, excluded=study.excluded[:0]), applied)
    pd.testing.assert_frame_equal(back.swings, measured.swings, check_dtype=False)


def test_both_answers_stand_in_findings_and_report(home: Path, measured: Results) -> None:
    """Truth: made. The line with the excluded swings equals the judged line of the study without exclusions."""
    whole = {f.name: f for f in answer_study(open_study(home), measured) if f.role == "default"}
    exclude_swing(open_study(home), "G01_0", "slipped", answer_seen=True)
    study = open_study(home)
    results = apply_exclusions(study, measured)
    findings = answer_study(study, results)
    beside = {f.name: f for f in findings if f.method_key == "with_excluded_swings"}
    assert set(beside) == {q.name for q in study.questions}
    for name, line in beside.items():
        assert math.isclose(line.estimate, whole[name].estimate, rel_tol=1e-12)
        judged = next(f for f in findings if f.name == name and f.role == "default")
        assert judged.n_swings < line.n_swings or judged.estimate != line.estimate
        assert "swings_excluded" in judged.warning_keys
    out = write_results(study, results, findings, home / "results", also=(write_report,))
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "1 swing excluded by hand, 1 of them after an answer had been seen" in page
    assert "with 1 swing excluded by hand included" in page
    left_out = pd.read_csv(out / "left_out.csv").set_index("swing")
    assert "after its answer was seen" in left_out.loc["G01_0", "what"]
    back = read_results(study, out)
    assert back is not None and back.excluded["swing"].tolist() == ["G01_0"]
