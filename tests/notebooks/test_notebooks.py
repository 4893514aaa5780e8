"""Each notebook runs on the demo study, hides no error, and holds the answers it should."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import nbformat
import pytest
from notebook_runs import NOTEBOOKS, hidden_faults, run_notebook

PATHS = sorted(NOTEBOOKS.glob("*.ipynb"))
LESSONS = [path for path in PATHS if not path.name.startswith("90")]

#: What else is asked of a notebook after it has run: expressions, evaluated in its kernel. A notebook that is not
#: listed must run without a fault and answer its own tasks.
ASKED = {
    "00": {"swings": "len(chosen.results.swings)", "shown": "int(outcomes.values.notna().sum())",
           "figures": "len(swings.viewer.layout_of_frames['swings'])"},
    "02": {"measured": "len(captures.quality)", "left_out": "len(captures.left_out)",
           "listed": "len(chosen.study.swings)", "impact_s": "events.records.events.time_s('impact')"},
    "03": {"column": "posture.column", "values": "int(posture.values.notna().sum())"},
    "04": {"screened": "len(screen.answer.found.table)", "searched": "len(screen.rows)",
           "saved": "screen.save.show_button.description", "quantity": "screen.quantity"},
    "05": {"levels": "sorted({f.level for f in hunch.findings})",
           "reading": "[f.reading for f in hunch.findings if f.role == 'default'][0]",
           "estimate": "[f.estimate for f in hunch.findings if f.role == 'default'][0]",
           "own": "[f.estimate for f in chosen.findings if f.role == 'default' and f.name == hunch.question.name][0]"},
    "06": {"kind": "[f.kind for f in comparison.findings if f.role == 'default'][0]",
           "golfers": "[f.n_golfers for f in comparison.findings if f.role == 'default'][0]"},
    "07": {"kind": "[f.kind for f in lesson.findings if f.role == 'default'][0]",
           "golfer": "lesson.question.golfer"},
    "10": {"answers": "len([f for f in paper.findings if f.role == 'default'])",
           "questions": "len(chosen.study.questions)", "methods": "paper.methods[:9]"},
    "09": {"moved": "panel.sliders['thorax_lateral_flexion_deg'].set_trait('value', 3.0) or panel.look() or "
           "panel.effect.change['low_point_ahead_cm']", "predicted": "panel.predicted()['low_point_ahead_cm'] - "
           "panel.strike.values['low_point_ahead_cm']", "figures": "len(panel.viewer.layout_of_frames['swings'])",
           "difference": "beside.compare() or beside.found.difference.estimate - (beside.found.players.estimate - "
           "beside.found.geometric.estimate)", "golfers": "int((beside.found.by_golfer.n_swings > 0).sum())"},
}  # fmt: skip


@pytest.fixture(scope="session")
def answered(demo: Path) -> dict[str, dict]:
    """Values of the asked expressions and the tasks' answers, filled by the tests that run the notebooks."""
    return {}


def tasks_of(path: Path) -> list[str]:
    """Names of the tasks that a notebook sets: task_1, task_2, ..."""
    return sorted(set(re.findall(r"\btask_\d+\b", path.read_text(encoding="utf-8"))))


def run(path: Path, demo: Path) -> dict:
    tasks = {name: f"{name}.answer" for name in tasks_of(path)}
    notebook, values = run_notebook(path, demo / "notebooks", asked=ASKED.get(path.name[:2], {}) | tasks)
    assert not hidden_faults(notebook)
    return values


@pytest.mark.notebook
@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_notebook_runs_and_holds_its_answers(path: Path, demo: Path, answered: dict) -> None:
    """Truth: other. The answers are those that the package gives when it is called without a notebook."""
    values = answered.setdefault(path.name[:2], run(path, demo))
    assert all(math.isfinite(v) for v in values.values() if isinstance(v, float))
    check = CHECKS.get(path.name[:2])
    assert check is None or check(values), values


