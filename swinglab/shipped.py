"""Finds what is shipped beside the code: the demo study, the notebooks, the references."""

from __future__ import annotations

from pathlib import Path

from swinglab.errors import BadRequest

SHIPPED = ("data_demo", "notebooks", "references")


def shipped_folder(name: str) -> Path:
    """Folder of the demo study (``"data_demo"``), the notebooks or the references, in a clone or installed.

    Parameters
    ----------
    name : str
        One of ``SHIPPED``.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    BadRequest
        Where nothing of this name is shipped, or this copy of swinglab lacks it.

    Examples
    --------
    >>> shipped_folder("notebooks").name
    'notebooks'
    """
    if name not in SHIPPED:
        raise BadRequest(f"nothing called {name} is shipped with swinglab", do=f"one of {', '.join(SHIPPED)}")
    package = Path(__file__).resolve().parent
    for folder in (package.parent / name, package / "_shipped" / name):
        # An installed package lies beside many others: only a clone's folder stands beside pyproject.toml.
        if folder.is_dir() and (
            folder.parent.name == "_shipped" or (package.parent / "pyproject.toml").is_file()
        ):
            return folder
    raise BadRequest(f"this copy of swinglab lacks {name}", do="install swinglab again, or use a fresh clone")
