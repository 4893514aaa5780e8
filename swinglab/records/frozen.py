"""Common functions of measured records: read-only arrays and mappings, checks of array shapes, pickling."""

from __future__ import annotations

from dataclasses import fields
from functools import partial
from types import MappingProxyType
from typing import Any

import numpy as np

from swinglab.errors import BadRequest


def freeze(record: Any) -> None:
    """Make every array of a record read-only and every dict of it immutable; the caller's objects do not change."""
    for item in fields(record):
        value = getattr(record, item.name)
        if isinstance(value, np.ndarray):
            value = value.view()
            value.setflags(write=False)
            object.__setattr__(record, item.name, value)
        elif isinstance(value, dict):
            object.__setattr__(record, item.name, MappingProxyType(dict(value)))


def check_shape(record: Any, name: str, shape: tuple[int, ...]) -> None:
    """Raise BadRequest if the array in the field `name` of a record does not have the given shape."""
    found = getattr(record, name).shape
    if found != shape:
        raise BadRequest(
            f"the array {name} of a {type(record).__name__} must have the shape {shape}, not {found}"
        )


class Pickled:
    """Base class of records that can be pickled and sent to other processes, although their mappings are read-only."""

    __slots__ = ()

    def __reduce__(self) -> tuple:
        state = {item.name: getattr(self, item.name) for item in fields(self)}  # type: ignore[arg-type]
        plain = {k: dict(v) if isinstance(v, MappingProxyType) else v for k, v in state.items()}
        return partial(type(self), **plain), ()
