"""The command line: python3 -m swinglab COMMAND; COMMAND is begin, study, notebooks or another name in `_parser`.

In a fresh clone the first command creates the virtual environment (environment.py). Until then only the standard
library and syntax of Python 3.6 are used. This file can also be parsed by Python 2.7, to report which Python is needed.
"""

from __future__ import print_function

import sys

if sys.version_info < (3, 6):
    sys.exit(
        "swinglab needs Python 3.11 or newer; this is Python {}.{}.\n"
        "Do: install a newer Python, then call it by its name, for example python3.11 -m swinglab study.".format(
            sys.version_info[0], sys.version_info[1]
        )
    )

import argparse
import os
import signal
import threading

from swinglab import environment

EXIT_BAD_INPUT = 2
EXIT_INTERRUPTED = 130
#: Environment variables that limit linear algebra to one thread, which is faster for the small matrices of a swing.
#: numpy reads them when it is imported.
ONE_THREAD = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS")


class _Stopped(KeyboardInterrupt):
    """Raised when the system asks the command to end, for example because the terminal is closed.

    The argument is the exit code of the command.
    """


def main(arguments=None):  # type: (list | None) -> int
    """Run the swinglab command that the arguments name, and return its exit code.

    0: success. 1: the command finished, but a capture cannot be used, a swing has impossible data, or a test failed. 2:
    bad input, with the reasons on standard error. 130, or 128 plus the signal's number: stopped. `arguments` are the
    words after the program's name; by default those of the process.
    """
    too_old = environment.old_python_message()
    if too_old:
        print(too_old, file=sys.stderr)
        return EXIT_BAD_INPUT
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")
    arguments = list(sys.argv[1:] if arguments is None else arguments)
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors="replace")  # a terminal that lacks a letter shows a question mark
    options = _read(arguments)
    try:
        _end_on_signals()
        code = environment.enter(arguments, extra=_extra(options))
        if code is None:
            from swinglab import commands

            code = commands.run(options)
    except environment.SetupFailed as failure:
        print("swinglab: {}".format(failure), file=sys.stderr)
        code = EXIT_BAD_INPUT
    except KeyboardInterrupt as stop:
        if threading.current_thread() is threading.main_thread():
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # a second Ctrl-C while workers end changes nothing
        print("swinglab: stopped; earlier results are unchanged", file=sys.stderr)
        code = stop.args[0] if isinstance(stop, _Stopped) else EXIT_INTERRUPTED
    return code


def _end_on_signals():  # type: () -> None
    """Make SIGTERM and SIGHUP end the command like Ctrl-C: workers end, and no half-written file remains."""

    def stop(number, frame):  # type: (int, object) -> None
        raise _Stopped(128 + number)

    if threading.current_thread() is threading.main_thread():
        for name in ("SIGTERM", "SIGHUP"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), stop)


def _extra(options):  # type: (argparse.Namespace) -> str
    if options.command == "test":
        return "test"
    return "cluster" if getattr(options, "scheduler", None) else ""


def _read(arguments):  # type: (list) -> argparse.Namespace
    # Whatever follows `test` belongs to pytest, even where it looks like an option of ours.
    asks_for_help = arguments[1:2] in (["-h"], ["--help"])
    passed_on = arguments[1:] if arguments[:1] == ["test"] and not asks_for_help else []
    options = _parser().parse_args(arguments[: len(arguments) - len(passed_on)])
    options.passed_on = passed_on
    return options


