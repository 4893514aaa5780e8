"""Write references/api.md, every public name with its signature and docstring: run it after a change to one.

    python references/make_api.py

A test holds that the file is what this writes.
"""

from __future__ import annotations

import dataclasses
import inspect
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from types import ModuleType

import swinglab

FILE = Path(__file__).resolve().parent / "api.md"
INTRODUCTION = """\
# Public names

Written by `references/make_api.py` from the docstrings; edit those, not this file. `import swinglab as sl` reaches
every room as `sl.ROOM` and the names of the first section directly. Units: metres, seconds, hertz and degrees, unless
a name ends with another. Fields that many records share: `swing`, `golfer` (its code), `rate_hz` (frames a second),
`n_golfers`, `n_swings`, `n_rows` (used), `dropped` (rows left out because a value is missing), `warnings` (in words).
Frames and signs are in [conventions.md](conventions.md), the files of a study and its
results in [study_folder.md](study_folder.md).
"""


def signature(name: str, thing: object) -> str:
    """`name(parameters)`, a long one with each parameter on a line of its own; a constant's name alone."""
    if not callable(thing):
        return name
    try:
        found = inspect.signature(thing)
    except ValueError:
        return name
    short = plain(f"{name}{found}")
    if len(short) <= 110:
        return short
    lines, marked = [], False
    for parameter in found.parameters.values():
        if parameter.kind is parameter.KEYWORD_ONLY and not marked:
            lines.append("    *,")
            marked = True
        lines.append(plain(f"    {parameter},"))
    gives = found.return_annotation
    arrow = "" if gives is found.empty else f" -> {gives!r}"
    return "\n".join([f"{name}(", *lines, plain(f"){arrow}")])


def plain(words: str) -> str:
    """Annotations without quotation marks, names without the package, functions without their place in memory."""
    words = re.sub(r"<function (\w+) at 0x[0-9a-f]+>", r"\1", words)
    return re.sub(r"(: |-> )'([^']*)'", r"\1\2", words).replace("swinglab.", "")


def docstring(thing: object) -> str:
    """The docstring without its indentation; that of a plain value's type is not its own."""
    own = getattr(thing, "__doc__", None) if callable(thing) else None
    return inspect.cleandoc(own or "")


def entry(name: str, thing: object) -> Iterator[str]:
    """Heading, signature and docstring of a name."""
    yield f"### {name}"
    yield ""
    if dataclasses.is_dataclass(thing):
        fields = ", ".join(field.name for field in dataclasses.fields(thing))
        yield f"Record with the fields {fields}."
        yield ""
    else:
        yield "```python"
        yield signature(name, thing)
        yield "```"
        yield ""
    text = docstring(thing)
    if text:
        yield "```text"
        yield text
        yield "```"
        yield ""


def text() -> str:
    """The whole page."""
    lines = [INTRODUCTION, "## swinglab", ""]
    rooms = sorted(name for name in swinglab.__all__ if isinstance(getattr(swinglab, name), ModuleType))
    direct = sorted(name for name in swinglab.__all__ if name not in rooms and name != "__version__")
    homes = {name: getattr(swinglab, name).__module__.split(".")[1] for name in direct}
    lines += [f"- `sl.{name}`: see [{homes[name]}](#{homes[name]})" for name in direct]
    for room in rooms:
        module = import_module(f"swinglab.{room}")
        lines += [
            "",
            f"## {room}",
            "",
            (inspect.getdoc(module) or "").split("\n\n")[0].replace("\n", " "),
            "",
        ]
        for name in sorted(public_names(module)):
            lines += entry(name, getattr(module, name))
    return "\n".join(lines).rstrip() + "\n"


def public_names(module: ModuleType) -> list[str]:
    """The shelf of a room; of a single module the functions and classes that it defines itself."""
    if hasattr(module, "__all__"):
        return list(module.__all__)
    return [
        name
        for name, thing in vars(module).items()
        if not name.startswith("_")
        and (inspect.isfunction(thing) or inspect.isclass(thing))
        and thing.__module__ == module.__name__
    ]


if __name__ == "__main__":
    FILE.write_text(text(), encoding="utf-8")
