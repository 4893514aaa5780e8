"""Matching of swings to rows of another device's table, by clock time, or by order if the speeds agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

#: Limits of a match (judgements): largest difference of a swing's two clock times after the offset, s; least
#: correlation of the speeds; least amount by which this correlation exceeds that of the next best alignment.
_CLOCK_S, CORRELATION, _MARGIN = 3.0, 0.7, 0.15
#: Fewest pairs from which a match or a direction is taken.
FEWEST = 4


@dataclass(frozen=True, slots=True)
class Known:
    """Data of a swing, or of a row of another device's table, used to match them.

    name : the swing's name, or the row's number from 0. time_s : time on the clock of the captures or of the device,
    which may differ by an offset. speed : in any unit. Both are NaN if unknown.
    """

    name: str
    golfer: str
    time_s: float
    speed: float


def propose_rows(swings: Sequence[Known], rows: Sequence[Known]) -> tuple[dict[str, int], str]:
    """Match swings to rows of another device's table; return swing -> row number, and the way of matching in words.

    Swings and rows are matched by clock time if all of them have times. Otherwise they are matched by order if their
    speeds agree, and not matched if they do not. If the device records golfers, each golfer is matched separately.
    Ambiguous swings are left unmatched.
    """
    golfers = {row.golfer for row in rows} - {""}
    groups = [
        ([s for s in swings if s.golfer == g], [r for r in rows if r.golfer == g]) for g in sorted(golfers)
    ] or [(list(swings), list(rows))]
    found: dict[str, int] = {}
    ways = []
    for some, own in groups:
        by_clock = np.isfinite([k.time_s for k in (*some, *own)]).all() if some and own else False
        pairs = _by_clock(some, own) if by_clock else _by_order(some, own)
        if pairs:
            ways.append(
                "by clock time, with the offset between the clocks estimated"
                if by_clock
                else "by order, because the speeds agree"
            )
        found |= {some[i].name: int(own[j].name) for i, j in pairs}
    return found, " and ".join(dict.fromkeys(ways)) or "open: neither times nor speeds give a clear match"


def _by_clock(swings: Sequence[Known], rows: Sequence[Known]) -> list[tuple[int, int]]:
    """Return (swing, row) pairs for the clock offset with the most pairs; empty if another offset has as many."""
    a, b = np.array([s.time_s for s in swings]), np.array([r.time_s for r in rows])
    offsets = np.unique((b[None] - a[:, None]).ravel())
    scored = sorted(
        ((len(p := _nearest(a, b, offset)), -_spread(a, b, p, offset), offset) for offset in offsets),
        reverse=True,
    )
    best = scored[0]
    rivals = [one for one in scored if abs(one[2] - best[2]) > 2 * _CLOCK_S]
    if best[0] < min(FEWEST, len(a), len(b)) or (rivals and rivals[0][0] >= best[0]):
        return []
    pairs = _nearest(a, b, best[2])
    centre = float(np.median([b[j] - a[i] for i, j in pairs]))
    return _nearest(a, b, centre)


def _nearest(a: np.ndarray, b: np.ndarray, offset: float) -> list[tuple[int, int]]:
    """Return (i, j) for times a[i] + offset and b[j] that are nearest to each other and at most _CLOCK_S apart."""
    apart = np.abs(a[:, None] + offset - b[None])
    rows, swings = apart.argmin(axis=1), apart.argmin(axis=0)
    return [(i, int(j)) for i, j in enumerate(rows) if swings[j] == i and apart[i, j] <= _CLOCK_S]


def _spread(a: np.ndarray, b: np.ndarray, pairs: Sequence[tuple[int, int]], offset: float) -> float:
    return float(np.mean([abs(a[i] + offset - b[j]) for i, j in pairs])) if pairs else np.inf


def _by_order(swings: Sequence[Known], rows: Sequence[Known]) -> list[tuple[int, int]]:
    """Return (swing, row) pairs in order of play; empty if no alignment is clear.

    The numbers of swings and rows may differ by one. Of the alignments shifted by -1, 0 or 1, one must have a clearly
    higher correlation of speeds than the others.
    """
    n, m = len(swings), len(rows)
    if min(n, m) < FEWEST or abs(n - m) > 1:
        return []
    own = {}
    for shift in (-1, 0, 1):
        pairs = [(i, i + shift) for i in range(n) if 0 <= i + shift < m]
        a, b = np.array([[swings[i].speed, rows[j].speed] for i, j in pairs]).T
        whole = np.isfinite(a) & np.isfinite(b)
        if whole.sum() < FEWEST or a[whole].std() == 0 or b[whole].std() == 0:
            return []
        own[shift] = (float(np.corrcoef(a[whole], b[whole])[0, 1]), pairs)
    best, second = sorted(own.values(), key=lambda one: one[0], reverse=True)[:2]
    clear = best[0] >= CORRELATION and best[0] - second[0] >= _MARGIN
    return best[1] if clear and len(best[1]) >= min(n, m) else []
