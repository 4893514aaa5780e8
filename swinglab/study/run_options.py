"""Options of a run that run.json records: questions, rules, random seeds, numbers of draws, and the code's commit."""

from __future__ import annotations

import inspect
import json
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from swinglab.answers.planning import CHANCE
from swinglab.answers.rules import ALPHA, FEWEST_GOLFERS, FEWEST_IN_A_GROUP
from swinglab.statistics.permutation import permutation_test_paired, permute_groups
from swinglab.statistics.screen_family import screen_family
from swinglab.statistics.series_companions import flip_block_signs
from swinglab.statistics.wild import wild_bootstrap
from swinglab.study.file_hashes import PACKAGE
from swinglab.study.opening import Study

#: Methods that use random numbers, each with its own seed.
DRAWING: dict[str, Callable] = {
    "wild_bootstrap": wild_bootstrap, "signs_of_golfers": permutation_test_paired,
    "labels_of_golfers": permute_groups, "signs_of_blocks": flip_block_signs, "screens": screen_family,
}  # fmt: skip


def run_options(study: Study) -> dict[str, Any]:
    """Return the options of a study's answers, for run.json.

    They are the rules of judging, random seeds and numbers of draws, and each question with the values of all its keys.
    """
    asked = (*study.questions, *study.screens)
    options = {
        "alpha": ALPHA,
        "fewest_golfers": FEWEST_GOLFERS,
        "fewest_in_a_group": FEWEST_IN_A_GROUP,
        "planned_chance": CHANCE,
        "errors": asdict(study.errors),
        "draws": {name: _drawn(method) for name, method in DRAWING.items()},
        "questions": [{"kind": type(one).__name__.lower(), **asdict(one)} for one in asked],
    }
    return json.loads(json.dumps(options))


def _drawn(method: Callable) -> dict[str, int]:
    """Return a method's default seed and, if it has one, number of draws."""
    taken = inspect.signature(method).parameters
    return {name: taken[name].default for name in ("seed", "samples") if name in taken}


def code_commit() -> str:
    """Return the git commit of the running code, with " with changes" added if it was edited; empty outside a clone."""
    git = shutil.which("git")
    if git is None or not (PACKAGE.parent / ".git").exists():
        return ""
    asked = (("rev-parse", "HEAD"), ("status", "--porcelain", "--", PACKAGE.name))
    try:
        commit, changed = (
            subprocess.run(
                [git, "-C", str(PACKAGE.parent), *words], capture_output=True, text=True, timeout=20, check=True
            ).stdout.strip()
            for words in asked
        )  # fmt: skip
    except (OSError, subprocess.SubprocessError):
        return ""
    return f"{commit} with changes" if changed else commit
