"""Every number of the methods text traced to a cell: a table of the results, study.toml or run.json."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pytest

from swinglab import columns, conventions
from swinglab.records import Finding
from swinglab.report.methods import TABLE_1, methods_text
from swinglab.study import Results, Study, answer_study, write_results

NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)*")
#: Numbers that belong to the method itself, not to this study: citations, levels, an event's name.
FIXED = {
    "Processing": ["2009"],
    "Posture": ["2001", "2002", "2005"],
    "Software": ["256"],
}


@dataclass(frozen=True)
class Written:
    """A results folder as a reader finds it: its tables, the study's settings, the run's record, the text."""

    tables: dict[str, pd.DataFrame]
    settings: dict
    run: dict
    text: dict[str, str]
    listed: int
    golfers: pd.DataFrame

    @classmethod
    def read(cls, study: Path, out: Path) -> Written:
        names = ("swing_table", "quality", "events", "strike", "left_out", "findings")
        parts = (out / "methods.md").read_text(encoding="utf-8").split("\n## ")[1:]
        return cls(
            {name: pd.read_csv(out / f"{name}.csv") for name in names},
            tomllib.loads((study / "study.toml").read_text(encoding="utf-8")),
            json.loads((out / "run.json").read_text(encoding="utf-8")),
            {part.split("\n", 1)[0]: part.split("\n", 1)[1] for part in parts},
            len(pd.read_csv(study / "swings.csv")),
            pd.read_csv(study / "golfers.csv"),
        )


def write_methods(study: Study, results: Results, findings: tuple[Finding, ...], out: Path) -> None:
    """The text alone, without the page."""
    (out / "methods.md").write_text(methods_text(study, results, findings), encoding="utf-8")


@pytest.fixture(scope="module", params=["whole", "two swings left out"])
def written(request: pytest.FixtureRequest, answered: tuple, tmp_path_factory: pytest.TempPathFactory):
    """The small study as written; and again with two swings left out, as if their captures could not be used."""
    study, results, _, out = answered
    if request.param != "whole":
        gone = ["G02_1", "G05_2"]
        tables = {
            name: table[~table["swing"].isin(gone)]
            for name in ("swings", "posture", "events", "strike", "quality")
            for table in [getattr(results, name)]
        }
        why = [
            {"swing": swing, "file": f"captures/{swing}.c3d", "stage": "load", "what": "the file is empty", "do": ""}
            for swing in gone
        ]  # fmt: skip
        results = Results(left_out=pd.DataFrame(why), **tables)
        out = tmp_path_factory.mktemp("traced") / "results"
        write_results(study, results, answer_study(study, results), out, also=(write_methods,))
    return Written.read(study.folder, out)


def ends(values: pd.Series) -> list[str]:
    """Smallest and largest of a column, one number where they are the same as printed."""
    low, high = (f"{v:.3g}" if v % 1 else f"{v:.0f}" for v in (values.min(), values.max()))
    return [low] if low == high else [low, high]


def counts(values: pd.Series) -> list[str]:
    """How often each value occurs, where there are several."""
    found = values.value_counts()
    return [str(n) for n in found] if len(found) > 1 else []


def participants(w: Written) -> list[str]:
    table, left = w.tables["swing_table"], w.tables["left_out"]
    golfers = table.drop_duplicates("golfer")
    gone = left[~left["swing"].isin(table["swing"])]
    per = table.groupby("golfer").size().astype(float)
    return [str(len(golfers)), "1", str(len(table)), *ends(per), str(w.listed), str(gone["swing"].nunique())]


def golfers_by_group(w: Written) -> list[str]:
    """Golfers, hands, the numbers of golfers.csv and swings each: group by group and in all."""
    table = w.tables["swing_table"]
    own = list(w.golfers.columns.drop(["golfer", "group", "hand"], errors="ignore"))
    rows: dict[str, list[str]] = {name: [] for name in ("golfers", "hand", *own, "swings")}
    for part in [*(part for _, part in table.groupby("group")), table]:
        golfers = w.golfers[w.golfers["golfer"].isin(part["golfer"])]
        rows["golfers"].append(str(len(golfers)))
        rows["hand"] += map(str, part.groupby("golfer")["hand"].first().value_counts().sort_index())
        for name in own:
            if not pd.api.types.is_numeric_dtype(golfers[name]):
                rows[name] += map(str, golfers[name].value_counts().sort_index())
                continue
            whole = bool((golfers[name] % 1 == 0).all())
            places = columns.UNIT_DECIMALS.get(name.split("_")[-1], 1 if whole else 2)
            rows[name] += described(golfers[name], places, whole)
        rows["swings"] += described(part.groupby("golfer").size(), 1, whole=True)
    return [number for numbers in rows.values() for number in numbers]


def described(values: pd.Series, places: int, whole: bool) -> list[str]:
    """Mean, standard deviation and both ends."""
    ends_places = 0 if whole else places
    return [f"{values.mean():.{places}f}", f"{values.std(ddof=1):.{places}f}",
            f"{values.min():.{ends_places}f}", f"{values.max():.{ends_places}f}"]  # fmt: skip


def captures(w: Written) -> list[str]:
    quality = w.tables["quality"]
    kinds = map(str, quality["capture_kind"].value_counts())
    return [
        *kinds, *ends(quality["rate_hz"]), *ends(quality["landmarks"]), *counts(quality["ball_method"]),
    ]  # fmt: skip


def processing(w: Written) -> list[str]:
    quality, settings = w.tables["quality"], w.settings.get("processing", {})
    hertz = [float(pair.split()[-1]) for cell in quality["cutoff_hz"] for pair in cell.split("; ")]
    low, high = (f"{value:.3g}" if value >= 100 else f"{value:.1f}" for value in (min(hertz), max(hertz)))
    gap = settings.get("longest_gap_s", 0.05)  # a default, as in Setup
    return [
        low, high, f"{gap:g}", str(int(quality["filled_samples"].sum())), *ends(quality["noise_mm"]),
    ]  # fmt: skip


def posture(w: Written) -> list[str]:
    """The years in the names of the frames used."""
    frames = w.tables["quality"][["pelvis_frame_method", "thorax_frame_method"]]
    assert len(frames.drop_duplicates()) == 1
    return [name.split()[-1] for name in frames.iloc[0]]


def events(w: Written) -> list[str]:
    found = w.tables["events"].dropna(subset="time_s")
    shown = []
    for name in conventions.EVENTS:
        own = found.loc[found["event"] == name, "standard_error_s"]
        shown += NUMBER.findall(conventions.EVENT_LABELS[name] + " " + conventions.EVENT_MEANINGS[name])
        shown += [str(len(own)), f"{1000 * own.median():.2f}"]
    return shown


def strike(w: Written) -> list[str]:
    table, club = w.tables["strike"], w.settings["club"]
    errors = table[["attack_angle_se_deg", "low_point_ahead_se_cm"]].median()
    assert club["soled_at_address"]
    sole = club.get("sole_height_se_mm", 4.0)  # a default, as in Setup
    measured = table["attack_angle_deg"].notna().sum()
    return [
        str(measured),
        *counts(table["method"]),
        f"{errors.iloc[0]:.3f}",
        f"{errors.iloc[1]:.2f}",
        f"{sole:g}",
    ]


def statistics(w: Written) -> list[str]:
    """Traced sentence by sentence in test_statistics_text.py."""
    return NUMBER.findall(w.text["Statistics"])


def software(w: Written) -> list[str]:
    return [w.run["python"], *w.run["packages"].values()]


TRACES: dict[str, Callable[[Written], list[str]]] = {
    "Ethics": lambda w: [], "Participants and swings": participants, TABLE_1: golfers_by_group, "Captures": captures,
    "Processing": processing,
    "Posture": posture,
    "Events": events, "Strike": strike, "Statistics": statistics, "Software": software,
}  # fmt: skip


def test_the_text_has_these_parts(written: Written) -> None:
    """Truth: made. A part with no trace here would go unlooked at."""
    assert list(written.text) == list(TRACES)


@pytest.mark.parametrize("part", TRACES)
def test_every_number_stands_in_a_cell(written: Written, part: str) -> None:
    """Truth: made. All numbers of a part, in their order, are those computed anew from the written files."""
    text = written.text[part]
    if part == "Participants and swings":
        for reason in written.tables["left_out"].itertuples():
            shown = f"{reason.swing}: {reason.what}"
            assert shown in text
            text = text.replace(shown, "")
    found = NUMBER.findall(text)
    for number in FIXED.get(part, []):
        found.remove(number)
    assert found == TRACES[part](written)
