"""Sets up a new clone on first use: creates .venv, installs the project there, and continues inside it.

This module runs before anything is installed, under any Python: it uses only the standard library and syntax of
Python 3.6, so that an old Python can report which version is needed.
"""

import contextlib
import errno
import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import IO, Iterator

NEEDED_PYTHON = (3, 11)
ROOT = Path(__file__).resolve().parent.parent
#: Environment variable: 1 means that the running Python and its packages are used, without .venv.
SWITCH = "SWINGLAB_NO_VENV"

#: Module -> package, where their names differ.
DISTRIBUTIONS = {"xdist": "pytest-xdist"}
#: Name of a file that marks a virtual environment as created by swinglab. An environment without this mark and without
#: a stamp (see `stamp_path`) belongs to someone else and is never changed.
MARK = "made-by-swinglab"

#: Modules that a command needs, by extra of pyproject.toml ("" for the project itself).
MODULES = {
    "": (
        "anywidget", "c3d", "ipykernel", "ipywidgets", "jinja2", "jupyterlab", "matplotlib", "numpy", "pandas",
        "scipy", "seaborn", "statsmodels",
    ),
    "cluster": ("distributed",),
    "test": ("hypothesis", "mypy", "nbclient", "playwright", "pytest", "pytest_benchmark", "ruff", "xdist"),
}  # fmt: skip

#: Parts of pip's messages that show a missing network, or an index without the package.
_NO_NETWORK = (
    "Failed to establish a new connection", "Temporary failure in name resolution", "Name or service not known",
    "getaddrinfo failed", "ConnectionError", "NewConnectionError", "NameResolutionError", "ProxyError",
    "Max retries exceeded", "ConnectTimeoutError", "Read timed out",
)  # fmt: skip
_NO_INDEX = ("No matching distribution", "Could not find a version")


class SetupFailed(Exception):
    """Raised when the virtual environment .venv could not be created; the message gives the reason and what to do."""


def old_python_message(found: "tuple" = tuple(sys.version_info[:3])) -> str:
    """Return a message with the required Python version if `found` is too old; "" if it is new enough."""
    if tuple(found[:2]) >= NEEDED_PYTHON:
        return ""
    return (
        "swinglab needs Python {}.{} or newer; this is Python {} ({}).\n"
        "Do: install a newer Python, then call it by its name, for example python3.11 -m swinglab study.".format(
            NEEDED_PYTHON[0], NEEDED_PYTHON[1], ".".join(str(part) for part in found), sys.executable
        )
    )


def enter(arguments: "list[str]", extra: str = "") -> "int | None":
    """Create the virtual environment .venv if needed, and run the swinglab command inside it.

    Returns None if the present process already runs in a suitable environment, otherwise the exit code of the command.
    On systems that allow it, the present process is replaced and the function does not return. Raises SetupFailed if
    .venv cannot be created. `arguments` : the words of the command after the program's name. `extra` : extra of
    pyproject.toml whose packages the command needs, "" for none.
    """
    folder = ROOT / ".venv"
    if not is_clone() or os.environ.get(SWITCH, "") not in ("", "0"):
        return None
    inside = folder.is_dir() and _is_same_folder(sys.prefix, folder)
    if not _is_current(folder, extra):
        has_stamp = _read_stamp(folder) is not None
        if can_use_ambient(MODULES[""] + MODULES.get(extra, ())) and not (inside and has_stamp):
            return None
        with _one_at_a_time(folder) as lock:
            if not _is_current(folder, extra):  # otherwise another command has just installed it
                _set_up(folder, extra, lock)
        inside = False  # modules already loaded may have been replaced: run the command in a new process
    return None if inside else _run_inside(folder, arguments)


def is_clone() -> bool:
    """Return whether swinglab runs from a clone of its repository, not from an installed copy."""
    return (ROOT / "pyproject.toml").is_file() and (ROOT / "swinglab" / "constraints.txt").is_file()


def environment_python(folder: Path) -> Path:
    """Return the path of a virtual environment's Python interpreter."""
    return folder / "Scripts" / "python.exe" if os.name == "nt" else folder / "bin" / "python"


def say(text: str) -> None:
    """Print a message on standard error."""
    print("swinglab: " + text, file=sys.stderr, flush=True)


# --- is it there, and does it match? -----------------------------------------------------------------------


def _is_same_folder(one: "str | Path", other: "str | Path") -> bool:
    return os.path.normcase(os.path.realpath(str(one))) == os.path.normcase(os.path.realpath(str(other)))


def can_use_ambient(modules: "tuple") -> bool:
    """Return whether the running Python has these modules in the versions pinned in constraints.txt.

    Other versions may give different numbers. The running Python is used without this check if the environment variable
    SWINGLAB_NO_VENV is 1.
    """
    if not all(importlib.util.find_spec(name) is not None for name in modules):
        return False
    from importlib import metadata

    pins = pinned_versions()
    for module in modules:
        name = DISTRIBUTIONS.get(module, module).replace("_", "-")
        try:
            if metadata.version(name) not in pins.get(name, ()):
                return False
        except metadata.PackageNotFoundError:
            return False
    return True


