"""Notebooks on studies that are not the demo: no phases, no sessions, no lessons, or no study at all."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from small_study import write_small_study

import swinglab
from swinglab.lab import kit_notebooks

#: The solutions are those of the demo.
NOTEBOOKS = [path for path in kit_notebooks() if not path.name.startswith("90_")]


@pytest.fixture(scope="module", params=["small", "none"])
def chosen(request, tmp_path_factory: pytest.TempPathFactory) -> swinglab.controls.ChosenStudy:
    """Six golfers without sessions, phases or lessons; or a folder without a study."""
    folder = tmp_path_factory.mktemp("other") / request.param
    if request.param == "small":
        write_small_study(folder)
    else:
        folder.mkdir()
    return swinglab.controls.choose_study(folder)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_no_cell_ends_in_an_error(path: Path, chosen: swinglab.controls.ChosenStudy) -> None:
    """Truth: made. What a study does not have is a message in the page; every cell runs."""
    names = {"sl": swinglab, "chosen": chosen}
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        source = "".join(cell["source"])
        if cell["cell_type"] == "code" and "choose_study" not in source:
            exec(source, names)
