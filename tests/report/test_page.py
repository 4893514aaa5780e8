"""The report's page: whole, valid, escaped, the same bytes again, nothing asked of any network."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import html5lib
import pandas as pd
from small_study import HOSTILE

from swinglab.records import FINDING_COLUMNS
from swinglab.report import write_report
from swinglab.report.references import cited_in, read_references
from swinglab.study import write_results

FOLDER = Path(__file__).parents[2] / "references"


def test_the_folder_is_whole(answered: tuple) -> None:
    """made: every file of a run stands there, and in the users' page, which names no others."""
    page = (FOLDER / "study_folder.md").read_text(encoding="utf-8").split("## results/")[1]
    files, findings = page.split("| column of findings.csv |")
    shown = set(re.findall(r"^\| `([^`]+)`", files, re.MULTILINE))
    # Only where there is a lesson, a section [validate], a search, or --specifications: this study has none of them.
    elsewhere = {"players_sheet_N.html", "validation.csv", "screen.csv", "specifications.csv"}
    assert {path.name for path in answered[3].iterdir()} | elsewhere == shown
    findings = findings.split("| column of ")[0]
    rows = [line for line in findings.splitlines() if line.startswith("| `")]
    columns = [name for line in rows for name in re.findall(r"`(\w+)`", line.split("|")[1])]
    assert sorted(columns) == sorted(FINDING_COLUMNS)


def test_valid_html_without_a_network(answered: tuple) -> None:
    """other: html5lib's strict parser; no address of anything outside the page."""
    page = (answered[3] / "report.html").read_text(encoding="utf-8")
    html5lib.HTMLParser(strict=True).parse(page)
    assert not re.search(r"""(?:src|href)\s*=\s*["']?(?:https?:)?//""", page)
    assert not re.search(r"@import|url\(\s*['\"]?http", page)


def test_hostile_names_are_text(answered: tuple) -> None:
    """made: markup in titles, questions and groups appears as text, formulas in CSV are guarded."""
    study, _, _, out = answered
    assert study.title == HOSTILE
    tree = html5lib.parse((out / "report.html").read_text(encoding="utf-8"), namespaceHTMLElements=False)
    assert HOSTILE in "".join(tree.find(".//h1").itertext())
    scripts = ["".join(node.itertext()) for node in tree.iter("script")]
    assert not any("alert(" in text for text in scripts)
    assert not list(tree.iter("b"))
    for path in out.glob("*.csv"):
        for line in path.read_text(encoding="utf-8").splitlines():
            assert not any(cell.startswith(("=", '"=')) for cell in line.split(",")), path.name


def test_every_figure_has_words(answered: tuple) -> None:
    """made: an alternative text and a caption for each picture."""
    tree = html5lib.parse(
        (answered[3] / "report.html").read_text(encoding="utf-8"), namespaceHTMLElements=False
    )
    pictures = list(tree.iter("img"))
    assert len(pictures) >= 2
    assert all(len(picture.get("alt", "")) > 40 for picture in pictures)
    forests = [picture for picture in pictures if picture.get("class") == "forest"]  # one key serves them all
    assert len(forests) == 2 and any("Filled mark" in (p.text or "") for p in tree.iter("p"))
    assert len(list(tree.iter("figcaption"))) >= len(pictures) - len(forests)


def test_the_caution_stands_in_the_page(answered: tuple) -> None:
    """made: the words that keep a back from harm."""
    page = (answered[3] / "report.html").read_text(encoding="utf-8")
    for words in ("stop with pain", "ask a qualified professional first", "not a prescription"):
        assert words in page


def test_soft_tissue_that_is_not_known_is_shown_and_not_judged(answered: tuple) -> None:
    """made: the study gives no [errors]; its hunch within golfers has the table of 0, 2 and 5 deg, in the fold."""
    tree = html5lib.parse(
        (answered[3] / "report.html").read_text(encoding="utf-8"), namespaceHTMLElements=False
    )
    folds = [
        fold
        for fold in tree.iter("details")
        if "study.toml gives no soft_tissue_deg" in "".join(fold.itertext())
    ]
    assert len(folds) == 1
    first = [row[0].text for row in folds[0].iter("tr") if len(row) == 4]
    assert first == ["soft tissue", "0 deg", "2 deg", "5 deg"]


def test_same_inputs_same_bytes(answered: tuple) -> None:
    """made: written again, every file is equal; run.json but for the time at which it was written."""
    study, results, findings, out = answered
    again = write_results(study, results, findings, out.parent / "again", also=(write_report,))
    names = [p.relative_to(out) for p in out.rglob("*") if p.is_file()]
    assert len(names) > 12
    for name in names:
        if name.name == "run.json":
            first, second = (
                json.loads((folder / name).read_text(encoding="utf-8")) for folder in (out, again)
            )
            for key in ("written", "seal"):  # the seal holds the time, too
                assert first.pop(key) and second.pop(key)
            assert first == second
        else:
            assert (out / name).read_bytes() == (again / name).read_bytes(), name


def test_every_citation_has_its_source(answered: tuple) -> None:
    """made: nothing that the methods text or the code book cites is missing from references.bib."""
    from swinglab import columns

    methods = (answered[3] / "methods.md").read_text(encoding="utf-8")
    texts = [c.source for c in (*columns.QUANTITIES.values(), *columns.STRIKES.values())]
    found, lacking = cited_in(methods, *texts)
    assert lacking == []
    assert {"winter2009", "wu2002", "wu2005", "baker2001", "holm1979"} <= {
        reference.key for reference in found
    }
    assert len({r.key for r in read_references()}) == len(read_references()) > 60


def test_contrast_of_the_page() -> None:
    """published: WCAG 2.2, success criterion 1.4.3, contrast of at least 4.5:1 for text [memory]."""
    style = Path("swinglab/report/templates/page.css")
    text = (Path(__file__).resolve().parents[2] / style).read_text(encoding="utf-8")
    colours = re.findall(r"(?<![-\w])color:\s*(#[0-9a-f]{3,6})", text)
    assert colours
    for colour in colours:
        assert (1.05) / (luminance(colour) + 0.05) >= 4.5, colour


def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.2."""
    digits = colour[1:] if len(colour) == 7 else "".join(c * 2 for c in colour[1:])
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_doubts_stand_at_the_head(answered: tuple, tmp_path: Path) -> None:
    """made: one doubt that five swings share is written once, with the swings, and escaped."""
    study, results, _, _ = answered
    names = list(results.swings["swing"][:5])
    rows = [
        {"swing": name, "golfer": "G01", "check": "size", "verdict": "doubtful", "key": "unit", "what": "<i>small</i>",
         "value": "0.9", "do": "look at the unit", "reason": ""} for name in names
    ]  # fmt: skip
    study = replace(study, hunches=(), comparisons=())
    page = write_report(study, replace(results, gate=pd.DataFrame(rows)), (), tmp_path).read_text("utf-8")
    head = page.split("<main>")[0]
    assert head.count("&lt;i&gt;small&lt;/i&gt;") == 1
    assert f"5 swings: {', '.join(names[:3])} and 2 more" in head and "Doubtful:" in head


def test_the_peaks_are_folded_in_the_appendix_with_the_probability_of_their_order(answered) -> None:
    """Truth: made. Dots in a figure of its own, never a speed curve."""
    *_, out = answered
    page = (out / "report.html").read_text(encoding="utf-8")
    fold = page.split("<summary>When each part turns fastest", 1)[1].split("</details>", 1)[0]
    assert fold.count("<img") == 1
    assert "order pelvis, thorax, lead arm, club" in fold
    assert (out / "figures" / "peak_times.svg").is_file()
