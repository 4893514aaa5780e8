"""The commands of `swinglab`, run inside the prepared environment."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import warnings
from functools import partial
from pathlib import Path
from typing import Any

from swinglab import environment
from swinglab.console import progress_line, say, show_warning
from swinglab.errors import BadRequest, StudyFaults, SwinglabError, shortened
from swinglab.open_notebooks import DEMO, open_notebooks
from swinglab.shipped import shipped_folder


def run(options: argparse.Namespace) -> int:
    """Run the command in `options` and return its exit code; 2 for bad input, with the reasons on standard error."""
    command = {
        "begin": _begin, "register": _register, "study": _study, "measure": _measure, "check": _check, "test": _test,
        "validate": _validate, "simulate": _simulate, "watch": _watch, "share": _share, "notebooks": open_notebooks,
    }[options.command]  # fmt: skip
    with warnings.catch_warnings():
        warnings.showwarning = show_warning
        try:
            return command(options)
        except SwinglabError as fault:
            say(f"swinglab: {fault}", file=sys.stderr)
        except OSError as fault:
            # A full disk, a folder without write access, a file that another program holds.
            place = f"{fault.filename}: " if fault.filename else ""
            say(
                f"swinglab: {place}{fault.strerror or fault}. Do: free space, or make the folder writable, and run the "
                "same command again; earlier results are unchanged.",
                file=sys.stderr,
            )
        return 2


# --- beginning ---------------------------------------------------------------------------------------------


def _begin(options: argparse.Namespace) -> int:
    """Make a study from captures and check it; undecided points are printed, and the exit code is still 0."""
    from swinglab import begin

    begun = begin.begin_study(
        options.folder,
        golfers=options.golfers,
        copies=options.copies,
        progress=progress_line("looked at", "captures"),
    )
    say(*begun.lines)
    say(f"\ncheck {begun.folder.name}:")
    options.folder, options.allow_outside = begun.folder, False
    try:
        _check(options)
    except SwinglabError as fault:
        say(fault)
    say(f"next: python3 -m swinglab notebooks {begun.folder.name} --page 01")
    return 0


# --- measuring ---------------------------------------------------------------------------------------------


def _register(options: argparse.Namespace) -> int:
    """Register the study's questions and rules, with hashes of the existing captures."""
    from swinglab import study

    opened = study.open_study(options.folder)
    path = study.register_study(opened)
    there = sum(file.exists() for file in opened.captures.values())
    say(
        f"{path.name} contains the questions ({len(opened.questions)}), the rules by which they are judged, and the "
        f"sha256 of the captures ({there})"
    )
    say(
        "Do not change this file. With it, answers report which swings existed at registration, and what was added, "
        "changed or excluded later."
    )
    return 0


def _study(options: argparse.Namespace) -> int:
    from swinglab import study

    opened, out = _open(options)
    results: Any = None if options.specifications else study.read_kept(opened, out)
    if results is not None:
        say("inputs, questions and software are unchanged, so the stored results are shown", file=sys.stderr)
        findings = results.findings
    else:
        from swinglab import report  # its figures take a second to load

        results = _measured(opened, options)
        say("answering the study's questions", file=sys.stderr)
        findings = study.answer_study(opened, results)
        screens = study.search_study(opened, results)
        curves = _specifications(opened, results, options) if options.specifications else ()
        page = partial(report.write_report, screens=screens, curves=curves)
        _write(opened, results, findings, out, also=(page,), screens=screens)
    _say_left_out(results, out)
    for finding in findings:
        if finding.role == "default":
            say(f"{finding.name}: {finding.reading}")
    say(f"results: {out}\nreport:  {out / study.PAGE}")
    return _exit_code(results)


