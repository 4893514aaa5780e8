"""Path of the folders that are shipped with the code: the demo study, the notebooks, the references."""

from __future__ import annotations

from pathlib import Path

from swinglab.errors import BadRequest

SHIPPED = ("data_demo", "notebooks", "references")


def shipped_folder(name: str) -> Path:
    """Return the folder of the demo study (``"data_demo"``), the notebooks or the references.

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
        The name is not in ``SHIPPED``, or this copy of swinglab lacks the folder.

    Examples
    --------
    >>> shipped_folder("notebooks").name
    'notebooks'
    """
    if name not in SHIPPED:
        raise BadRequest(f"swinglab has no shipped folder {name}", do=f"use one of {', '.join(SHIPPED)}")
    package = Path(__file__).resolve().parent
    for folder in (package.parent / name, package / "_shipped" / name):
        # Next to an installed package, a folder of this name may belong to another package; a clone has pyproject.toml.
        if folder.is_dir() and (
            folder.parent.name == "_shipped" or (package.parent / "pyproject.toml").is_file()
        ):
            return folder
    raise BadRequest(
        f"this copy of swinglab lacks the folder {name}", do="install swinglab again, or use a fresh clone"
    )