CHECKS = {
    "00": lambda v: v["swings"] == v["shown"] > 0 and v["figures"] == 1,
    "02": lambda v: v["measured"] + v["left_out"] >= v["listed"],
    "03": lambda v: v["column"] == "thorax_lateral_flexion_at_impact_deg",
    "04": lambda v: v["screened"] > 100 and v["saved"] == "Save this question" and v["quantity"],
    "05": lambda v: "within" in v["levels"] and v["estimate"] == v["own"] and v["reading"],
    "06": lambda v: v["kind"] == "comparison" and v["golfers"] > 3,
    "07": lambda v: v["kind"] == "lesson" and v["golfer"],
    "10": lambda v: v["answers"] == v["questions"] > 0 and v["methods"] == "# Methods",
    "09": lambda v: (
        -2.5 < v["moved"] < -0.5
        and abs(v["moved"] - v["predicted"]) < 0.15
        and v["figures"] == 2
        and abs(v["difference"]) < 1e-9
        and v["golfers"] == 12
    ),
}


@pytest.mark.notebook
def test_the_solutions_are_the_answers_of_the_tasks(demo: Path, answered: dict) -> None:
    """Truth: other. Computed in plain steps in 90_solutions, by other expressions in the tasks."""
    for path in LESSONS:
        if path.name[:2] not in answered:
            answered[path.name[:2]] = run(path, demo)
    notebook, values = run_notebook(
        NOTEBOOKS / "90_solutions.ipynb",
        demo / "notebooks",
        asked={"solutions": "[[*key, value] for key, value in solutions.items()]"},
    )
    assert not hidden_faults(notebook)
    solved = {(number, task): value for number, task, value in values["solutions"]}
    assert len(solved) == sum(len(tasks_of(path)) for path in LESSONS)
    for (number, task), value in solved.items():
        assert value == pytest.approx(answered[number][task], rel=1e-6), (number, task)


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_a_notebook_is_stored_thin_and_without_outputs(path: Path) -> None:
    """Truth: made. No outputs, counts or widget states; folded cells of at most 12 lines; no def, no class."""
    notebook = json.loads(path.read_text(encoding="utf-8"))
    assert "widgets" not in notebook["metadata"]
    assert notebook["cells"][0]["source"][0].startswith("# ")
    for cell in notebook["cells"]:
        if cell["cell_type"] != "code":
            continue
        assert cell["outputs"] == [] and cell["execution_count"] is None
        assert cell["metadata"]["jupyter"]["source_hidden"] is True
        assert len(cell["source"]) <= 12
        assert not any(line.lstrip().startswith(("def ", "class ", "async ")) for line in cell["source"])
    imports = [
        line.strip()
        for cell in notebook["cells"]
        if cell["cell_type"] == "code"
        for line in cell["source"]
        if line.startswith(("import ", "from "))
    ]
    assert imports == ["import swinglab as sl"]


def test_the_runner_sees_an_error_inside_a_widget(tmp_path: Path) -> None:
    """Truth: made. nbclient itself passes over it."""
    notebook = nbformat.v4.new_notebook()
    lines = ["import ipywidgets as w", "w.interactive_output(lambda x: 1 / 0, {'x': w.IntSlider()})"]
    code = "\n".join(lines)
    notebook.cells = [nbformat.v4.new_code_cell(code)]
    path = tmp_path / "broken.ipynb"
    nbformat.write(notebook, path)
    run_after, _ = run_notebook(path, tmp_path)
    assert any("ZeroDivisionError" in fault for fault in hidden_faults(run_after))


def test_the_runner_sees_a_message_in_the_page(tmp_path: Path) -> None:
    """Truth: made. A bad study folder: the package's message stands in the page, no traceback does."""
    (tmp_path / "study.toml").write_text("titel = 'x'\n", encoding="utf-8")
    notebook = nbformat.v4.new_notebook()
    cells = [
        "import swinglab as sl\nchosen = sl.controls.choose_study()\nchosen",
        "sl.controls.show_swings(chosen)",
    ]
    notebook.cells = [nbformat.v4.new_code_cell(code) for code in cells]
    path = tmp_path / "notebooks" / "bad.ipynb"
    path.parent.mkdir()
    nbformat.write(notebook, path)
    run_after, _ = run_notebook(path, path.parent)
    faults = hidden_faults(run_after)
    assert any("golfers.csv: the file is missing" in fault for fault in faults)
    assert any("no study is open" in fault for fault in faults)
    assert all(fault.startswith("a message in the page") for fault in faults)
