"""The report of a study: one self-contained HTML page, and the files behind it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import pandas as pd
from markupsafe import Markup

from swinglab import columns
from swinglab.answers import ScreenAnswer, SpecificationCurve
from swinglab.answers.selection import columns_asked
from swinglab.figures.points import points_script, points_style
from swinglab.records import Comparison, Finding, Hunch, Lesson
from swinglab.report import pictures, wording
from swinglab.report.answer_tables import answers_table, write_tables
from swinglab.report.checked_fit import checked_fit
from swinglab.report.checklist import checklist
from swinglab.report.forest import draw_answer
from swinglab.report.geometry import geometry_beside
from swinglab.report.methods import TABLE_1, methods_text
from swinglab.report.motion import show_motion
from swinglab.report.participants import table_1
from swinglab.report.peaks import golfer_peaks
from swinglab.report.references import cited_in
from swinglab.report.robustness import robustness_of, robustness_sentence
from swinglab.report.screen_words import FOUND_BY_LOOKING
from swinglab.report.screens import shown_screens
from swinglab.report.sheet import write_sheets
from swinglab.report.soft_tissue import soft_tissue_table
from swinglab.report.specifications import draw_choices, specification_sentences, write_specifications
from swinglab.report.templating import template, with_policy
from swinglab.study import PAGE, Results, Study, run_record, shared_doubts

#: Largest number of rows of a table of swings on the page; the CSV files have all rows.
MOST_ROWS = 300


def write_report(
    study: Study,
    results: Results,
    findings: tuple[Finding, ...],
    out: Path,
    *,
    screens: Sequence[ScreenAnswer] = (),
    curves: Sequence[SpecificationCurve] = (),
) -> Path:
    """Write report.html (self-contained), methods.md, the players' sheets, figures/ and tables/ into a folder.

    Parameters
    ----------
    study, results, findings
        The study, its results, and the answers to its questions.
    out : path
        An existing folder.
    screens : sequence of ScreenAnswer
        Results of the study's searches ([[screen]] in study.toml).
    curves : sequence of SpecificationCurve
        Specification curves of hunches, if they were computed.

    Returns
    -------
    Path
        The path of report.html.
    """
    out = Path(out)
    methods = methods_text(study, results, findings)
    (out / "methods.md").write_text(methods, encoding="utf-8")
    people = table_1(study, results)
    write_tables({"answers": answers_table(findings), "table_1": people}, out / "tables")
    sheets = write_sheets(study, results, findings, out)
    book = _code_book(study)
    drawn, undrawn = pictures.overview(results)
    overview, failed = pictures.keep_all(drawn, out / "figures")
    peaks, peaks_failed = pictures.keep_all(golfer_peaks(results.swings), out / "figures")
    sources, _ = cited_in(methods, *(column.source for column in book), "Mansournia et al. 2021")
    text = template("page.html").render(
        study=study,
        caution=wording.CAUTION,
        counts=_counts(results),
        questions=_questions(study, results, findings, out, curves),
        screens=_screens(study, screens, out),
        found_by_looking=FOUND_BY_LOOKING,
        doubts=_doubts(results),
        styles=Markup(points_style()),
        script=Markup(points_script() + template("page.js").render()),
        overview=overview,
        peaks=peaks,
        undrawn=[*undrawn, *failed, *peaks_failed],
        left_out=_rows(results.left_out.head(MOST_ROWS)),
        quality=_rows(_least_quality(results.quality)),
        quality_of=len(results.quality),
        left_out_of=len(results.left_out),
        methods=_sections(methods),
        table_1=_rows(people),
        code_book=book,
        checklist=checklist(study, results, findings),
        sources=sources,
        sheets=[path.name for path in sheets],
        geometry=_geometry(study, results, out),
        motion=show_motion(study, results),
        record=run_record(study, results),
    )  # fmt: skip
    if curves:
        write_specifications(curves, out)
    (out / PAGE).write_text(with_policy(text), encoding="utf-8")
    return out / PAGE


def _least_quality(quality: pd.DataFrame) -> pd.DataFrame:
    """Return the data quality by swing; of more than `MOST_ROWS` swings, those with the most filled samples."""
    most = quality["filled_samples"].nlargest(MOST_ROWS, keep="first").index.sort_values()
    shown = ["swing", "file", "rate_hz", "landmarks", "filled_samples", "noise_mm", "warnings"]
    return quality.loc[most, shown]


def _screens(study: Study, screens: Sequence[ScreenAnswer], out: Path) -> list[dict[str, Any]]:
    """The study's searches: sentences, the table of what was found, a figure for each body part."""
    shown = []
    for one in shown_screens(screens, study.errors):
        kept, failed = pictures.keep_all(one.drawn, out / "figures")
        shown.append(
            {
                "name": one.name,
                "sentences": one.sentences,
                "more": (*one.more, *failed),
                "table": _rows(one.table),
                "pictures": kept,
            }
        )
    return shown


