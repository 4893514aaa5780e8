"""What each command does, once the environment is there."""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from swinglab import environment
from swinglab.errors import BadRequest, SwinglabError, near_names
from swinglab.shipped import shipped_folder

DEMO = Path("swinglab_demo")


def run(options: argparse.Namespace) -> int:
    """Run the command that was asked for; its exit code, 2 with the reasons on standard error on bad input."""
    command = {
        "begin": _begin, "study": _study, "measure": _measure, "check": _check, "simulate": _simulate,
        "watch": _watch, "notebooks": _notebooks, "test": _test,
    }[options.command]  # fmt: skip
    try:
        return command(options)
    except SwinglabError as fault:
        print(f"swinglab: {fault}", file=sys.stderr)
        return 2


# --- beginning ---------------------------------------------------------------------------------------------


def _begin(options: argparse.Namespace) -> int:
    """Make a study of captures and check it; what is open is said and ends in 0, since begin has done its part."""
    from swinglab import begin

    begun = begin.begin_study(
        options.folder, golfers=options.golfers, copies=options.copies, progress=_progress_line("looked at")
    )
    print(*begun.lines, sep="\n")
    print(f"\ncheck {begun.folder.name}:", flush=True)
    options.folder, options.allow_outside = begun.folder, False
    try:
        _check(options)
    except SwinglabError as fault:
        print(fault)
    print(f"next: python3 -m swinglab notebooks {begun.folder.name} --page 01")
    return 0


# --- measuring ---------------------------------------------------------------------------------------------


def _study(options: argparse.Namespace) -> int:
    from swinglab import report, study

    opened, out = _open(options)
    results = _measured(opened, options)
    print("answering the study's questions", file=sys.stderr)
    findings = study.answer_study(opened, results)
    screens = study.search_study(opened, results)
    study.write_results(opened, results, findings, out, also=(report.write_report,), screens=screens)
    page = out / report.PAGE
    _say_left_out(results, out)
    for finding in findings:
        if finding.role == "default":
            print(f"{finding.name}: {finding.reading}")
    print(f"results: {out}\nreport:  {page}")
    return 0


def _measure(options: argparse.Namespace) -> int:
    from swinglab import study

    opened, out = _open(options)
    results = _measured(opened, options)
    study.write_results(opened, results, (), out)
    _say_left_out(results, out)
    print(f"results: {out}")
    return 0


def _check(options: argparse.Namespace) -> int:
    from swinglab import study

    opened = study.open_study(options.folder, allow_outside=options.allow_outside)
    print(opened.title)
    asked = [f"{kind}: {len(those)}" for kind, those in (
        ("hunches", opened.hunches), ("comparisons", opened.comparisons), ("lessons", opened.lessons))]  # fmt: skip
    print(f"golfers: {len(opened.golfers)}, swings: {len(opened.swings)}, {', '.join(asked)}")
    found = study.check_study(opened, progress=_progress_line("looked at"))
    for row in found.itertuples():
        print(f"  {row.swing} ({row.file}): {_capture_words(row)}")
    faulty = int((found["problem"] != "").sum())
    print(
        f"{len(found) - faulty} of {len(found)} captures can be measured" + (", see above" if faulty else "")
    )
    return 0


def _capture_words(row: Any) -> str:
    if row.problem:
        return f"cannot be used: {row.problem}"
    kind = row.kind.replace("_", " ")
    words = f"{kind}, {row.rate_hz:g} Hz, {row.duration_s:.2f} s, {row.missing_percent:.1f} % missing"
    words += f"; lacks {row.landmarks_missing}" if row.landmarks_missing else ""
    return words + (f"; mind: {row.warnings}" if row.warnings else "")


def _watch(options: argparse.Namespace) -> int:
    import webbrowser

    from swinglab import watch

    session = watch.RangeSession(
        options.folder, golfer=options.golfer, lesson=options.lesson, every=options.every
    )

    def opened(address: str) -> None:
        print(f"watching {session.folder / 'captures'}\nthe page: {address}\nend with Ctrl-C", flush=True)
        if not options.no_browser:
            webbrowser.open(address)

    watch.serve_session(session, port=options.port or 0, opened=opened)
    print(f"results: {session.folder / 'results'}")
    return 0


def _simulate(options: argparse.Namespace) -> int:
    from swinglab import simulate

    seeded = {} if options.seed is None else {"seed": options.seed}
    print(f"made study: {simulate.write_demo(options.folder, **seeded)}")
    return 0


def _open(options: argparse.Namespace) -> tuple[Any, Path]:
    """The study, and the folder its results go to, known to be writable before anything is measured."""
    from swinglab import study

    folder = options.folder or shipped_folder("data_demo")
    default = Path(folder) / "results" if options.folder else DEMO / "results"
    opened = study.open_study(folder, allow_outside=options.allow_outside)
    out = Path(options.out) if options.out else default
    study.check_writable(out)
    return opened, out


def _measured(opened: Any, options: argparse.Namespace) -> Any:
    from swinglab import study

    # The shipped demo may lie where nothing can be written; its swings are kept beside its results.
    cache = study.swings_folder(opened) if options.folder else DEMO / study.SWINGS_FOLDER
    return study.measure_study(
        opened, workers=options.workers, scheduler=options.scheduler, progress=_progress_line(), cache=cache
    )


