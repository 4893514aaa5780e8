"""Tables of every kind from hypothesis: readers raise nothing but the kit's error, and give back what was written.

Quick with a few dozen examples each; the same properties with 2,000 are marked slow.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from swinglab import columns
from swinglab.errors import SwinglabError
from swinglab.load import read_capture
from swinglab.study.csv_tables import read_table, write_table
from swinglab.study.events_by_hand import mark_event, read_by_hand
from swinglab.study.excluded_by_hand import exclude_swing, read_excluded
from swinglab.study.folder_tables import TEXT_COLUMNS
from swinglab.study.opening import gather_study
from swinglab.study.run_record import column_types
from swinglab.study.setting_keys import NAMED_SECTIONS, QUESTIONS, SECTIONS
from swinglab.study.stored_results import _read_back

TITLE = 'title = "a"\n[lab]\nup = "+Z"\ntarget = "+X"\n'
GOLFERS = "golfer,hand,group\nG01,right,a\n"
SWINGS = "swing,golfer,capture\nS1,G01,a.c3d\nS2,G01,a.c3d\n"

#: Text as people and spreadsheets write it, and any other text that UTF-8 can hold.
HOSTILE = ("", "=1+1", "\uff1d1", "'", "''=x", "nan", "NA", "null", "1e999", "9" * 400, "1,5", "0x10", "\u0661",
           "true", "-0", "\u202eG01", "G01", " G01", "<b>", "$\\frac{$", "#N/A", "1_000", "..", "NUL")  # fmt: skip
texts = st.sampled_from(HOSTILE) | st.text(st.characters(codec="utf-8"), max_size=12)
numbers = st.floats(-1e6, 1e6).map(lambda value: float(f"{value:.9g}"))
HEADINGS = ("golfer", "hand", "group", "swing", "capture", "order", "session", "phase", "club", "exclude", "from_s",
            "impact_s", "stature_m", "measured_attack_angle_deg", "measured_contact", "soled", "surface")  # fmt: skip
headings = st.sampled_from(HEADINGS) | texts


class Property(NamedTuple):
    """A test of what hypothesis draws, not yet tied to a number of examples."""

    holds: Callable[..., None]
    drawn: tuple[st.SearchStrategy, ...]


def draws(*drawn: st.SearchStrategy) -> Callable[[Callable[..., None]], Property]:
    """Make a property of a function whose arguments are drawn."""
    return lambda holds: Property(holds, drawn)


def tables(names: st.SearchStrategy[str], cells: st.SearchStrategy[str]) -> st.SearchStrategy[pd.DataFrame]:
    """Tables of up to five columns of different names and up to six rows."""

    @st.composite
    def made(draw: Callable) -> pd.DataFrame:
        heading = draw(st.lists(names, min_size=1, max_size=5, unique=True))
        row = st.lists(cells, min_size=len(heading), max_size=len(heading))
        return pd.DataFrame(draw(st.lists(row, max_size=6)), columns=heading, dtype=str)

    return made()


def study(folder: Path, **files: str) -> Path:
    """A study folder whose files are replaced by those given, by their names without ending."""
    whole = {"study": TITLE, "golfers": GOLFERS, "swings": SWINGS} | files
    for name, text in whole.items():
        ending = ".toml" if name == "study" else ".csv"
        (folder / f"{name}{ending}").write_text(text, encoding="utf-8", newline="")
    (folder / "captures").mkdir(exist_ok=True)
    (folder / "captures" / "a.c3d").touch()
    return folder


def opened(**files: str) -> None:
    """Gathering a study raises nothing at all: every fault is in its list, and names its file."""
    with tempfile.TemporaryDirectory() as scratch:
        _, faults = gather_study(study(Path(scratch), **files))
        for fault in faults:
            assert isinstance(fault, SwinglabError) and fault.file and len(str(fault)) < 20_000


@draws(tables(headings, texts))
def any_golfers(table: pd.DataFrame) -> None:
    opened(golfers=table.to_csv(index=False))


@draws(tables(headings, texts))
def any_swings(table: pd.DataFrame) -> None:
    opened(swings=table.to_csv(index=False))


@draws(tables(st.sampled_from(("swing", "Attack", "row")) | texts, texts), texts, st.booleans())
def any_device_table(table: pd.DataFrame, file: str, own: bool) -> None:
    name = "device.csv" if own else file
    device = f"[measured]\nfile = {_toml(name)}\nswing = 'swing'\n[measured.outcomes.attack_angle_deg]\n"
    opened(study=TITLE + device + "column = 'Attack'\nunit = 'deg'\n", device=table.to_csv(index=False))


@draws(tables(st.sampled_from(("swing", "event", "time_s", "reason", "who")) | texts, texts))
def any_tables_set_by_hand(table: pd.DataFrame) -> None:
    opened(events_by_hand=table.to_csv(index=False), excluded_by_hand=table.to_csv(index=False))


values = st.recursive(
    st.booleans() | st.integers() | st.floats() | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts.filter(bool), inner, max_size=3),
    max_leaves=6,
)
keys = st.one_of(
    *(
        st.tuples(st.just(section), st.sampled_from(sorted(known)) if known else texts)
        for section, known in (SECTIONS | dict.fromkeys([*NAMED_SECTIONS, "session", "accept", "measured"], ())).items()
    ),
    st.tuples(texts.filter(bool), texts.filter(bool)),
)  # fmt: skip


@draws(st.dictionaries(keys, values, max_size=4), st.sampled_from(sorted(QUESTIONS)), st.data())
def any_settings(section_keys: dict, kind: str, data: st.DataObject) -> None:
    question = data.draw(st.dictionaries(st.sampled_from(sorted(QUESTIONS[kind])), values, max_size=6))
    sections: dict[str, dict] = {"lab": {"up": "+Z", "target": "+X"}}
    for (section, key), value in section_keys.items():
        sections.setdefault(section, {})[key or "x"] = value
    lines = ['title = "a"', *(f"{_toml(name)} = {_toml(value)}" for name, value in sections.items())]
    lines += [f"[[{kind}]]", *(f"{_toml(name)} = {_toml(value)}" for name, value in question.items())]
    opened(study="\n".join(lines))


@draws(tables(st.sampled_from(("time_s", "frame", "nose_x", "nose_y", "nose_z", "x", "y", "z", "landmark")) | texts,
              texts | numbers.map(str)))  # fmt: skip
def any_pose_table(table: pd.DataFrame) -> None:
    for ending in (".csv", ".parquet"):
        with tempfile.TemporaryDirectory() as scratch:
            path = Path(scratch) / f"pose{ending}"
            numeric = table.apply(pd.to_numeric, errors="coerce")
            table.to_csv(path, index=False) if ending == ".csv" else numeric.to_parquet(path)
            try:
                read_capture(path)
            except SwinglabError as error:
                assert path.name in str(error)


@draws(tables(texts.filter(str.strip), texts))
def text_comes_back(table: pd.DataFrame) -> None:
    """What is written as text is read as the same text, less the white space around it; so are the headings."""
    table = table.map(lambda cell: cell.replace("\r", "").replace("\0", ""))
    table.columns = [f"{place}{name}".replace("\r", "") for place, name in enumerate(table.columns)]
    if table.empty:
        return
    with tempfile.TemporaryDirectory() as scratch:
        back = read_table(write_table(table, Path(scratch) / "a.csv"), shown="a.csv")
    expected = table.map(str.strip)
    expected.columns = [name.strip() for name in expected.columns]
    assert back.to_dict("list") == expected.to_dict("list")


@draws(st.lists(st.tuples(numbers | st.just(math.nan), texts, st.booleans()), max_size=6))
def results_keep_their_types(rows: list[tuple]) -> None:
    """Numbers, text and yes/no come back as such, also where a column is empty or its text looks like a number."""
    table = pd.DataFrame(
        {"value": pd.Series([r[0] for r in rows], dtype=float), "text": pd.Series([r[1] for r in rows], dtype=str),
         "sure": pd.Series([r[2] for r in rows], dtype=bool)}
    )  # fmt: skip
    types = column_types(table)
    with tempfile.TemporaryDirectory() as scratch:
        back = _read_back(write_table(table, Path(scratch) / "a.csv"), types)
    assert column_types(back) == types
    assert back["text"].tolist() == [
        text.replace("\r", " ") for text in table["text"]
    ]  # it would begin another row
    assert np.allclose(back["value"], table["value"], rtol=1e-8, equal_nan=True)
    assert back["sure"].tolist() == table["sure"].tolist()


@draws(st.lists(st.sampled_from(("", "1", "2.5", "G01", "nan", "007", "true")), min_size=2, max_size=2))
def declared_columns_keep_their_types(cells: list[str]) -> None:
    """Codes of digits stay text; a declared number is a number even where no cell is filled."""
    words = [name for name in TEXT_COLUMNS if name in ("session", "phase", "club", "shot", "examiner")]
    declared = ["order", "measured_attack_angle_deg", "from_s"]
    empty = all(cell == "" for cell in cells)
    table = pd.DataFrame(
        {"swing": ["S1", "S2"], "golfer": "G01", "capture": "a.c3d"} | dict.fromkeys(words, cells)
    )
    table = table.assign(**dict.fromkeys(declared, [""] * 2 if empty else ["1", "2"]))
    with tempfile.TemporaryDirectory() as scratch:
        found, _ = gather_study(study(Path(scratch), swings=table.to_csv(index=False)))
    for name in words:
        assert found.swings[name].tolist() == cells
    for name in declared:
        assert columns.is_column(name) and found.swings[name].dtype == float


@draws(st.floats(0, 1e4).map(lambda v: float(f"{v:.9g}")), texts, texts)
def what_is_set_by_hand_comes_back(time_s: float, who: str, note: str) -> None:
    with tempfile.TemporaryDirectory() as scratch:
        folder = study(Path(scratch))
        found, faults = gather_study(folder)
        assert not faults
        who, note = (text.replace("\r", "").replace("\0", "").strip() for text in (who, note))
        mark_event(found, "S1", "top", time_s, who=who, note=note)
        assert read_by_hand(folder).to_numpy().tolist() == [["S1", "top", time_s, who, note]]
        if note:
            exclude_swing(found, "S1", note, who=who)
            assert read_excluded(folder)[["swing", "reason", "who"]].to_numpy().tolist() == [
                ["S1", note, who]
            ]


@draws(st.integers(2, 5), st.integers(1, 3), st.sampled_from((".csv", ".parquet")), st.booleans(), st.data())
def pose_tables_come_back(rows: int, points: int, ending: str, long: bool, data: st.DataObject) -> None:
    """Positions and clock are those that were written."""
    names = [f"p{place}" for place in range(points)]
    drawn = data.draw(st.lists(numbers, min_size=rows * points * 3, max_size=rows * points * 3))
    cells = np.array(drawn).reshape(rows, points, 3)
    moments = np.arange(rows) / 50
    wide = {"time_s": moments} | {
        f"{n}_{a}": cells[:, k, i] for k, n in enumerate(names) for i, a in enumerate("xyz")
    }
    blocks = [pd.DataFrame({"time_s": moments, "landmark": n} | {a: cells[:, k, i] for i, a in enumerate("xyz")})
              for k, n in enumerate(names)]  # fmt: skip
    table = pd.concat(blocks) if long else pd.DataFrame(wide)
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / f"pose{ending}"
        table.to_csv(path, index=False) if ending == ".csv" else table.to_parquet(path, index=False)
        capture = read_capture(path, unit="m")
    assert capture.labels == tuple(names) and math.isclose(capture.rate_hz, 50)
    np.testing.assert_allclose(capture.points_m, cells, rtol=1e-9, atol=1e-12)


def _toml(value: object) -> str:
    """A value as TOML."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_toml(str(name))} = {_toml(inner)}" for name, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        escaped = (f"\\u{ord(c):04x}" if ord(c) < 32 or c in '"\\\x7f' else c for c in value)
        return '"' + "".join(escaped) + '"'
    return str(value)


PROPERTIES = (
    any_golfers, any_swings, any_device_table, any_tables_set_by_hand, any_settings, any_pose_table, text_comes_back,
    results_keep_their_types, declared_columns_keep_their_types, what_is_set_by_hand_comes_back, pose_tables_come_back,
)  # fmt: skip


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("examples", [25, pytest.param(2000, marks=pytest.mark.slow)])
@pytest.mark.parametrize("one", PROPERTIES, ids=lambda one: one.holds.__name__)
def test_property_of_tables(one: Property, examples: int) -> None:
    """Truth: made. Each property by its own name, with the same examples in every run."""
    quiet = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]
    chosen = settings(max_examples=examples, deadline=None, derandomize=True, database=None,
                      suppress_health_check=quiet)  # fmt: skip
    chosen(given(*one.drawn)(one.holds))()