def pinned_versions() -> "dict":
    """Return a dict from each package in constraints.txt to its pinned version."""
    pins = {}  # type: dict
    for line in (ROOT / "swinglab" / "constraints.txt").read_text(encoding="utf-8").splitlines():
        pin = line.split("#")[0].split(";")[0].strip()
        if "==" in pin:
            name, version = pin.split("==")
            pins.setdefault(name.strip().lower().replace("_", "-"), []).append(version.strip())
    return pins


def stamp_path(folder: Path) -> Path:
    """Return the path of the file in a virtual environment that records what was installed there."""
    return folder / "swinglab-installed.json"


def _wanted_hash() -> str:
    digest = hashlib.sha256()
    for name in ("pyproject.toml", "swinglab/constraints.txt"):
        digest.update((ROOT / name).read_bytes())
    return digest.hexdigest()


def _read_stamp(folder: Path) -> "dict | None":
    try:
        return json.loads(stamp_path(folder).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None


def _is_current(folder: Path, extra: str) -> bool:
    """Return whether the environment was installed completely, for the present pyproject.toml and constraints.txt."""
    stamp = _read_stamp(folder)
    return (
        stamp is not None
        and environment_python(folder).exists()
        and stamp.get("hash") == _wanted_hash()
        and stamp.get("root") == str(ROOT)
        and (not extra or extra in stamp.get("extras", []))
    )


# --- making it ---------------------------------------------------------------------------------------------


@contextlib.contextmanager
def _one_at_a_time(folder: Path) -> "Iterator[IO[str]]":
    """Hold a lock on the set-up for this process and its installer; the system releases it when both have ended."""
    try:
        lock = (folder.parent / ".venv.lock").open("a")
    except OSError as error:
        raise SetupFailed(
            "the environment cannot be created in {}: {}\nDo: move the clone to a folder in which you can write, then "
            "run the same command again.".format(folder.parent, error.strerror)
        ) from None
    with lock:
        if not locked(lock):
            say("another command is setting up this clone: waiting until that command has finished")
            while not locked(lock):
                time.sleep(0.5)
        yield lock


def locked(file: "IO[str]") -> bool:
    """Try to lock a file without waiting; return False only if another process has locked it.

    If the file system does not support locks, the result is True.
    """
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        # These errors: another process holds the lock. Any other error: the file system has no locks, so do not wait.
        return error.errno not in (errno.EAGAIN, errno.EWOULDBLOCK, errno.EACCES, errno.EDEADLK)
    return True


def _set_up(folder: Path, extra: str, lock: "IO[str] | None" = None) -> None:
    _check_is_ours(folder)
    stamp = _read_stamp(folder) or {}
    extras = sorted(set(stamp.get("extras", [])) | ({extra} if extra else set()))
    if not is_working(folder):
        make_environment(folder, lock)
    # The stamp is removed first: if the installation is interrupted, the next command repeats it.
    if stamp_path(folder).exists():
        stamp_path(folder).unlink()
    install(folder, extras, lock)
    stamp = {"hash": _wanted_hash(), "root": str(ROOT), "extras": extras}
    stamp_path(folder).write_text(json.dumps(stamp), encoding="utf-8")


def _check_is_ours(folder: Path) -> None:
    """Raise SetupFailed if .venv is a link or a file, or was not created by swinglab; it is then not changed."""
    if folder.is_symlink():
        what = "is a symbolic link, which swinglab does not follow"
    elif folder.is_dir() and any(folder.iterdir()) and not _is_ours(folder):
        what = "was not created by swinglab, so swinglab does not change it"
    elif folder.exists() and not folder.is_dir():
        what = "is a file, not a folder"
    else:
        return
    raise SetupFailed(
        "{} {}.\nDo: rename or remove this file or folder, then run the same command again; or install the packages of "
        "pyproject.toml there yourself and set {}=1.".format(folder, what, SWITCH)
    )


def _is_ours(folder: Path) -> bool:
    return (folder / MARK).is_file() or stamp_path(folder).is_file()


def _inherited(lock: "IO[str] | None") -> "dict":
    """Return options for a child process that inherits the lock, because it may outlive this process."""
    return {} if lock is None or os.name == "nt" else {"pass_fds": (lock.fileno(),)}


def is_working(folder: Path) -> bool:
    """Return whether the virtual environment in a folder has pip and a Python that is new enough."""
    python = environment_python(folder)
    if not python.exists():
        return False
    question = "import sys, pip; sys.exit(sys.version_info[:2] < {!r})".format(NEEDED_PYTHON)
    answer = subprocess.run(
        [str(python), "-c", question], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False
    )
    return answer.returncode == 0


def make_environment(folder: Path, lock: "IO[str] | None" = None) -> None:
    """Create an empty virtual environment in a folder; raises SetupFailed if this is not possible.

    `lock` : a file that this process has locked; the child process inherits the lock.
    """
    existed = folder.exists()
    if importlib.util.find_spec("ensurepip") is None:
        raise SetupFailed(
            "this Python ({}) cannot create virtual environments: its module ensurepip is missing.\n"
            "Do: apt install python3-venv (Debian, Ubuntu), then run the same command again.".format(
                sys.executable
            )
        )
    say(("making a new environment in " if existed else "first use: making an environment in ") + str(folder))
    if existed:
        _empty(folder)
    folder.mkdir(exist_ok=True)
    (folder / MARK).write_text(
        "This environment was made by swinglab and may be deleted.\n", encoding="utf-8"
    )
    made = subprocess.run(
        [sys.executable, "-m", "venv", str(folder)],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False, **_inherited(lock),
    )  # fmt: skip
    if made.returncode == 0:
        return
    if not existed:
        shutil.rmtree(str(folder), ignore_errors=True)
    words = made.stdout.decode("utf-8", "replace").strip()
    advice = (
        "apt install python3-venv (Debian, Ubuntu), then run the same command again"
        if "ensurepip" in words
        else "follow the message of Python above; or set {}=1 to use your own Python and its packages".format(
            SWITCH
        )
    )
    raise SetupFailed("the environment {} could not be created:\n{}\nDo: {}.".format(folder, words, advice))


def _empty(folder: Path) -> None:
    """Empty a virtual environment; the file MARK is deleted last, so an interruption leaves it recognisable."""
    for path in sorted(folder.iterdir(), key=lambda one: one.name == MARK):
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(str(path))
        else:
            path.unlink()


def install(folder: Path, extras: "list[str]", lock: "IO[str] | None" = None) -> None:
    """Install the project, with these extras of pyproject.toml, into a virtual environment.

    Raises SetupFailed, with the reason, if pip fails. `lock` : as in `make_environment`.
    """
    project = str(ROOT) + ("[" + ",".join(extras) + "]" if extras else "")
    command = [
        str(environment_python(folder)), "-m", "pip", "install", "--disable-pip-version-check", "--no-input",
        "--progress-bar", "off", "-c", str(ROOT / "swinglab" / "constraints.txt"), "-e", project,
    ]  # fmt: skip
    say("installing the required packages (about a minute and 1 GB of disk) with the command")
    say("    " + " ".join('"' + part + '"' if " " in part else part for part in command))
    lines = []
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, **_inherited(lock)
    ) as running:
        for raw in running.stdout or ():
            line = raw.decode("utf-8", "replace").rstrip()
            lines.append(line)
            _show_progress(line)
        code = running.wait()
    if sys.stderr.isatty():
        sys.stderr.write("\r" + " " * 78 + "\r")
    if code != 0:
        raise SetupFailed(explain_failure(lines, folder))
    say("installed")


