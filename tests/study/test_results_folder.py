"""Results folders: whole or not at all, and nothing of the user's lost."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from swinglab.errors import BadRequest
from swinglab.study import Results, Study, check_writable, open_study, read_results, write_results
from swinglab.study.file_hashes import hash_files
from swinglab.study.results import LEFT_OUT_COLUMNS
from swinglab.study.run_record import RUN, capture_name, read_record


def some_results(study: Study) -> Results:
    posture = pd.DataFrame(
        {"swing": ["S1"], "event": ["impact"], "quantity": ["thorax_flexion_deg"], "value": [20.0],
         "standard_error": [0.5], "unit": ["deg"], "frame_method": ["x"], "noise_error": [0.5]}
    )  # fmt: skip
    swings = pd.DataFrame(
        {"swing": ["S1"], "golfer": ["G01"], "attack_angle_deg": [-4.0], "attack_angle_se_deg": [0.2],
         "thorax_flexion_at_impact_deg": [20.0], "thorax_flexion_at_impact_se_deg": [0.5]}
    )  # fmt: skip
    one = pd.DataFrame({"swing": ["S1"]})
    read = hash_files({capture_name(swing): path for swing, path in study.captures.items() if swing != "S5"})
    return Results(swings, posture, one, one, pd.DataFrame(columns=LEFT_OUT_COLUMNS), one, inputs=read)


def test_written_and_read_back(folder: Path) -> None:
    """made: the tables come back while the inputs are the same, and not after one byte has changed."""
    study = open_study(folder)
    out = write_results(study, some_results(study), (), folder / "results")
    kept = (out / "swing_table.csv").read_text(encoding="utf-8")
    assert "attack_angle_se_deg" in kept
    assert "thorax_flexion_at_impact_se_deg" not in kept
    back = read_results(study, out)
    assert back is not None
    assert back.swings["thorax_flexion_at_impact_se_deg"].tolist() == [0.5]
    (folder / "captures" / "s1.c3d").write_bytes(b"x")
    assert read_results(open_study(folder), out) is None


def test_same_inputs_same_bytes(folder: Path) -> None:
    """made: two runs, every file equal, but for the time in run.json and its seal."""
    study = open_study(folder)
    one = write_results(study, some_results(study), (), folder / "one")
    two = write_results(study, some_results(study), (), folder / "two")
    for path in one.iterdir():
        if path.name != RUN:
            assert path.read_bytes() == (two / path.name).read_bytes()
    records = [read_record(folder) | {"written": "", "seal": ""} for folder in (one, two)]
    assert records[0] == records[1]


def test_interrupted_run_leaves_the_last_whole_one(folder: Path) -> None:
    """made: a page that fails half-way changes nothing and leaves nothing behind."""
    study = open_study(folder)
    out = write_results(study, some_results(study), (), folder / "results")
    before = {p.name: p.read_bytes() for p in out.iterdir()}

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_results(study, some_results(study), (), out, also=(stopped,))
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before
    assert not [p for p in folder.iterdir() if p.name.startswith(".results")]


def test_nothing_of_the_users_is_lost(folder: Path) -> None:
    """made: a note among the results stays; a folder that holds other things is refused."""
    study = open_study(folder)
    out = write_results(study, some_results(study), (), folder / "results")
    (out / "my notes.txt").write_text("keep", encoding="utf-8")
    write_results(study, some_results(study), (), out)
    assert (out / "my notes.txt").read_text(encoding="utf-8") == "keep"
    with pytest.raises(BadRequest, match="contains files that are not results"):
        write_results(study, some_results(study), (), folder / "captures")
    with pytest.raises(BadRequest, match="not a folder"):
        write_results(study, some_results(study), (), folder / "study.toml")


def test_a_place_that_takes_no_files(folder: Path) -> None:
    """made: shown before anything is measured, as root too."""
    if not Path("/proc/self").exists():
        pytest.skip("no /proc on this machine")
    with pytest.raises(BadRequest, match="results cannot be written to this folder"):
        check_writable(Path("/proc/results"))
    check_writable(folder / "new" / "results")
    assert not (folder / "new").exists()