def _geometry(study: Study, results: Results, out: Path) -> list[dict[str, Any]]:
    """Return the comparisons of geometry and regression, one for each hunch that geometry can predict."""
    shown = []
    for number, one in enumerate(geometry_beside(study, results), start=1):
        named = [(f"geometry_{number}", one.drawn)] if one.drawn else []
        kept, failed = pictures.keep_all(named, out / "figures")
        shown.append(
            {"question": one.question, "sentences": (*one.sentences, *failed),
             "picture": kept[0] if kept else None}
        )  # fmt: skip
    return shown


def _doubts(results: Results) -> list[tuple[str, str]]:
    """Return verdict and text of each check of the swings that failed, once for all swings that failed it."""
    return [
        (one.verdict, f"{one.what} ({_some(one.swings)}). {one.reason or one.do}".strip())
        for one in shared_doubts(results.gate)
    ]


def _some(swings: Sequence[str]) -> str:
    """The first few names, and how many more there are."""
    more = f" and {len(swings) - 3} more" if len(swings) > 3 else ""
    return f"{wording.count(len(swings), 'swing')}: {', '.join(swings[:3])}{more}"


def _counts(results: Results) -> dict[str, int]:
    table = results.swings
    return {
        "golfers": table["golfer"].nunique(),
        "swings": len(table),
        "strikes": int(table.get("attack_angle_deg", pd.Series(dtype=float)).notna().sum()),
        "left_out": results.left_out["swing"].nunique(),
    }


def _questions(
    study: Study,
    results: Results,
    findings: tuple[Finding, ...],
    out: Path,
    curves: Sequence[SpecificationCurve],
) -> list[dict[str, Any]]:
    """Return the data of every question for the page; a figure that an earlier question shows is not repeated."""
    made: list[dict[str, Any]] = []
    first_with: dict[tuple, int] = {}
    by_name = {curve.hunch.name: (place, curve) for place, curve in enumerate(curves, start=1)}
    for number, question in enumerate(study.questions, start=1):
        shared = first_with.setdefault(_figure_of(question), number)
        made.append(
            _question(study, results, findings, question, out, number)
            | {
                "shared": shared if shared != number else 0,
                "choices": _choices(by_name.get(question.name), out),
            }
        )
        if shared != number:
            made[-1]["pictures"] = []
    return made


def _choices(found: tuple[int, SpecificationCurve] | None, out: Path) -> dict[str, Any] | None:
    """The answer to a question under every choice: a sentence and its figure."""
    if found is None:
        return None
    number, curve = found
    kept, failed = pictures.keep_all([(f"specifications_{number}", draw_choices(curve))], out / "figures")
    return {"sentences": [*specification_sentences(curve), *failed], "pictures": kept}


def _figure_of(question: Hunch | Comparison | Lesson) -> tuple:
    """Return what the figure of a question depends on; questions with equal values have the same figure."""
    if isinstance(question, Hunch):
        return ("hunch", question.posture, question.event, question.outcome, str(question.where))
    if isinstance(question, Comparison):
        return ("comparison", question.of, question.event, question.between, str(question.where))
    return ("lesson", question.name)


