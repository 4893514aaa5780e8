"""Input that fell through once: each is contained where it stands, in words that name the file."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from swinglab import figures
from swinglab.errors import MOST_FAULTS, StudyFaults, UnreadableFile
from swinglab.load import read_capture
from swinglab.report import write_report
from swinglab.study import (
    Results,
    answer_study,
    check_study,
    measure_study,
    open_study,
    read_results,
    swing,
    write_results,
)
from swinglab.study.csv_tables import guard, unguard
from swinglab.study.registration import read_registration

ROOT = Path(__file__).resolve().parents[2]


def pose(rows: int = 20) -> pd.DataFrame:
    """A pose table that is right."""
    rng = np.random.default_rng(1)
    table = {"time_s": np.arange(rows) / 60}
    table |= {f"{name}_{axis}": rng.normal(size=rows) for name in ("nose", "hip_left") for axis in "xyz"}
    return pd.DataFrame(table)


def test_a_cell_of_400_digits(tmp_path: Path) -> None:
    """Truth: made. No double holds it: the sample counts as missing, and the capture says so."""
    table = pose().astype(object)
    table.iat[3, 1] = "9" * 400
    table.to_csv(tmp_path / "a.csv", index=False)
    capture = read_capture(tmp_path / "a.csv")
    assert np.isnan(capture.points_m[3, 0]).any() and "infinite" in " ".join(capture.warnings)


def test_parquet_columns_of_other_kinds(tmp_path: Path) -> None:
    """Truth: made. Bytes and lists beside the positions are not read; in place of positions they are refused."""
    table = pose()
    table["note"] = [b"\xff\xfe"] * len(table)
    table["list"] = [[1.0]] * len(table)
    table.to_parquet(tmp_path / "a.parquet")
    assert read_capture(tmp_path / "a.parquet").labels == ("nose", "hip_left")
    table["nose_x"] = [b"\xff"] * len(table)
    table.to_parquet(tmp_path / "b.parquet")
    with pytest.raises(UnreadableFile, match=r"b\.parquet"):
        read_capture(tmp_path / "b.parquet")


@pytest.mark.slow
def test_a_small_file_of_40_million_rows_takes_no_memory(tmp_path: Path) -> None:
    """Truth: other (the system's count). Sizes are read from the metadata first."""
    pa = pytest.importorskip("pyarrow")
    from pyarrow import parquet

    same = pa.array(np.zeros(10_000_000))
    batch = pa.table(dict.fromkeys(pose().columns[:4], same))
    with parquet.ParquetWriter(
        tmp_path / "a.parquet", batch.schema, compression="zstd", data_page_size=1 << 28
    ) as writer:
        for _ in range(4):
            writer.write_table(batch, row_group_size=len(same))
    assert (tmp_path / "a.parquet").stat().st_size < 1_000_000
    code = (
        "import resource, sys\\nfrom swinglab.load import read_capture\\n"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\\n"
        "try:\\n    read_capture(sys.argv[1])\\nexcept Exception as fault:\\n    print(fault)\\n"
        "print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)\\n"
    ).replace("\\n", "\n")
    ran = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "a.parquet")],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    assert "declares 40000000 rows" in ran.stdout and int(ran.stdout.split()[-1]) < 500