def _specifications(opened: Any, results: Any, options: argparse.Namespace) -> list[Any]:
    """Compute the specification curve of every hunch within golfers; alternative processing is measured first."""
    from swinglab import answers, study
    from swinglab.report.specifications import specification_sentences

    cache = study.swings_folder(opened) if options.folder else DEMO / study.SWINGS_FOLDER
    within = [hunch for hunch in opened.hunches if hunch.level == "within"]
    tables, unchanged = study.measure_processings(
        opened, results, within, workers=options.workers, progress=progress_line(), cache=cache
    )
    for way in unchanged:
        say(f"{way}: not used in the specification curves, because it changes no posture of these hunches")
    curves = []
    for hunch in within:
        try:
            curves.append(answers.specification_curve(tables, hunch, errors=opened.errors))
        except SwinglabError as fault:
            say(f"{hunch.name}: no specification curve: {fault}")
            continue
        say(f"{hunch.name}: {' '.join(specification_sentences(curves[-1]))}")
    return curves


def _measure(options: argparse.Namespace) -> int:
    from swinglab import study

    opened, out = _open(options)
    results = _measured(opened, options)
    _write(opened, results, (), out, also=(study.write_frames,) if options.frames else ())
    _say_left_out(results, out)
    say(f"results: {out}")
    return _exit_code(results)


def _write(opened: Any, results: Any, findings: tuple, out: Path, **more: Any) -> None:
    """Write results, and report files that were edited since the last run or changed during this one."""
    from swinglab import study

    for name in study.edited_files(out):
        say(
            f"{name} was edited after swinglab wrote it: the edited file is kept as an .edited copy",
            file=sys.stderr,
        )
    study.write_results(opened, results, findings, out, **more)
    changed = study.changed_during_run(opened, results)
    if changed:
        say(
            f"swinglab: {shortened(changed)} changed while the command was running. The results are "
            "from the files as swinglab read them. Do: run the same command again.",
            file=sys.stderr,
        )


def _check(options: argparse.Namespace) -> int:
    """Print what a study folder contains; return 1 if a capture cannot be used or has impossible data, else 0.

    Raises StudyFaults, which lists all faults, if the study's own files have faults; the exit code is then 2.
    """
    from swinglab import study

    found = study.check_folder(
        options.folder,
        allow_outside=options.allow_outside,
        progress=progress_line(),
        cache=_cache_of(options.folder),
    )
    say(*study.check_lines(found))
    names = study.names_in_study(found.study, found.labels["label"])
    if names:
        say(
            f"these look like people's names: {shortened(names)}. Results show the names of swings and golfers. Do: "
            "use codes instead; the command share makes a copy without names"
        )
    if found.faults:
        raise StudyFaults(found.faults, file=found.study.folder.name)
    return 0 if found.passed else 1


def _cache_of(folder: str) -> Path:
    """Return the folder in which the measured swings of a study are cached."""
    from swinglab import study

    return Path(folder).expanduser().resolve() / study.SWINGS_FOLDER


def _watch(options: argparse.Namespace) -> int:
    import webbrowser

    from swinglab import watch

    session = watch.RangeSession(
        options.folder, golfer=options.golfer, lesson=options.lesson, every=options.every
    )

    def opened(address: str) -> None:
        say(f"watching {session.folder / 'captures'}\nthe page: {address}\nstop with Ctrl-C")
        if not options.no_browser:
            webbrowser.open(address)

    watch.serve_session(session, port=options.port or 0, opened=opened)
    say(f"results: {session.folder / 'results'}")
    return 0


def _validate(options: argparse.Namespace) -> int:
    from swinglab import study

    opened, out = _open(options)
    study.validation_asked(opened)  # before anything is measured
    kept = study.read_results(opened, out) if study.is_current(opened, out) else None
    results = kept or _measured(opened, options)
    lines = study.validation_lines(study.validate_study(opened, results))
    if kept is None:
        _write(opened, results, (), out)
    _say_left_out(results, out)
    say(*lines, f"results: {out / 'validation.csv'}")
    return _exit_code(results)