def _show_progress(line: str) -> None:
    words = line.split()
    if not words or words[0] not in ("Collecting", "Installing", "Building", "Downloading"):
        return
    if sys.stderr.isatty():
        sys.stderr.write("\r" + line[:78].ljust(78))
        sys.stderr.flush()
    elif words[0] == "Installing":
        say("    " + line[:78])


def explain_failure(lines: "list[str]", folder: Path) -> str:
    """Return a message that explains why pip failed: no network, packages not found on the index, or another reason.

    Parameters
    ----------
    lines : list of str
        The output of pip.
    folder : Path
        The virtual environment.
    """
    offline = [line for line in lines if any(sign in line for sign in _NO_NETWORK)]
    if offline:
        return (
            "there is no network connection to a package index:\n    {}\nDo: connect to the network, or check the "
            "proxy in pip's own settings (pip config list), then run the same command again; the environment {} "
            "itself is in order.".format(offline[-1].strip()[:300], folder)
        )
    faults = [line for line in lines if "ERROR" in line or "error:" in line] or lines
    shown = "\n".join("    " + line for line in faults[-6:])
    if any(sign in line for line in lines for sign in _NO_INDEX):
        return (
            "pip found no package index, or one without these packages:\n{}\nDo: check the network and pip's own "
            "settings (pip config list), then run the same command again; the environment {} itself is in "
            "order.".format(shown, folder)
        )
    return (
        "pip could not install the project into {}:\n{}\nDo: correct the fault that pip reports, then run the same "
        "command again.".format(folder, shown)
    )


def _run_inside(folder: Path, arguments: "list[str]") -> int:
    command = [str(environment_python(folder)), "-m", "swinglab"] + list(arguments)
    if os.name == "nt":  # on Windows, execv would return to the prompt before the command ends
        return subprocess.run(command, check=False).returncode
    sys.stdout.flush()
    sys.stderr.flush()
    os.execv(command[0], command)
    return 0