def _question(
    study: Study,
    results: Results,
    findings: tuple[Finding, ...],
    question: Hunch | Comparison | Lesson,
    out: Path,
    number: int,
) -> dict[str, Any]:
    lines = [f for f in findings if f.name == question.name]
    default = next(f for f in lines if f.role == "default")
    drawn, undrawn = pictures.draw_question(study, results, question)
    forest = draw_answer(lines)
    named = [(f"question_{number}_{i}", one) for i, one in enumerate(drawn, start=1)]
    kept, failed = pictures.keep_all(named, out / "figures")
    own = [(f"question_{number}_methods", forest)] if forest else []
    forests, not_drawn = pictures.keep_all(own, out / "figures")
    return {
        "name": question.name,
        "kind": default.kind,
        "default": default,
        "headline": wording.in_further_units(wording.headline(default, lines), default, study.report_units),
        "forest": forests[0] if forests else None,
        "answer": wording.sentence(default, study.report_units),
        "others": [
            wording.sentence(f, study.report_units)
            for f in lines
            if f.role == "beside" and f.level != default.level
        ][:1],
        "lines": lines,
        "pictures": kept,
        "undrawn": [*undrawn, *failed, *not_drawn],
        "robustness": _robustness(results, question, default),
        "soft_tissue": soft_tissue_table(study, results, question, lines),
        "notes": default.warnings,
        "warnings": _warnings(default, lines),
        "fit": checked_fit(study, results, question, number, out / "figures"),
    }


def _robustness(results: Results, question: Hunch | Comparison | Lesson, judged: Finding) -> str:
    """Return a sentence on how strong an unmeasured cause would have to be; "" if the interval includes 0."""
    if isinstance(question, Lesson) or not (judged.ci_low > 0 or judged.ci_high < 0):
        return ""
    found = robustness_of(columns_asked(results.swings, question), question)
    return robustness_sentence(found, question) if found else ""


def _warnings(default: Finding, lines: list[Finding]) -> list[tuple[str, str]]:
    """Return each warning of the supplementary findings once, with level and method of the finding that has it."""
    whose = dict.fromkeys(default.warnings, "")  # these are shown with the answer already
    for f in lines:
        for text in f.warnings:
            whose.setdefault(text, f"{f.level}, {f.method}")
    return [(text, line) for text, line in whose.items() if line]


def _rows(table: pd.DataFrame) -> dict[str, list]:
    """A table as text for the page."""

    units = [str(name).rsplit("_", 1)[-1] for name in table.columns]

    def cell(value: Any, unit: str) -> str:
        if isinstance(value, float):
            whole = value.is_integer() and unit not in columns.UNIT_DECIMALS
            return "" if pd.isna(value) else str(int(value)) if whole else wording.value_text(value, unit)
        return "" if value is None else str(value)

    body = [
        [cell(v, unit) for v, unit in zip(row, units, strict=True)] for row in table.itertuples(index=False)
    ]
    return {"head": [str(name).replace("_", " ") for name in table.columns], "body": body}


def _sections(methods: str) -> list[tuple[str, str]]:
    """Title and paragraph of each part of the methods text; Table 1 has no paragraph."""
    parts = [part.split("\n", 1) for part in methods.split("\n## ")[1:]]
    return [(title, "" if title == TABLE_1 else text.strip()) for title, text in parts]


def _code_book(study: Study) -> list[columns.Column]:
    """Every quantity that a question of the study names, once."""
    names: list[str] = []
    for question in study.questions:
        names += _named(question)
    return [columns.column(name) for name in dict.fromkeys(names) if columns.is_column(name)]


def _named(question: Hunch | Comparison | Lesson) -> Iterable[str]:
    if isinstance(question, Hunch):
        return (question.posture, question.outcome, *question.adjust)
    if isinstance(question, Comparison):
        return (question.of, *question.adjust)
    return (question.of, question.outcome)