def _progress_line(done_words: str = "measured") -> Callable[[int, int, str], None]:
    """A callable that says how far the measuring is, on one line of a terminal or every few seconds."""
    started = time.monotonic()
    said = started

    def tell(done: int, total: int, swing: str) -> None:
        nonlocal said
        now = time.monotonic()
        terminal = sys.stderr.isatty()
        if now - started < 1.0 or (done < total and now - said < (0.1 if terminal else 5.0)):
            return
        said = now
        words = f"{done_words} {done} of {total} swings ({now - started:.0f} s)"
        ending = "\n" if done >= total or not terminal else ""
        print(("\r" if terminal else "") + words, end=ending, file=sys.stderr, flush=True)

    return tell


def _say_left_out(results: Any, out: Path) -> None:
    left_out = results.left_out
    if len(left_out):
        swings = left_out["swing"].nunique()
        print(
            f"left out, in whole or in part: {swings} swing{'' if swings == 1 else 's'} "
            f"(every reason in {out / 'left_out.csv'})"
        )
        for row in left_out.head(5).itertuples():
            print(f"  {row.swing} ({row.file}), {row.stage}: {row.what}")


# --- notebooks ---------------------------------------------------------------------------------------------


def _notebooks(options: argparse.Namespace) -> int:
    folder = _notebook_study(options)
    copies = folder / "notebooks"
    originals = sorted(shipped_folder("notebooks").glob("*.ipynb"))
    page = _page_named(options.page, [path.name for path in originals]) if options.page else None
    _copy_missing(originals, copies)
    _measure_first(folder)
    start = f"/doc/tree/{page}" if page else f"/lab/tree/{originals[0].name}"
    command = [
        sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={copies.resolve()}",
        f"--LabApp.default_url={start}",
    ]  # fmt: skip
    command += ["--no-browser"] if options.no_browser else []
    command += [f"--ServerApp.port={options.port}"] if options.port else []
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    print(f"notebooks: {copies}\nJupyterLab runs until you press Ctrl+C twice in this window.", flush=True)
    return subprocess.run(command, env=_lab_environment(), check=False).returncode


def _lab_environment() -> dict[str, str]:
    """This environment, with defaults for JupyterLab that send nothing unasked: no news, no look for updates."""
    settings = str(Path(__file__).parent / "controls" / "lab_settings")
    known = os.environ.get("JUPYTER_CONFIG_PATH")
    return os.environ | {"JUPYTER_CONFIG_PATH": settings + (os.pathsep + known if known else "")}


def _notebook_study(options: argparse.Namespace) -> Path:
    """The study folder the notebooks will stand in; the demo becomes a working copy."""
    from swinglab import study

    if options.folder:
        # Faults of a study are shown in the notebook's page: only a folder that is no study stops here.
        folder = Path(options.folder)
        if not (folder / "study.toml").is_file():
            study.open_study(folder)
        return folder
    if not (DEMO / "study.toml").is_file():
        beside = DEMO.with_name(f"{DEMO.name}.{os.getpid()}")
        shutil.copytree(shipped_folder("data_demo"), beside, ignore=shutil.ignore_patterns("results"))
        shutil.copytree(beside, DEMO, dirs_exist_ok=True)
        shutil.rmtree(beside)
    return DEMO


def _measure_first(folder: Path) -> None:
    """Measure while the terminal shows how far it is, so that every notebook opens with its results there."""
    from swinglab import study

    try:
        opened = study.open_study(folder)
        study.load_or_answer(opened, study.load_or_measure(opened, progress=_progress_line()))
    except SwinglabError as fault:
        print(f"swinglab: {fault}\nThe notebooks open all the same and say this too.", file=sys.stderr)


def _copy_missing(originals: list[Path], copies: Path) -> None:
    copies.mkdir(parents=True, exist_ok=True)
    for path in originals:
        if not (copies / path.name).exists():
            shutil.copyfile(path, copies / path.name)


def _page_named(asked: str, names: list[str]) -> str:
    """The notebook whose name begins as asked, by its number or name; else the one whose name holds that word."""
    word = asked.strip().lower().replace(" ", "_")
    found = [name for name in names if name.startswith(word)] or [name for name in names if word in name]
    if len(found) != 1:
        near = near_names(asked, names) or "one of " + ", ".join(name[:2] for name in names)
        raise BadRequest(f"there is no notebook {asked}", do=near)
    return found[0]


# --- the test suite ----------------------------------------------------------------------------------------


def _test(options: argparse.Namespace) -> int:
    """Checks of style and types, then pytest; with arguments of the user's, pytest alone on those."""
    if not (environment.ROOT / "tests").is_dir():
        raise BadRequest("the test suite is in a clone of swinglab only", do="run this from a clone")
    checks = [
        ["ruff", "check", "."],
        ["ruff", "format", "--check", "."],
        ["mypy"],
    ]
    codes = []
    if not options.passed_on:
        codes = [_run_module(command) for command in checks]
    # By module: what a module measures once for its tests is measured in one process alone.
    codes.append(_run_module(["pytest", *(options.passed_on or ["-n", "2", "--dist", "loadscope"])]))
    return max(codes, key=abs)


def _run_module(command: list[str]) -> int:
    print("python -m " + " ".join(command), flush=True)
    return subprocess.run([sys.executable, "-m", *command], cwd=environment.ROOT, check=False).returncode
