"""A seal on what is kept between runs: what came with a study from elsewhere is measured again, never believed.

The key lies in the user's own data folder, outside every study, so it does not travel with one. Without such a folder
nothing that an earlier process kept is believed.
"""

from __future__ import annotations

import hmac
import os
import secrets
from functools import cache

from platformdirs import user_data_path

#: Bytes of the key and of a seal (HMAC-SHA256, RFC 2104).
SIZE = 32


def seal(data: bytes) -> bytes:
    """The seal of these bytes."""
    return hmac.digest(_key(), data, "sha256")


def is_sealed(data: bytes, found: bytes) -> bool:
    """Whether this account sealed exactly these bytes."""
    return hmac.compare_digest(seal(data), found)


@cache
def _key() -> bytes:
    path = user_data_path("swinglab", appauthor=False) / "seal"
    try:
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            beside = path.with_name(f"seal.{os.getpid()}")
            beside.touch(mode=0o600)
            beside.write_bytes(secrets.token_bytes(SIZE))
            beside.replace(path)
        key = path.read_bytes()
    except OSError:
        key = b""
    return key if len(key) == SIZE else secrets.token_bytes(SIZE)
