"""The demo's methods text, word for word, and the answers that its made truths call for."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from swinglab.records import Finding
from swinglab.report.methods import methods_text
from swinglab.study import Results, Study, answer_study, load_or_measure, open_study

KEPT = Path(__file__).with_name("methods_demo.md")
#: What is true of the made golfers, by the words of the question's name, and how that must read.
TRUTHS = {
    "more trail-side tilt in delivery": "borne out",  # a true relation within
    "players with more trail-side tilt": "contradicted",  # the opposite between
    "pelvis turn going back": "too small to matter",  # nothing
    "skilled players have come out": "a difference was found",
    "G07 learns": "changed: the posture moved toward its aim",
    "G09 works": "not settled: strike before and after the lesson differs, but drift alone",
}

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def answered_demo(measured_demo: Path) -> tuple[Study, Results, tuple[Finding, ...]]:
    study = open_study(measured_demo)
    results = load_or_measure(study)
    return study, results, answer_study(study, results)


def masked(text: str) -> str:
    """The text with versions as X: they are the machine's, not the study's."""
    head, mark, software = text.partition("## Software\n")
    assert mark
    return head + mark + re.sub(r"\b\d+(\.\d+)+\b", "X", software)


def test_the_whole_methods_text(answered_demo: tuple) -> None:
    """Truth: kept (tests/report/methods_demo.md; may change only with a line under "Changes your numbers").

    After such a change: SWINGLAB_KEEP=1 writes the file anew, to be read before it is committed.
    """
    text = masked(methods_text(*answered_demo))
    if os.environ.get("SWINGLAB_KEEP") == "1":
        KEPT.write_text(text, encoding="utf-8")
        pytest.skip("methods_demo.md was written anew")
    assert text == KEPT.read_text(encoding="utf-8")


def test_only_versions_are_masked() -> None:
    """Truth: made."""
    text = "# Methods\n\n## Captures\n\nat 200.5 Hz\n\n## Software\n\nPython 3.11.7; numpy 2.4.6. The sha256 of it."
    assert (
        masked(text)
        == text[: text.index("Python")] + "Python X; numpy X. The sha256 of it."
    )  # fmt: skip


def test_the_answers_are_those_of_the_made_truths(answered_demo: tuple) -> None:
    """Truth: made. Each question of the demo reads as what was built into its golfers."""
    judged = [f for f in answered_demo[2] if f.role == "default"]
    assert len(judged) == len(TRUTHS)
    for words, reading in TRUTHS.items():
        (line,) = [f for f in judged if f.name.startswith(words)]
        assert line.reading.startswith(reading), f"{line.name}: {line.reading}"
