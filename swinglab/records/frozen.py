"""Common functions of measured records: read-only arrays and mappings, checks of shapes, pickling."""

from __future__ import annotations

from dataclasses import fields
from functools import partial
from types import MappingProxyType
from typing import Any

import numpy as np

from swinglab.errors import BadRequest


def freeze(record: Any) -> None:
    """Make every array of a record read-only and every mapping immutable."""
    for item in fields(record):
        value = getattr(record, item.name)
        if isinstance(value, np.ndarray):
            value = value.view()
            value.setflags(write=False)
            object.__setattr__(record, item.name, value)
        elif isinstance(value, dict):
            object.__setattr__(record, item.name, MappingProxyType(dict(value)))


def check_shape(record: Any, name: str, shape: tuple[int, ...]) -> None:
    """Raise BadRequest if an array of a record does not have this shape."""
    found = getattr(record, name).shape
    if found != shape:
        raise BadRequest(f"{type(record).__name__}.{name} has shape {found}, {shape} is needed")


class Pickled:
    """Base of records that are sent to other processes; read-only mappings cannot be pickled without it."""

    __slots__ = ()

    def __reduce__(self) -> tuple:
        state = {item.name: getattr(self, item.name) for item in fields(self)}  # type: ignore[arg-type]
        plain = {k: dict(v) if isinstance(v, MappingProxyType) else v for k, v in state.items()}
        return partial(type(self), **plain), ()
