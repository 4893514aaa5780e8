"""Cache of measured swings on disk: one file for each swing, identified by a hash of all its inputs."""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from swinglab.study.gate import Doubt, Lengths
from swinglab.study.run_record import measured_with
from swinglab.study.seal import SIZE, is_sealed, seal
from swinglab.study.swing import Job, Measured, hash_inputs

#: Folder of the cache inside a study folder; it may be deleted at any time.
SWINGS_FOLDER = Path(".swinglab") / "swings"
#: Largest number of files in the cache: the larger of MOST_FILES and MOST_TIMES times the study's number of swings.
MOST_FILES, MOST_TIMES = 2_000, 10
_OWN = re.compile("[0-9a-f]{64}")
_TABLES = ("posture", "events")
_RECORDS = ("strike", "quantities", "quality")


class SwingCache:
    """Cache on disk of a study's measured swings.

    A stored swing is used only if nothing that it depends on has changed: the content of the capture and of the
    golfer's neutral and static captures, all settings of the swing, events set by hand, the measuring code of this
    package, and the versions of other packages. A file is ignored if it is damaged, or if it was not written by this
    user account (because it came with a study from elsewhere).

    Parameters
    ----------
    folder : Path
        Folder of the files, created with the first one. If it cannot be written, nothing is stored.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def read(self, job: Job) -> Measured | None:
        """Return the stored result of measuring a swing; None if there is none, or its file is not valid."""
        try:
            inputs = hash_inputs(job)
        except (OSError, ValueError):
            return None
        path = self._path(job, inputs)
        try:
            whole = path.read_bytes()
        except OSError:
            return None
        content = whole[:-SIZE]
        if not is_sealed(content, whole[-SIZE:]):
            return None
        with np.load(io.BytesIO(content), allow_pickle=False) as kept:
            words = json.loads(str(kept["words"]))
            posture, events = (_table(words[name], kept, name) for name in _TABLES)
        left_out = tuple(tuple(row) for row in words["left_out"])
        return Measured(
            words["swing"], posture, events, words["strike"], words["quantities"], words["quality"], left_out,
            inputs, measured_with(), tuple(Doubt(*one) for one in words["doubts"]),
            Lengths({name: tuple(one) for name, one in words["lengths"].items()}),
        )  # fmt: skip

    def write(self, job: Job, measured: Measured) -> None:
        """Store the result of measuring a swing; if the disk is full or cannot be written, nothing is stored.

        A swing that was left out is not stored.
        """
        if measured.posture is None or measured.events is None:
            return
        words: dict[str, Any] = {"swing": measured.swing, "left_out": measured.left_out}
        words |= {"doubts": measured.doubts, "lengths": measured.lengths}
        words |= {name: getattr(measured, name) for name in _RECORDS}
        arrays: dict[str, np.ndarray] = {}
        for name in _TABLES:
            words[name] = _taken_apart(getattr(measured, name), arrays, name)
        path = self._path(job, measured.inputs)
        beside = path.with_name(f".{path.name}.{os.getpid()}")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            content = io.BytesIO()
            np.savez_compressed(content, words=np.array(json.dumps(words, default=_plain)), **arrays)  # type: ignore[arg-type]
            beside.write_bytes(content.getvalue() + seal(content.getvalue()))
            beside.replace(path)
        except OSError:
            with suppress(OSError):
                beside.unlink()

    def prune(self, swings: int) -> None:
        """Remove the oldest files if there are many more than a study of `swings` swings needs."""
        # The folder may be a link to one that holds other files.
        files = [path for path in self.folder.glob("*/*.npz") if _OWN.fullmatch(path.parent.name + path.stem)]
        most = max(MOST_FILES, MOST_TIMES * swings)
        if len(files) <= most:
            return
        files.sort(key=lambda path: path.stat().st_mtime_ns)
        for path in files[: len(files) - most]:
            path.unlink(missing_ok=True)

    def _path(self, job: Job, inputs: Mapping[str, str]) -> Path:
        parts = [*sorted(inputs.items()), *measured_with().items(), *job._replace(path=Path(job.path.name))]
        key = hashlib.sha256("\0".join(map(repr, parts)).encode("utf-8", "surrogatepass")).hexdigest()
        return self.folder / key[:2] / f"{key[2:]}.npz"


def _taken_apart(table: pd.DataFrame, arrays: dict[str, np.ndarray], name: str) -> list[list[Any]]:
    """Return the columns of a table as [name, words], and add their values to `arrays`.

    For a column of numbers, words is None and the values are the numbers. For text, words are the different texts and
    the values are their indices.
    """
    columns: list[list[Any]] = []
    for place, column in enumerate(table.columns):
        values = table[column]
        if pd.api.types.is_numeric_dtype(values):
            arrays[f"{name}_{place}"] = values.to_numpy()
            columns.append([column, None])
        else:
            codes, words = pd.factorize(values, use_na_sentinel=False)
            arrays[f"{name}_{place}"] = codes.astype(np.int32)
            columns.append([column, [str(word) for word in words]])
    return columns


def _table(columns: list[list[Any]], kept: Any, name: str) -> pd.DataFrame:
    made: dict[str, Any] = {}
    for place, (column, words) in enumerate(columns):
        values = kept[f"{name}_{place}"]
        made[column] = values if words is None else pd.Series(pd.array(words, dtype="str").take(values))
    return pd.DataFrame(made)


def _plain(value: Any) -> Any:
    """Return a numpy number as a Python number, which JSON stores at full precision."""
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"a value of type {type(value).__name__} cannot be stored in the cache")