def _share(options: argparse.Namespace) -> int:
    from swinglab import begin

    shared = begin.share_study(options.folder, options.copy, progress=progress_line("copied", "captures"))
    say(*shared.lines, f"copy without names: {shared.folder}")
    return 0


def _simulate(options: argparse.Namespace) -> int:
    from swinglab import simulate, study

    seeded: dict[str, Any] = {} if options.seed is None else {"seed": options.seed}
    if options.golfers is None and options.swings is None:
        made = simulate.write_demo(options.folder, **seeded)
    else:
        golfers = 20 if options.golfers is None else options.golfers
        swings = 20 if options.swings is None else options.swings
        with study.process_pool(max(1, options.workers or os.cpu_count() or 1)) as executor:
            made = simulate.write_league(
                options.folder, golfers=golfers, swings=swings, executor=executor,
                progress=progress_line("simulated"), **seeded,
            )  # fmt: skip
    say(f"simulated study: {made}")
    return 0


def _open(options: argparse.Namespace) -> tuple[Any, Path]:
    """Open the study; return it and its results folder, which is checked to be writable before measuring."""
    from swinglab import study

    folder = options.folder or shipped_folder("data_demo")
    default = Path(folder) / "results" if options.folder else DEMO / "results"
    opened = study.open_study(folder, allow_outside=options.allow_outside)
    say(*study.note_lines(opened), end="\n" if opened.notes else "", file=sys.stderr)
    out = Path(options.out) if options.out else default
    study.finish_interrupted(out)
    study.check_writable(out)
    return opened, out


def _measured(opened: Any, options: argparse.Namespace) -> Any:
    from swinglab import study

    # The folder of the shipped demo may be read-only; its measured swings are cached next to its results.
    cache = study.swings_folder(opened) if options.folder else DEMO / study.SWINGS_FOLDER
    return study.measure_study(
        opened, workers=options.workers, scheduler=options.scheduler, progress=progress_line(), cache=cache
    )


def _say_left_out(results: Any, out: Path) -> None:
    from swinglab import study

    left_out = results.left_out
    if len(left_out):
        swings = left_out["swing"].nunique()
        say(
            f"left out, in whole or in part: {swings} swing{'' if swings == 1 else 's'} "
            f"(all reasons are in {out / 'left_out.csv'})"
        )
        # Swings that the gate refused are printed below, with the other results of the gate.
        for row in left_out[left_out["stage"] != "gate"].head(5).itertuples():
            say(f"  {row.swing} ({row.file}), {row.stage}: {row.what}")
    say(*study.doubt_lines(results.gate, accepted=False), end="\n" if len(results.gate) else "")


def _exit_code(results: Any) -> int:
    """Return 1 where a swing was refused because its settings or labels are impossible, otherwise 0."""
    from swinglab.study.gate import IMPOSSIBLE

    return int(bool((results.gate["verdict"] == IMPOSSIBLE).any()))


# --- the test suite ----------------------------------------------------------------------------------------


def _test(options: argparse.Namespace) -> int:
    """Run checks of style and types, then pytest; with arguments, run only pytest with these."""
    if not (environment.ROOT / "tests").is_dir():
        raise BadRequest(
            "this installed copy of swinglab does not contain the test suite",
            do="run python3 -m swinglab test in a clone of the repository",
        )
    checks = [
        ["ruff", "check", "."],
        ["ruff", "format", "--check", "."],
        ["mypy"],
    ]
    codes = []
    if not options.passed_on:
        codes = [_run_module(command) for command in checks]
    # loadscope: all tests of a module run in the same process, which measures the data that they share only once. Tests
    # marked slow are run on demand: python -m swinglab test -m slow.
    every = ["-n", "2", "--dist", "loadscope", "-m", "not slow"]
    codes.append(_run_module(["pytest", *(options.passed_on or every)]))
    return max(codes, key=abs)


def _run_module(command: list[str]) -> int:
    say("python -m " + " ".join(command))
    return subprocess.run([sys.executable, "-m", *command], cwd=environment.ROOT, check=False).returncode