def _parser():  # type: () -> argparse.ArgumentParser
    parser = argparse.ArgumentParser(
        prog="swinglab",
        description="Test a coach's hunch about posture and strike in the golf swing on motion capture data.",
        epilog="A measurement, not a prescription. Stop if there is pain. With a history of back pain, or with a "
        "growing player, ask a qualified professional first.",
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, words, add in (
        (
            "begin",
            "make a study from a folder of captures, or add new captures to an existing study",
            _add_begin,
        ),
        (
            "register",
            "freeze the questions and rules of a study before its data are collected",
            _add_register,
        ),
        ("study", "measure every swing, test every hunch, write the report", _add_study),
        ("measure", "measure every swing and write the tables, without testing anything", _add_measure),
        (
            "check",
            "report what a study folder contains, what is missing and which values are impossible",
            _add_check,
        ),
        (
            "validate",
            "estimate the errors of your own set-up: marker placement, examiners, another device, turf",
            _add_validate,
        ),
        (
            "watch",
            "run a session on the range: measure each new capture and show the lesson's value on a local page",
            _add_watch,
        ),
        ("simulate", "make a study of simulated golfers, marked as simulated", _add_simulate),
        (
            "share",
            "write a copy of a study without people's names, paths and the key to the golfers' codes",
            _add_share,
        ),
        (
            "notebooks",
            "copy missing notebooks into FOLDER/notebooks, open JupyterLab on them",
            _add_notebooks,
        ),
        ("test", "run the test suite (only in a clone); further arguments are passed on to pytest", None),
    ):
        command = commands.add_parser(name, help=words, description=words[0].upper() + words[1:] + ".")
        if add is not None:
            add(command)
    return parser


def _add_begin(command):  # type: (argparse.ArgumentParser) -> None
    command.add_argument("folder", metavar="FOLDER", help="a folder that contains the folder captures/")
    command.add_argument(
        "--golfers",
        metavar="PATTERN",
        help="pattern of file names with the golfer's name, such as '{golfer}_{session}_*' (default: the name of the "
        "folder in captures/ is the golfer's name)",
    )
    command.add_argument(
        "--copies",
        metavar="NEW_FOLDER",
        help="make the study in NEW_FOLDER, with copies of the captures under codes instead of people's names",
    )


def _add_register(command):  # type: (argparse.ArgumentParser) -> None
    command.add_argument(
        "folder", metavar="FOLDER", help="the study folder; registered.json is written into it"
    )


def _add_study(command):  # type: (argparse.ArgumentParser) -> None
    _add_folder(
        command, "the study folder; without it the demo study, with results in ./swinglab_demo/results"
    )
    _add_measuring(command)
    command.add_argument(
        "--specifications",
        action="store_true",
        help="also answer every hunch within golfers with other filter cut-offs, angle sequences and covariates",
    )


def _add_measure(command):  # type: (argparse.ArgumentParser) -> None
    command.add_argument("folder", metavar="FOLDER", help="the study folder")
    command.add_argument(
        "--frames",
        action="store_true",
        help="also write every quantity over time (CSV) and a C3D file with angles and events for each swing",
    )
    _add_outside(command)
    _add_measuring(command)


def _add_check(command):  # type: (argparse.ArgumentParser) -> None
    command.add_argument("folder", metavar="FOLDER", help="the study folder")
    _add_outside(command)


def _add_validate(command):  # type: (argparse.ArgumentParser) -> None
    command.add_argument("folder", metavar="FOLDER", help="the study folder; its study.toml has [validate]")
    _add_outside(command)
    _add_measuring(command)


def _add_watch(command):  # type: (argparse.ArgumentParser) -> None
    command.add_argument("folder", metavar="FOLDER", help="the study folder whose captures/ is watched")
    command.add_argument(
        "--golfer",
        metavar="CODE",
        help="code of the golfer (default: the golfer of the last row of swings.csv)",
    )
    command.add_argument(
        "--lesson",
        metavar="NAME",
        help="the lesson whose value is shown (default: the golfer's first lesson)",
    )
    command.add_argument(
        "--every", type=int, default=5, metavar="N", help="number of swings in a summary (default: 5)"
    )
    command.add_argument("--no-browser", action="store_true", help="print the address, open no browser")
    command.add_argument("--port", type=int, metavar="N", help="port of the local page (default: a free one)")


def _add_simulate(command):  # type: (argparse.ArgumentParser) -> None
    command.add_argument("folder", metavar="FOLDER", help="a folder that does not exist yet, or is empty")
    command.add_argument(
        "--golfers",
        type=int,
        metavar="N",
        help="number of golfers (default: 20 if only --swings is given; without both, the demo study is written)",
    )
    command.add_argument(
        "--swings",
        type=int,
        metavar="N",
        help="number of swings of each golfer (default: 20 if only --golfers is given)",
    )
    command.add_argument(
        "--seed", type=int, metavar="N", help="seed of the random numbers; the same seed gives the same study"
    )
    command.add_argument(
        "--workers", type=int, metavar="N", help="number of processes (default: one for each core)"
    )


def _add_share(command):  # type: (argparse.ArgumentParser) -> None
    command.add_argument("folder", metavar="FOLDER", help="the study folder")
    command.add_argument(
        "copy", metavar="NEW_FOLDER", help="where the copy is written: a new folder, or an empty one"
    )


def _add_notebooks(command):  # type: (argparse.ArgumentParser) -> None
    _add_folder(
        command, "the study folder; without it the demo study, with notebooks in ./swinglab_demo/notebooks"
    )
    command.add_argument(
        "--page",
        metavar="NN",
        help="open one notebook, by its number or a word of its name, as a single page without code",
    )
    command.add_argument("--no-browser", action="store_true", help="print the address, open no browser")
    command.add_argument(
        "--port", type=int, metavar="N", help="port of the local server (default: the next free one)"
    )


def _add_folder(command, words):  # type: (argparse.ArgumentParser, str) -> None
    command.add_argument("folder", metavar="FOLDER", nargs="?", help=words)
    _add_outside(command)


def _add_outside(command):  # type: (argparse.ArgumentParser) -> None
    command.add_argument(
        "--allow-outside", action="store_true", help="also read captures that lie outside the study folder"
    )


def _add_measuring(command):  # type: (argparse.ArgumentParser) -> None
    command.add_argument("--out", metavar="FOLDER", help="folder for the results (default: FOLDER/results)")
    command.add_argument(
        "--workers", type=int, metavar="N", help="number of processes (default: one for each core)"
    )
    command.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="address of a Dask scheduler that distributes the swings over computers, on a network you trust",
    )


if __name__ == "__main__":
    sys.exit(main())
