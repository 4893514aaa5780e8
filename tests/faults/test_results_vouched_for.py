"""Numbers that are vouched for: made from these inputs, by this code, and not edited since."""

from __future__ import annotations

import json
import re
import shutil
from datetime import datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from swinglab.errors import BadRequest
from swinglab.report import write_report
from swinglab.study import (
    Results,
    answer_study,
    changed_during_run,
    edited_files,
    file_hashes,
    finish_interrupted,
    is_current,
    measure_study,
    measuring,
    open_study,
    read_findings,
    read_kept,
    read_results,
    results_folder,
    run_record,
    stored_results,
    swings_folder,
    write_results,
)
from swinglab.study import seal as sealing
from swinglab.study.file_hashes import hash_file
from swinglab.study.swing import job_for, measure_job
from swinglab.study.swing_cache import SwingCache


@pytest.fixture(scope="session")
def written(original: Path, measured: Results, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The study with its whole results; not to be changed."""
    home = Path(shutil.copytree(original, tmp_path_factory.mktemp("written") / "study"))
    study = open_study(home)
    write_results(study, measured, answer_study(study, measured), home / "results", also=(write_report,))
    return home


@pytest.fixture
def done(written: Path, tmp_path: Path) -> Path:
    """A copy of it, to break."""
    return Path(shutil.copytree(written, tmp_path / "done"))


def holds(home: Path) -> tuple[bool, bool, bool]:
    """Whether results and findings are read back, and whether nothing is left to do."""
    study, out = open_study(home), home / "results"
    return read_results(study, out) is not None, read_findings(study, out) is not None, is_current(study, out)


def test_everything_holds_while_nothing_changed(done: Path, measured: Results) -> None:
    """Truth: other (the tables in memory). Read back with every column of its type, empty ones too."""
    assert holds(done) == (True, True, True)
    back = read_results(open_study(done), done / "results")
    assert back is not None and dict(back.inputs) == dict(measured.inputs)
    for name in ("swings", "posture", "events", "strike", "quality"):
        one, two = getattr(measured, name), getattr(back, name)
        numbers = one.select_dtypes("number").columns
        assert set(numbers) == set(two.select_dtypes("number").columns), name
        pd.testing.assert_frame_equal(one[numbers], two[numbers], check_dtype=False, rtol=1e-8, atol=1e-12)


def test_a_neutral_capture_of_a_golfer_without_swings_is_no_input(home: Path) -> None:
    """Truth: made. The capture is not read, and results were never current: "neutral capture of G02 changed"."""
    swings = pd.read_csv(home / "swings.csv", dtype=str, keep_default_na=False)
    swings[swings["golfer"] != "G02"].to_csv(home / "swings.csv", index=False)
    with (home / "study.toml").open("a", encoding="utf-8") as file:
        file.write('\n[neutral]\nG02 = "G02_1.c3d"\n')
    study = open_study(home)
    write_results(study, measure_study(study, workers=1), (), home / "results")
    assert read_results(open_study(home), home / "results") is not None


def test_what_the_numbers_depend_on_is_hashed() -> None:
    """Truth: other (the imports). Every module of the study's room that measuring needs, but for those that keep,
    send and check names."""
    room = file_hashes.PACKAGE / "study"
    others = {"cluster", "worker_pool", "swing_cache", "run_record", "seal", "file_hashes", "question_names"}
    found, queue = set(), ["measuring"]
    while queue:
        name = queue.pop()
        found.add(name)
        text = (room / f"{name}.py").read_text(encoding="utf-8") if (room / f"{name}.py").exists() else ""
        queue += {*re.findall(r"^from swinglab\.study\.(\w+) import", text, re.MULTILINE)} - found - others
    parts = {part.removeprefix("study/").removesuffix(".py") for part in file_hashes.MEASURING}
    assert len(found) > 8 and not found - parts


def test_results_and_swings_from_elsewhere_are_measured_again(done: Path, monkeypatch) -> None:
    """Truth: made. Another computer's key; and numbers that were changed together with every hash in run.json."""
    cache = SwingCache(swings_folder(open_study(done)))
    job = job_for(open_study(done), "G01_0")
    cache.write(job, measure_job(job))
    assert cache.read(job) is not None
    own = sealing._key()
    monkeypatch.setattr(sealing, "_key", lambda: b"of another computer")
    assert holds(done) == (False, False, False) and cache.read(job) is None
    monkeypatch.setattr(sealing, "_key", lambda: own)
    assert holds(done) == (True, True, True)
    path = done / "results" / "swing_table.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("G01_0", "G01_9"), encoding="utf-8")
    record = json.loads((done / "results" / "run.json").read_text(encoding="utf-8"))
    record["outputs"]["swing_table.csv"] = hash_file(path)
    (done / "results" / "run.json").write_text(json.dumps(record), encoding="utf-8")
    assert holds(done) == (False, False, False)


@pytest.mark.parametrize("name", ["study.toml", "golfers.csv", "swings.csv", "captures/G04_1.c3d"])
def test_a_changed_input_ends_it(done: Path, name: str) -> None:
    """Truth: made. One byte more."""
    with (done / name).open("ab") as file:
        file.write(b"\n")
    assert holds(done) == (False, False, False)


def test_an_input_that_changes_while_it_is_measured_is_not_vouched_for(home: Path, monkeypatch) -> None:
    """Truth: made. The target is turned round in study.toml, and a capture is replaced, after the study was opened."""
    study = open_study(home)
    measure = measuring.measure_job

    def slow(job):
        made = measure(job)
        if job.swing == "G05_2":
            text = (home / "study.toml").read_text(encoding="utf-8")
            (home / "study.toml").write_text(text.replace("title = ", "title  = "), encoding="utf-8")
            shutil.copyfile(home / "captures" / "G01_1.c3d", home / "captures" / "G01_0.c3d")
        return made

    monkeypatch.setattr(measuring, "measure_job", slow)
    results = measure_study(study, workers=1)
    assert changed_during_run(study, results) == ["capture of G01_0", "study.toml"]
    write_results(study, results, (), home / "results")
    assert read_results(open_study(home), home / "results") is None


@pytest.mark.parametrize("kind", ["edited", "emptied", "garbled", "removed"])
def test_an_edited_table_is_set_aside_and_made_again(done: Path, measured: Results, kind: str) -> None:
    """Truth: made. Rows dropped, an empty file, bytes that are no text, no file: never believed, never lost."""
    table = done / "results" / "swing_table.csv"
    good = table.read_bytes()
    edit = {
        "edited": b"".join(good.splitlines(keepends=True)[:-3]),
        "emptied": b"",
        "garbled": b"\xff\x00" * 50,
    }
    if kind == "removed":
        table.unlink()
    else:
        table.write_bytes(edit[kind])
    assert holds(done) == (False, False, False)
    assert edited_files(done / "results") == ([] if kind == "removed" else ["swing_table.csv"])
    study = open_study(done)
    write_results(study, measured, answer_study(study, measured), done / "results", also=(write_report,))
    assert table.read_bytes() == good
    kept = done / "results" / "swing_table.edited.csv"
    assert kind == "removed" or kept.read_bytes() == edit[kind]
    assert holds(done) == (True, True, True)
    if kind == "edited":  # a second edit does not displace the first
        table.write_bytes(b"other")
        write_results(study, measured, (), done / "results")
        assert (done / "results" / "swing_table.edited-2.csv").read_bytes() == b"other"


@pytest.mark.parametrize(
    "damage", ["", "{", "[1]", '{"inputs": 3}', '{"inputs": {}, "outputs": {}}', "[" * 100_000]
)
def test_a_damaged_record_is_no_record(done: Path, damage: str) -> None:
    """Truth: made. Nothing is believed, nothing of a person is lost when the results are written again."""
    (done / "results" / "run.json").write_text(damage, encoding="utf-8")
    (done / "results" / "mine.txt").write_text("keep", encoding="utf-8")
    assert holds(done) == (False, False, False)
    study = open_study(done)
    write_results(study, measure_nothing(done), (), done / "results")
    assert (done / "results" / "mine.txt").read_text(encoding="utf-8") == "keep"


def measure_nothing(home: Path) -> Results:
    """Results of one swing."""
    study = open_study(home)
    from dataclasses import replace

    return measure_study(replace(study, swings=study.swings.iloc[:1]), workers=1)


def test_another_version_of_the_measuring_code_measures_again(done: Path, monkeypatch) -> None:
    """Truth: made. The report's code alone leaves the numbers as they are."""
    now = stored_results.source_hash
    for part, expected in (
        ("report", (True, True, False)),
        ("answers", (True, False, False)),
        ("load", (False,) * 3),
    ):
        monkeypatch.setattr(
            stored_results, "source_hash", lambda parts, part=part: "other" if part in parts else now(parts)
        )
        assert holds(done) == expected


def test_what_a_run_reports_needs_no_long_table(done: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: other (the whole results). Answers and what was left out, read alone; nothing where a table was edited."""
    study, out = open_study(done), done / "results"
    whole = read_results(study, out)
    read = []
    one = stored_results._read_back
    monkeypatch.setattr(
        stored_results, "_read_back", lambda path, types: (read.append(path.name), one(path, types))[1]
    )
    kept = read_kept(study, out)
    assert kept is not None and whole is not None
    assert len(kept.findings) == len(read_findings(study, out) or ()) > 0
    pd.testing.assert_frame_equal(kept.left_out, whole.left_out)
    pd.testing.assert_frame_equal(kept.gate, whole.gate)
    assert {"posture.csv", "swing_table.csv"}.isdisjoint(read)
    (out / "posture.csv").write_text("edited", encoding="utf-8")
    assert read_kept(study, out) is None


def test_without_its_captures_a_study_opens_unverified(done: Path) -> None:
    """Truth: made. An archive without captures: the tables are there, with a note that they are not verified."""
    shutil.rmtree(done / "captures")
    study = open_study(done)
    back = read_results(study, done / "results")
    assert back is not None and "not verified" in back.notes[0]
    assert read_findings(study, done / "results") is not None
    assert not is_current(study, done / "results")


def test_results_hold_no_names_of_captures(done: Path) -> None:
    """Truth: made. Every text file of the results: swings are named, captures and folders are not."""
    for path in (done / "results").rglob("*"):
        if path.suffix in (".csv", ".json", ".md", ".html"):
            text = path.read_text(encoding="utf-8")
            assert ".c3d" not in text and str(done) not in text, path.name


# --- moved into place ----------------------------------------------------------------------------------------


def names_in(folder: Path) -> list[str]:
    """What stands beside the results."""
    return sorted(path.name for path in folder.iterdir() if "results" in path.name)


def test_a_folder_that_cannot_be_replaced_keeps_the_old_results(
    done: Path, measured: Results, monkeypatch
) -> None:
    """Truth: made. As on Windows with a table open elsewhere: the new ones wait beside it, the next run moves them."""
    monkeypatch.setattr(results_folder, "_PAUSE_S", 0)
    before = (done / "results" / "run.json").read_bytes()
    text = (done / "study.toml").read_text(encoding="utf-8")
    (done / "study.toml").write_text(text + "# later\n", encoding="utf-8")
    study = open_study(done)
    replace = Path.replace

    def refuse(source: Path, target: Path) -> Path:
        if source.name == "results":
            raise PermissionError(13, "The process cannot access the file", str(source))
        return replace(source, target)

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(
        BadRequest,
        match=r"in use by another program.*results\.new.*close that program and run the same command",
    ):
        write_results(study, measured, answer_study(study, measured), done / "results", also=(write_report,))
    assert (done / "results" / "run.json").read_bytes() == before
    assert names_in(done) == ["results", "results.new"]
    with pytest.raises(BadRequest, match="in use"):
        finish_interrupted(done / "results")
    monkeypatch.setattr(Path, "replace", replace)
    finish_interrupted(done / "results")
    assert names_in(done) == ["results"] and holds(done) == (True, True, True)


@pytest.mark.parametrize("rolls_back", [True, False])
def test_a_second_move_that_fails_leaves_the_old_results_in_view(
    done: Path, measured: Results, monkeypatch, rolls_back: bool
) -> None:
    """Truth: made. Where even the way back fails, the next start restores them."""
    monkeypatch.setattr(results_folder, "_PAUSE_S", 0)
    before = (done / "results" / "run.json").read_bytes()
    (done / "results" / "mine.txt").write_text("keep", encoding="utf-8")
    replace = Path.replace

    def refuse(source: Path, target: Path) -> Path:
        if target == done / "results" and (source.name != "results" or not rolls_back):
            raise OSError(5, "input/output error")
        return replace(source, target)

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(BadRequest):
        write_results(open_study(done), measured, (), done / "results")
    monkeypatch.setattr(Path, "replace", replace)
    if not rolls_back:
        shutil.rmtree(done / "results.new", ignore_errors=True)
        for old in done.glob(".results.old.*"):
            old.rename(old.with_name(".results.old.999999999.x"))
        finish_interrupted(done / "results")
    assert (done / "results" / "run.json").read_bytes() == before
    assert (done / "results" / "mine.txt").read_text(encoding="utf-8") == "keep"


def test_what_a_kill_left_is_cleaned(done: Path) -> None:
    """Truth: made. Folders of processes that have ended go; that of a running process (this test's parent) stays."""
    import os

    for number in (999999999, os.getppid()):
        (done / f".results.new.{number}.x").mkdir()
    finish_interrupted(done / "results")
    assert names_in(done) == [f".results.new.{os.getppid()}.x", "results"]


def test_the_record_names_versions_source_inputs_and_outputs(done: Path) -> None:
    """Truth: made. What design and README promise of run.json."""
    record = json.loads((done / "results" / "run.json").read_text(encoding="utf-8"))
    assert set(record["source"]) == {"measuring", "answering", "reporting"}
    assert len(record["inputs"]) == 3 + 18 and all(len(digest) == 64 for digest in record["inputs"].values())
    assert {"swing_table.csv", "findings.csv", "report.html"} <= set(record["outputs"])
    assert record["options"]["draws"]["wild_bootstrap"] == {"seed": 0, "samples": 9999}
    study = open_study(done)
    assert [one["name"] for one in record["options"]["questions"]] == [one.name for one in study.questions]
    assert datetime.fromisoformat(record["written"]).utcoffset() == timedelta(0)
    clone = (Path(__file__).parents[2] / ".git").exists()
    assert bool(re.fullmatch("[0-9a-f]{40}( with changes)?", record["commit"])) == clone
    back = read_results(study, done / "results")
    assert back is not None and run_record(study, back)["inputs"] == record["inputs"]