SMALL_FILES = """
import sys, time, warnings
from pathlib import Path
from swinglab.errors import SwinglabError
from swinglab.load import read_capture
from swinglab.study.opening import gather_study
warnings.simplefilter("ignore")
for path in sorted(Path(sys.argv[1]).iterdir()):
    begin = time.process_time()
    try:
        gather_study(path) if path.is_dir() else read_capture(path)
        found = "read"
    except SwinglabError as error:
        found = "refused"
        assert path.name in str(error) and len(str(error)) < 10_000
    peak = next(line for line in open("/proc/self/status") if line.startswith("VmHWM")).split()[1]
    print(path.name, found, time.process_time() - begin, int(peak) / 1024)
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="/proc")
def test_small_files_that_are_large_inside(tmp_path: Path) -> None:
    """Truth: other (the system's count). Each below 1 MB; none takes more than 5 s of processor time or 500 MB."""
    pa = pytest.importorskip("pyarrow")
    from pyarrow import parquet

    many = range(40_000)
    settings = 'title = "a"\n[lab]\nup = "+Z"\ntarget = "+X"\n'
    (tmp_path / "each row a landmark of its own.csv").write_text(
        "time_s,landmark,x,y,z\n" + "".join(f"{i / 60:.2f},p{i},1,2,3\n" for i in range(6_000))
    )
    (tmp_path / "columns.csv").write_text("time_s" + "," * 900_000 + "\n")
    (tmp_path / "repeated columns.csv").write_text(
        "time_s," + ",".join(f"a.{i}" for i in range(30_000)) + "\n"
    )
    rows = {name: pa.array(np.arange(1000) / 60) for name in ("time_s", "x", "y", "z")}
    long = pa.array(["x" * 1_000_000] * 1000).dictionary_encode()
    parquet.write_table(
        pa.table(rows | {"landmark": long}), tmp_path / "a long name.parquet", compression="zstd"
    )
    wide = {f"nose_{name}": rows[name] for name in "xyz"} | {"time_s": rows["time_s"], "note": long}
    parquet.write_table(pa.table(wide), tmp_path / "a long note.parquet", compression="zstd")
    swings = {
        "unknown golfers": "swing,golfer,capture\n" + "".join(f"S{i},X{i},a.c3d\n" for i in many),
        "double swings": "swing,golfer,capture\n" + "".join(f"S{i // 2},G01,a.c3d\n" for i in many),
        "many columns": "swing,golfer,capture," + ",".join(f"measured_{i}" for i in many) + "\n",
        "deep settings": "swing,golfer,capture\n",
        "many questions": "swing,golfer,capture\n",
    }
    for name, text in swings.items():
        folder = tmp_path / name
        folder.mkdir()
        more = {
            "deep settings": "x." * 50_000 + "x = 1\n",
            "many questions": "".join(f"[[hunch]]\nname='{i}'\noutcome='x{i}'\n" for i in range(4_000)),
        }.get(name, "")
        (folder / "study.toml").write_text(settings + more)
        (folder / "golfers.csv").write_text("golfer,hand,group\nG01,right,a\n")
        (folder / "swings.csv").write_text(text)
    ran = subprocess.run(
        [sys.executable, "-c", SMALL_FILES, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    for line in ran.stdout.splitlines():
        *_, seconds, megabytes = line.split()
        assert float(seconds) < 5 and float(megabytes) < 500, line
    assert len(ran.stdout.splitlines()) == 10


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("x = " + "[" * 5000, "nested too deeply"),
        ("x = " + "9" * 5000, "this file is not valid"),
        ("[contact]\nfat_behind = " + "9" * 400, "fat_behind"),
        ('[ethics]\napproval = "\\u202eabc"', "must not contain characters that reverse"),
        ('[[hunch]]\nname = "a\\n## b"', "must be one line of text"),
    ],
)
def test_hostile_settings(home: Path, text: str, words: str) -> None:
    """Truth: made. Nesting, an integer of 5,000 digits, one of 400 that TOML takes; text that turns or breaks pages."""
    settings = (home / "study.toml").read_text(encoding="utf-8")
    parts = [settings, text] if text.startswith("[") else [text, settings]
    (home / "study.toml").write_text("\n".join(parts), encoding="utf-8")
    with pytest.raises(StudyFaults, match=words):
        open_study(home)


@pytest.mark.parametrize("kind", ["too long", "a link to itself", "CON", "NUL.c3d"])
def test_names_that_no_file_can_have(home: Path, kind: str) -> None:
    """Truth: made. Also names that Windows keeps for devices, which are plain names elsewhere."""
    name = {"too long": "a" * 300 + ".c3d", "a link to itself": "loop.c3d"}.get(kind, kind)
    if kind == "a link to itself":
        (home / "captures" / name).symlink_to(home / "captures" / name)
    text = (home / "swings.csv").read_text(encoding="utf-8").replace("G01_0.c3d", name, 1)
    (home / "swings.csv").write_text(text, encoding="utf-8")
    if kind == "NUL.c3d":
        assert "missing" in " ".join(check_study(open_study(home))["problem"])
    else:
        with pytest.raises(StudyFaults, match="row 2"):
            open_study(home)


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="devices")
@pytest.mark.parametrize(
    "name", ["study.toml", "golfers.csv", "swings.csv", "events_by_hand.csv", "registered.json"]
)
def test_a_link_to_a_device_is_refused_at_once(home: Path, name: str) -> None:
    """Truth: made. A file without end in a study that was sent."""
    (home / name).unlink(missing_ok=True)
    (home / name).symlink_to("/dev/zero")
    with pytest.raises((StudyFaults, UnreadableFile), match=name):
        open_study(home)
        read_registration(home)


def test_a_study_in_a_path_of_more_than_260_characters(home: Path, measured: Results) -> None:
    """Truth: made. Opened, written and read back where a path is longer than Windows takes by default."""
    deep = home.parent.joinpath(*["a folder of forty characters, thereabouts"] * 7)
    shutil.copytree(home, deep / "study")
    study = open_study(deep / "study")
    assert len(str(study.captures["G01_0"])) > 260
    out = write_results(study, measured, (), deep / "study" / "results")
    assert read_results(study, out) is not None


def test_a_character_that_no_name_holds_is_one_fault(home: Path) -> None:
    """Truth: made. NUL in a cell."""
    text = (home / "swings.csv").read_text(encoding="utf-8").replace("G01_0.c3d", "G0\0.c3d", 1)
    (home / "swings.csv").write_text(text, encoding="utf-8")
    with pytest.raises(StudyFaults, match=r"swings\.csv"):
        open_study(home)


