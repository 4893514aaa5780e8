"""How a fresh clone sets itself up. A full install from an index is tried by hand and in continuous integration."""

from __future__ import annotations

import errno
import json
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from swinglab import environment


@pytest.fixture
def clone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The least that counts as a clone, in a folder with a space and an umlaut."""
    root = tmp_path / "mein schöner clone"
    (root / "swinglab").mkdir(parents=True)
    (root / "pyproject.toml").write_text(
        '[build-system]\nrequires = ["hatchling"]\nbuild-backend = "hatchling.build"\n'
        '[project]\nname = "swinglab"\nversion = "0"\n',
        encoding="utf-8",
    )
    (root / "swinglab" / "constraints.txt").write_text("numpy==2.4.6\n", encoding="utf-8")
    monkeypatch.setattr(environment, "ROOT", root)
    monkeypatch.delenv(environment.SWITCH, raising=False)
    return root


@pytest.fixture
def steps(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What `enter` does, without doing it: installs are recorded and leave the stamp they should."""
    done: list[str] = []

    def install(folder: Path, extras: list[str], lock: object = None) -> None:
        done.append(f"install {','.join(extras)}".strip())

    def make(folder: Path, lock: object = None) -> None:
        done.append("make_environment")
        environment.environment_python(folder).parent.mkdir(parents=True, exist_ok=True)
        environment.environment_python(folder).touch()
        (folder / environment.MARK).touch()

    def run_inside(folder: Path, arguments: list[str]) -> int:
        done.append("run " + " ".join(arguments))
        return 7

    monkeypatch.setattr(environment, "install", install)
    monkeypatch.setattr(environment, "make_environment", make)
    monkeypatch.setattr(
        environment, "is_working", lambda folder: environment.environment_python(folder).exists()
    )
    monkeypatch.setattr(environment, "_run_inside", run_inside)
    monkeypatch.setattr(environment, "can_use_ambient", lambda modules: False)
    return done


def test_the_first_use_makes_installs_and_goes_on_inside(clone: Path, steps: list[str]) -> None:
    """Truth: made. The second use only goes on inside."""
    assert environment.enter(["check", "a folder"]) == 7
    assert environment.enter(["check"]) == 7
    assert steps == ["make_environment", "install", "run check a folder", "run check"]


@pytest.mark.parametrize("name", ["pyproject.toml", "swinglab/constraints.txt"])
def test_a_changed_project_is_installed_again(clone: Path, steps: list[str], name: str) -> None:
    """Truth: made. The environment is kept, the extras too."""
    environment.enter(["test"], extra="test")
    with (clone / name).open("a", encoding="utf-8") as file:
        file.write("# changed\n")
    environment.enter(["study"])
    assert steps == ["make_environment", "install test", "run test", "install test", "run study"]


def test_an_extra_is_added_to_what_is_there(clone: Path, steps: list[str]) -> None:
    """Truth: made. `study` never installs the test extra; asking for a cluster adds that one."""
    environment.enter(["study"])
    environment.enter(["study", "--scheduler", "tcp://x"], extra="cluster")
    environment.enter(["test"], extra="test")
    environment.enter(["study", "--scheduler", "tcp://x"], extra="cluster")
    installs = [step for step in steps if step.startswith("install")]
    assert installs == ["install", "install cluster", "install cluster,test"]


