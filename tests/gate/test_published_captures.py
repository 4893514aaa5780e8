"""The gate on captures from elsewhere, against verdicts that were written down before its code."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from captures import capture_path
from load.test_real_trials import CHANNELS
from real.stick_shot import STUDY as STICK

from swinglab.errors import SwinglabError
from swinglab.load import load_trial, read_capture
from swinglab.records import Setup
from swinglab.study.gate import DOUBTFUL, IMPOSSIBLE, Gate, check_trial

HERE = Path(__file__).parent
TRUTH = tomllib.loads((HERE / "truth_real_captures.toml").read_text(encoding="utf-8"))
LABELS = tomllib.loads((HERE.parent / "begin" / "truth_captures.toml").read_text(encoding="utf-8"))


def setup_of(name: str) -> Setup:
    """Landmarks by anatomy, axes by looking at the points."""
    truth = TRUTH[name]
    named = dict(LABELS.get(name, {}).get("named", {}))
    also = {key: value for key, value in LABELS.get(name, {}).get("also", {}).items() if key not in named}
    named |= {key: value if isinstance(value, str) else value[0] for key, value in also.items()}
    if name.startswith("unlabelled_swing"):
        named = {key: f"Channel{value}" for key, value in CHANNELS.items()}
    ball = None
    if truth.get("golf"):
        stick = tomllib.loads(STICK)
        named |= {key: value for key, value in stick["landmarks"].items() if key.startswith("club")}
        ball = tuple(stick["ball"]["position"])
    landmarks = {key: (value,) if isinstance(value, str) else tuple(value) for key, value in named.items()}
    target = truth.get("target", "+Y")
    axis = tuple(target) if isinstance(target, list) else target
    return Setup(up=truth.get("up", "+Z"), target=axis, landmarks=landmarks, ball_position=ball)


def gate_of(name: str, **changed: Any) -> Gate:
    setup = replace(setup_of(name), **changed)
    capture = read_capture(capture_path(name), unit=setup.unit)
    return check_trial(load_trial(capture, setup, swing="one", golfer="P1"))


@pytest.mark.parametrize("name", TRUTH)
def test_the_verdict_written_down(name: str) -> None:
    """Truth: other. Unusable, passed, or at most doubtful."""
    truth = TRUTH[name]
    if truth.get("verdict") == "unusable":
        with pytest.raises(SwinglabError):
            gate_of(name)
        return
    doubts = gate_of(name).doubts
    assert [doubt for doubt in doubts if doubt.verdict == IMPOSSIBLE] == []
    if truth.get("verdict") == "passed":
        assert [doubt for doubt in doubts if doubt.verdict == DOUBTFUL] == []


WRONG = [(name, wrong) for name, truth in TRUTH.items() for wrong in truth.get("wrong", [])]


@pytest.mark.parametrize(("name", "wrong"), WRONG, ids=[f"{n}-{w}" for n, w in WRONG])
def test_a_mistake_on_purpose_is_impossible(name: str, wrong: dict[str, Any]) -> None:
    """Truth: other. The mistake makes the capture impossible, and the key that is suspected is the right one."""
    changed = {
        key: tuple(value) if isinstance(value, list) else value
        for key, value in wrong.items()
        if key in ("up", "target", "unit", "hand")
    }
    if "exchange" in wrong:
        one, other = wrong["exchange"]
        landmarks = dict(setup_of(name).landmarks)
        landmarks[one], landmarks[other] = landmarks[other], landmarks[one]
        changed["landmarks"] = landmarks
    found = [(doubt.check, doubt.key) for doubt in gate_of(name, **changed).impossible]
    assert any(check == wrong["check"] and wrong["key"] in key for check, key in found), found
