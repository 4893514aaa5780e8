"""A seal (HMAC) on stored results, which shows whether this user account wrote them and they are unchanged.

Results without a valid seal, for example in a study from another computer, are not used. The key is in the user's own
data folder, outside every study, so it is never copied with a study. If this folder cannot be written, each process has
a key of its own: results stored by earlier processes are then not used, and the swings are measured again.
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
    """Return the seal of these bytes: their HMAC-SHA256 with the secret key of this user account."""
    return hmac.digest(_key(), data, "sha256")


def is_sealed(data: bytes, found: bytes) -> bool:
    """Return whether `found` is a valid seal of these bytes by this user account."""
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
