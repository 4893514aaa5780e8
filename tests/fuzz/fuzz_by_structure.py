"""A second fuzz script, built from what a file means: whole studies and captures with hostile values in right places.

    python tests/fuzz/fuzz_by_structure.py [--number N] [--seed S] [--seconds T]

The first (fuzz_captures.py) changes bytes at random. This one writes files that parse, and puts into their cells,
keys, counts and names what programs stumble over: numbers of hundreds of digits, text in place of numbers, empty and
repeated names, control characters, formulas, deep nesting, wrong lengths, columns of every Parquet type. Every input
must be read or refused with a whole error, within the limits of `watched`.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import parquet

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))
from load.made_c3d import made_c3d, parameter, text_parameter
from watched import Input, options, run

from swinglab.load import read_capture
from swinglab.study import open_study

HOSTILE = (
    "", " ", "9" * 400, "-" + "9" * 5000, "1e999", "nan", "inf", "1,5", "1.2.3", "=1+1", "\uff1d1", "<script>",
    "$\\frac{$",
    "NUL", "con.c3d", "..", "../../x.c3d", "a" * 300 + ".c3d", "\0", "\u202e", "\U0001f3cc",
    "true", "0x10", "1_000", "\u0661", "'", '"', ";", "\t", "-0", "1e-320", "[" * 50, "\u2028", "#N/A", "G01", "impact",
)  # fmt: skip
TOML_VALUES = (
    "1", "-1", "1e400", "9" * 400, "nan", "inf", "true", '""', '"+Z"', '"+X"', "[]", "[1, 2, 3]", "[1, 2]", '["a", 1]',
    "{}", "{a = 1}", "1979-05-27", '"""x"""', "[[[[[]]]]]", '"$\\\\frac{$"', '"mm"', '"LASI"', "0", "0x7fffffff",
)  # fmt: skip
KEYS = (
    "title", "question", "lab.up", "lab.target", "lab.ground", "lab.unit", "lab.rate_hz", "landmarks.c7", "landmarks.x",
    "events.top", "ball.position", "ball.marker", "ball.teed", "club.soled_at_address", "club.face",
    "club.reference_behind_face_cm", "processing.body_cutoff_hz", "errors.placement_deg", "contact.fat_behind",
    "reference.group", "neutral.G01", "static.G01", "session.A", "accept", "hunch", "comparison", "lesson", "screen",
    "a.b.c",
)  # fmt: skip


def some(rng: np.random.Generator, values: tuple) -> str:
    """One of several, at random."""
    return str(values[int(rng.integers(len(values)))])


def pose_table(rng: np.random.Generator, path: Path) -> None:
    """A pose table of a few rows, CSV or Parquet, wide or long, with hostile cells."""
    rows = int(rng.integers(1, 30))
    table: dict[str, object] = {
        some(rng, ("time_s", "time_s", "time_s", "frame", "time")): np.arange(rows) / 60
    }
    for name in ("nose", "hip_left", some(rng, HOSTILE) if rng.random() < 0.2 else "hip_right"):
        for axis in "xyz":
            table[f"{name}_{axis}"] = rng.normal(size=rows)
    frame = pd.DataFrame(table)
    if path.suffix == ".csv":
        text = frame.astype(object)
        for _ in range(int(rng.integers(4))):
            text.iat[int(rng.integers(rows)), int(rng.integers(text.shape[1]))] = some(rng, HOSTILE)
        separator = some(rng, (",", ",", ",", ";", "\t"))
        data = text.to_csv(index=False, sep=separator).encode("utf-8", "surrogatepass")
        if rng.random() < 0.2:
            data = data.replace(b"\n", bytes(rng.integers(0, 256, 3, dtype=np.uint8)), 1)
        path.write_bytes(data)
        return
    columns = {str(name): pa.array(values) for name, values in table.items()}
    kinds = (
        pa.array([b"\xff\xfe"] * rows), pa.array(["\u00e4" * 9] * rows), pa.array([[1.0]] * rows), pa.nulls(rows),
        pa.array([{"a": 1}] * rows), pa.array([None, True] * rows)[:rows], pa.array([10**18] * rows, pa.uint64()),
        pa.array(["x"] * rows).dictionary_encode(), pa.array([0] * rows, pa.timestamp("ns")),
        pa.array([0] * rows, pa.date32()), pa.array([1] * rows, pa.decimal128(38, 0)),
        pa.array([1] * rows, pa.duration("s")), pa.array([1.0] * rows, pa.float16()),
    )  # fmt: skip
    for _ in range(int(rng.integers(4))):
        columns[some(rng, (*columns, "landmark", "x", "y", "z"))] = kinds[int(rng.integers(len(kinds)))]
    parquet.write_table(pa.table(columns), path)


def c3d_file(rng: np.random.Generator, path: Path) -> None:
    """A C3D file whose header and parameters contradict each other."""
    points = rng.normal(1000, 300, (int(rng.integers(1, 12)), int(rng.integers(1, 5)), 3))
    group = int(rng.integers(1, 6))
    kind = int(rng.choice([-1, 1, 2, 4]))
    shape = [int(rng.choice([0, 1, 2, 3, 127, 255])) for _ in range(int(rng.integers(0, 4)))]
    name = some(rng, ("LABELS", "FRAMES", "RATE", "SCALE", "UNITS", "USED", "DATA_START", "TIMES", "X" * 100))
    extra = parameter(
        group, name[:127], kind, shape, rng.bytes(min(int(np.prod(shape or [1])) * abs(kind), 4000)), "intel"
    )
    if rng.random() < 0.5:
        extra += text_parameter(
            group, "LABELS", [some(rng, ("", "A", "LASI", "S:LASI", "\u00e4"))] * 2, "intel"
        )
    path.write_bytes(made_c3d(points, is_float=bool(rng.random() < 0.5), extra=extra))


def study_folder(rng: np.random.Generator, folder: Path) -> None:
    """A study of a few rows whose settings and cells are hostile."""
    (folder / "captures").mkdir(parents=True, exist_ok=True)
    (folder / "captures" / "c.c3d").touch()
    lines = ['title = "a"', 'lab.up = "+Z"', 'lab.target = "+X"']
    for _ in range(int(rng.integers(3))):
        lines.append(f"{some(rng, KEYS)} = {some(rng, TOML_VALUES)}")
    if rng.random() < 0.1:
        lines.append("x = " + "[" * 3000)
    if rng.random() < 0.2:
        lines.append("[[hunch]]")
        lines += [
            f"{key} = {some(rng, TOML_VALUES)}"
            for key in ("name", "outcome", "posture", "event", "adjust")
            if rng.random() < 0.8
        ]
    (folder / "study.toml").write_text("\n".join(lines), encoding="utf-8", errors="surrogatepass")
    for file, columns in (
        ("golfers.csv", ["golfer", "hand", "group", "stature_m"]),
        ("swings.csv", ["swing", "golfer", "capture", "order", "impact_s", "club", "exclude"]),
        ("events_by_hand.csv", ["swing", "event", "time_s", "who", "note"]),
        ("excluded_by_hand.csv", ["swing", "reason", "who", "when", "answer_seen"]),
    ):
        if file.endswith("by_hand.csv") and rng.random() < 0.6:
            (folder / file).unlink(missing_ok=True)
            continue
        good = {
            "golfer": "G0",
            "hand": "left",
            "capture": "c.c3d",
            "stature_m": "1.8",
            "order": "1",
            "impact_s": "0.5",
        }
        good |= {"event": "top", "time_s": "0.4", "answer_seen": "no", "exclude": ""}
        rows = [
            [good.get(column, f"{column[0].upper()}{row}") for column in columns]
            for row in range(1 if file == "golfers.csv" else int(rng.integers(0, 4)))
        ]
        for row in rows:
            if rng.random() < 0.15:
                row[int(rng.integers(len(row)))] = some(rng, HOSTILE)
        if rng.random() < 0.1:
            columns[int(rng.integers(len(columns)))] = some(rng, HOSTILE)
        text = pd.DataFrame(rows, columns=columns).to_csv(index=False)
        (folder / file).write_bytes(text.encode("utf-8", "surrogatepass"))


def inputs(number: int, seed: int, scratch: Path) -> Iterator[Input]:
    """Captures and studies, in equal shares of the four kinds."""
    rng = np.random.default_rng(seed)
    home = scratch / "study"
    for _ in range(number):
        kind = some(rng, ("csv", "parquet", "c3d", "study"))
        path = scratch / f"input.{kind}"
        if kind == "study":
            study_folder(rng, home)
            yield Input(kind, home / "study.toml", lambda: open_study(home), "study")
        else:
            (c3d_file if kind == "c3d" else pose_table)(rng, path)
            yield Input(kind, path, lambda path=path: read_capture(path), path.name)


def main() -> int:
    """Run; exit code 1 where anything misbehaved."""
    asked = options(20_000)
    with tempfile.TemporaryDirectory() as scratch:
        return min(run(inputs(asked.number, asked.seed, Path(scratch)), asked.seed, asked.seconds), 1)


if __name__ == "__main__":
    sys.exit(main())