def test_an_install_cut_short_is_done_again(
    clone: Path, steps: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. The stamp is written last, and taken away before a new install begins."""
    environment.enter(["study"])
    record = environment.install
    (clone / "pyproject.toml").write_text("# changed", encoding="utf-8")

    def killed(folder: Path, extras: list[str], lock: object = None) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(environment, "install", killed)
    with pytest.raises(KeyboardInterrupt):
        environment.enter(["study"])
    (clone / "pyproject.toml").write_text("", encoding="utf-8")
    assert not environment.stamp_path(clone / ".venv").exists()
    monkeypatch.setattr(environment, "install", record)
    environment.enter(["study"])
    assert steps == ["make_environment", "install", "run study", "install", "run study"]


def test_a_clone_that_was_moved_is_installed_again(clone: Path, steps: list[str]) -> None:
    """Truth: made. An editable install points to the old place."""
    environment.enter(["study"])
    stamp = environment.stamp_path(clone / ".venv")
    stamp.write_text(json.dumps(json.loads(stamp.read_text()) | {"root": "/elsewhere"}), encoding="utf-8")
    environment.enter(["study"])
    assert steps.count("install") == 2


@pytest.mark.parametrize("why", ["switched off", "not a clone", "everything imports"])
def test_nothing_is_made_where_it_is_not_wanted(
    clone: Path, steps: list[str], monkeypatch: pytest.MonkeyPatch, why: str
) -> None:
    """Truth: made. The switch, an installed copy, and an environment that has all it needs."""
    if why == "switched off":
        monkeypatch.setenv(environment.SWITCH, "1")
    elif why == "not a clone":
        (clone / "pyproject.toml").unlink()
    else:
        monkeypatch.setattr(environment, "can_use_ambient", lambda modules: True)
    assert environment.enter(["study"]) is None
    assert steps == []
    assert not (clone / ".venv").exists()


def test_inside_the_environment_the_process_goes_on(
    clone: Path, steps: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made."""
    environment.enter(["study"])
    monkeypatch.setattr(sys, "prefix", str(clone / ".venv"))
    assert environment.enter(["study"]) is None


def test_an_old_python_is_told_what_is_needed() -> None:
    """Truth: made. Both versions stand in the message; a new enough one gets none."""
    words = environment.old_python_message((3, 8, 18))
    assert words.startswith("swinglab needs Python 3.11 or newer; this is Python 3.8.18 (")
    assert environment.old_python_message((3, 11, 0)) == environment.old_python_message((4, 0, 0)) == ""


def test_without_ensurepip_the_package_to_install_is_named(
    clone: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. As on Debian without python3-venv; no half-made folder is left."""
    monkeypatch.setattr(environment.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(environment.SetupFailed, match="apt install python3-venv"):
        environment.enter(["study"])
    assert not (clone / ".venv").exists()


def test_a_half_made_environment_is_removed(clone: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: made. A Python whose venv fails after it has begun."""
    run = subprocess.run

    def failing(command: list[str], **kwargs: object) -> subprocess.CompletedProcess:
        if command[1:3] == ["-m", "venv"]:
            (clone / ".venv" / "bin").mkdir(parents=True)
            assert (clone / ".venv" / environment.MARK).is_file()
            return subprocess.CompletedProcess(command, 1, stdout=b"Error: ensurepip is not available")
        return run(command, **kwargs)

    monkeypatch.setattr(environment.subprocess, "run", failing)
    monkeypatch.setattr(environment, "can_use_ambient", lambda modules: False)
    with pytest.raises(
        environment.SetupFailed, match=r"ensurepip is not available\nDo: apt install python3-venv"
    ):
        environment.enter(["study"])
    assert not (clone / ".venv").exists()


def test_a_real_environment_is_made_and_a_broken_one_made_anew(clone: Path) -> None:
    """Truth: other (Python's venv)."""
    folder = clone / ".venv"
    assert not environment.is_working(folder)
    (folder / "bin").mkdir(parents=True)
    (folder / environment.MARK).touch()
    environment.make_environment(folder)
    assert environment.is_working(folder)


def test_no_package_index_is_said_to_be_that(
    clone: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """Truth: other (pip itself, kept from any index). The command stands in the output; venv is not blamed."""
    for name in ("PIP_FIND_LINKS", "PIP_EXTRA_INDEX_URL"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_CONFIG_FILE", "/dev/null")
    monkeypatch.setattr(environment, "environment_python", lambda folder: Path(sys.executable))
    with pytest.raises(environment.SetupFailed) as failure:
        environment.install(clone / ".venv", ["test"])
    assert str(failure.value).startswith("pip found no package index")
    assert "is in order" in str(failure.value)
    said = capfd.readouterr().err
    assert "-m pip install" in said
    assert f'-e "{clone}[test]"' in said


def test_two_first_commands_set_up_once(
    clone: Path, steps: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. The second waits for the first, says so, and installs nothing again."""
    said: list[str] = []
    begun, quick = threading.Event(), environment.install

    def install(folder: Path, extras: list[str], lock: object = None) -> None:
        begun.set()
        while not said:  # until the other waits
            time.sleep(0.01)
        quick(folder, extras)

    monkeypatch.setattr(environment, "install", install)
    monkeypatch.setattr(environment, "say", said.append)
    first = threading.Thread(target=environment.enter, args=(["study"],))
    first.start()
    assert begun.wait(timeout=30)
    assert environment.enter(["check"]) == 7
    first.join(timeout=30)
    assert said == ["another command is setting up this clone: waiting until that command has finished"]
    assert sorted(steps) == ["install", "make_environment", "run check", "run study"]


def test_where_nothing_can_be_locked_the_set_up_goes_on(
    clone: Path, steps: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. A file system without locks: no waiting for what never comes."""
    fcntl = pytest.importorskip("fcntl")

    def refuse(file: object, how: int) -> None:
        raise OSError(errno.ENOLCK, "no locks available")

    monkeypatch.setattr(fcntl, "flock", refuse)
    assert environment.enter(["study"]) == 7


def test_a_clone_that_cannot_be_written_is_told(clone: Path, steps: list[str]) -> None:
    """Truth: made. A folder stands where the lock should."""
    (clone / ".venv.lock").mkdir()
    with pytest.raises(
        environment.SetupFailed, match="Do: move the clone to a folder in which you can write"
    ):
        environment.enter(["study"])


def test_a_set_up_that_failed_lets_the_next_one_in(
    clone: Path, steps: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made."""
    quick = environment.install

    def broken(folder: Path, extras: list[str], lock: object = None) -> None:
        raise environment.SetupFailed("no network")

    monkeypatch.setattr(environment, "install", broken)
    with pytest.raises(environment.SetupFailed):
        environment.enter(["study"])
    monkeypatch.setattr(environment, "install", quick)
    assert environment.enter(["study"]) == 7


@pytest.mark.parametrize("kind", ["a folder", "a link", "a file"])
def test_an_environment_of_someone_else_is_never_changed(
    clone: Path, tmp_path: Path, kind: str, monkeypatch
) -> None:
    """Truth: made. A .venv without the kit's mark, a link to a folder elsewhere, and a file: refused, untouched."""
    monkeypatch.setattr(environment, "can_use_ambient", lambda modules: False)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "mine.txt").write_text("keep", encoding="utf-8")
    venv = clone / ".venv"
    if kind == "a link":
        venv.symlink_to(elsewhere, target_is_directory=True)
    elif kind == "a folder":
        elsewhere.rename(venv)
    else:
        venv.write_text("a file", encoding="utf-8")
    with pytest.raises(environment.SetupFailed, match=r"Do: rename or remove this file or folder"):
        environment.enter(["study"])
    kept = venv if kind == "a file" else venv / "mine.txt"
    assert kept.read_text(encoding="utf-8") in ("keep", "a file")


def test_packages_of_other_versions_are_not_used(clone: Path, monkeypatch) -> None:
    """Truth: made. numpy is pinned to another version than is installed here, then to this one."""
    import numpy

    pins = clone / "swinglab" / "constraints.txt"
    pins.write_text("numpy==0.0.1  # a comment\n", encoding="utf-8")
    assert not environment.can_use_ambient(("numpy",))
    pins.write_text(f"numpy=={numpy.__version__} ; python_version > '3'\n", encoding="utf-8")
    assert environment.can_use_ambient(("numpy",))
    assert not environment.can_use_ambient(("numpy", "no_such_module"))


def test_every_needed_module_is_pinned_by_the_name_of_its_package() -> None:
    """Truth: other (constraints.txt as it is)."""
    pins = environment.pinned_versions()
    for modules in environment.MODULES.values():
        for module in modules:
            assert environment.DISTRIBUTIONS.get(module, module).replace("_", "-") in pins


def test_without_a_network_the_message_names_the_network() -> None:
    """Truth: other (lines as pip prints them when the build requirement cannot be fetched)."""
    lines = [
        "  WARNING: Retrying after connection broken by 'NewConnectionError(\"Failed to establish a new connection: "
        "[Errno -3] Temporary failure in name resolution\")': /simple/hatchling/",
        "  ERROR: Could not find a version that satisfies the requirement hatchling>=1.25 (from versions: none)",
        "ERROR: Failed to build 'file:///clone' when installing build dependencies",
    ]
    words = environment.explain_failure(lines, Path(".venv"))
    assert words.startswith("there is no network connection")
    assert "satisfies the requirement hatchling" not in words


@pytest.mark.skipif(sys.platform == "win32", reason="Windows frees a lock with the process that took it")
def test_the_lock_is_held_until_the_installer_ends(clone: Path) -> None:
    """Truth: other (flock). The parent is killed; its installer still holds the lock, then lets go."""
    script = (
        "import subprocess, sys, os\n"
        "from pathlib import Path\n"
        "from swinglab import environment as e\n"
        f"with e._one_at_a_time(Path({str(clone / '.venv')!r})) as lock:\n"
        "    child = subprocess.Popen([sys.executable, '-c', 'import time; time.sleep(3)'], **e._inherited(lock))\n"
        "    print('ready', flush=True)\n"
        "    child.wait()\n"
    )
    with subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE) as parent:
        assert parent.stdout is not None and parent.stdout.readline() == b"ready\n"
        parent.kill()
    with (clone / ".venv.lock").open("a") as lock:
        assert not environment.locked(lock)
        deadline = time.monotonic() + 30
        while not environment.locked(lock):
            assert time.monotonic() < deadline
            time.sleep(0.1)