def test_a_long_list_of_faults_is_cut_with_its_count(home: Path) -> None:
    """Truth: made. 2,000 rows with the same name."""
    rows = (home / "swings.csv").read_text(encoding="utf-8").splitlines()
    (home / "swings.csv").write_text(
        "\n".join([*rows, *(f"X{i % 1000}{rows[1][5:]}" for i in range(2000))]), encoding="utf-8"
    )
    with pytest.raises(StudyFaults) as caught:
        open_study(home)
    text = str(caught.value)
    assert len(text) < 10_000 and f"and {len(caught.value.faults) - MOST_FAULTS} more" in text


@pytest.mark.parametrize(
    "error", [np.linalg.LinAlgError("singular"), OverflowError("too large"), MemoryError()]
)
def test_a_fault_in_a_stage_costs_one_swing(home: Path, monkeypatch, error: Exception) -> None:
    """Truth: made. What numpy raises in smoothing, and a capture that does not fit into memory."""
    smooth = swing.load_trial

    def fail(capture, setup, *, swing, golfer, **more):
        if swing == "G01_0":
            raise error
        return smooth(capture, setup, swing=swing, golfer=golfer, **more)

    monkeypatch.setattr(swing, "load_trial", fail)
    study = open_study(home)
    from dataclasses import replace

    results = measure_study(replace(study, swings=study.swings.iloc[:2]), workers=1)
    assert results.left_out["swing"].tolist() == ["G01_0"]
    assert len(results.swings) == 1


def test_text_in_figures_is_never_mathematics(home: Path, measured: Results) -> None:
    """Truth: made. Groups and golfers whose names are broken formulas; every picture is drawn, the page is whole."""
    table = measured.swings.assign(
        group=[
            {"G01": "$\\\\frac{$", "G02": "a $ b"}.get(g, " $ \\\\foo$") for g in measured.swings["golfer"]
        ]
    )
    axes = figures.draw_comparison(table, value="attack_angle_deg", between="group")
    import io

    buffer = io.BytesIO()
    axes.figure.savefig(buffer, format="svg")
    study = open_study(home)
    results = Results(
        table, measured.posture, measured.events, measured.strike, measured.left_out, measured.quality,
        inputs=measured.inputs,
    )  # fmt: skip
    out = write_results(study, results, answer_study(study, results), home / "results", also=(write_report,))
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "could not be drawn" not in page


def test_a_picture_that_fails_is_a_sentence(home: Path, measured: Results, monkeypatch) -> None:
    """Truth: made. Any fault of drawing; the rest of the page stands, under a policy that lets nothing in."""
    monkeypatch.setattr(figures, "draw_comparison", lambda *a, **k: 1 / 0)
    study = open_study(home)
    out = write_results(
        study, measured, answer_study(study, measured), home / "results", also=(write_report,)
    )
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "could not be drawn (ZeroDivisionError)" in page
    assert "Content-Security-Policy" in page and "default-src 'none'" in page and "unsafe-eval" not in page


def test_a_column_without_any_value_keeps_its_type(home: Path) -> None:
    """Truth: made. No smallest effect in any question: the column comes back as numbers, and the pages can print it."""
    settings = (home / "study.toml").read_text(encoding="utf-8").replace("smallest_effect = 0.5\n", "")
    (home / "study.toml").write_text(settings, encoding="utf-8")
    study = open_study(home)
    results = measure_study(study, workers=1)
    from swinglab.study import read_findings

    write_results(study, results, answer_study(study, results), home / "results")
    back = read_findings(study, home / "results")
    assert back is not None and all(
        isinstance(f.smallest_effect, float) and f"{f.smallest_effect:g}" == "nan" for f in back
    )
    assert read_results(study, home / "results") is not None


@pytest.mark.parametrize(
    "text", ["=1+1", "\uff1d1+1", "\uff0b1", "\uff0d1", "\uff20a", "\t=1", "plain", "'=quoted"]
)
def test_cells_that_a_spreadsheet_would_calculate(text: str) -> None:
    """Truth: made. Signs in full width count too; what was there comes back."""
    written = str(guard(text))
    assert (written == text) == (text == "plain")
    assert unguard(written) == text


def test_a_console_that_lacks_letters(home: Path) -> None:
    """Truth: other (Python's codec). Western code page, Japanese title: question marks, exit code 0."""
    settings = (home / "study.toml").read_text(encoding="utf-8")
    (home / "study.toml").write_text(
        settings.replace("title = ", "title = '\u30b4\u30eb\u30d5' #", 1), encoding="utf-8"
    )
    import os

    ran = subprocess.run(
        [sys.executable, "-m", "swinglab", "check", str(home)], capture_output=True, check=False, cwd=home,
        env=os.environ | {"PYTHONIOENCODING": "cp1252", "PYTHONPATH": str(ROOT), "SWINGLAB_NO_VENV": "1"},
    )  # fmt: skip
    assert ran.returncode in (0, 1) and b"???" in ran.stdout and b"Traceback" not in ran.stderr
