"""Plausibility of the club's points (collinear, in order, head fastest) and of the ball (at rest before impact)."""

from __future__ import annotations

import numpy as np

from swinglab.begin.anatomy import Contradiction, Points, middle, typical
from swinglab.begin.decisions import Open
from swinglab.begin.words import Proposal

#: Largest distance of shaft points from a straight line, as a part of the line's length (a judgement).
_OFF_LINE = 0.1
#: Largest movement, in metres, of a ball at rest.
_REST_M = 0.02


def order_shaft(
    chosen: dict[str, Proposal], proposals: list[Proposal], paths: dict[str, np.ndarray]
) -> tuple[dict[str, Proposal], list[Open]]:
    """Number the points on the shaft from grip to head, as landmarks club_shaft_1, club_shaft_2, ...

    Their order is that of their distances from the clubhead or, if no clubhead is decided, from the hands. If neither
    is decided, the points are not numbered, and the list returned has an entry for a person to decide.

    Parameters
    ----------
    chosen : dict
        Landmark -> proposal, for the other landmarks, as far as they have been decided.
    proposals : list of Proposal
        Those with the landmark "club_shaft" are the points on the shaft.
    paths : dict
        Label -> positions (n, 3).

    Returns
    -------
    tuple of dict, list of Open
        `chosen` with the numbered points added; and what is undecided.
    """
    some = [p for p in proposals if p.landmark == "club_shaft"]
    if not some:
        return chosen, []
    points = {name: paths[p.label] for name, p in chosen.items()}
    hands = middle(points, *(f"{stem}_{side}" for stem in ("wrist_radial", "wrist_ulnar", "wrist", "hand")
                             for side in ("left", "right")))  # fmt: skip
    head = points.get("clubhead")
    if hands is None and head is None:
        names = tuple(p.label for p in some)
        return chosen, [
            Open(
                "club_shaft_1",
                names,
                "neither the hands nor the clubhead are known, so the order of the points along the shaft is unknown",
            )
        ]

    def from_grip(proposal: Proposal) -> float:
        path = paths[proposal.label]
        if head is not None:
            return -typical(np.linalg.norm(path - head, axis=1))
        return typical(np.linalg.norm(path - hands, axis=1))

    ordered = sorted(some, key=from_grip)
    named = {
        f"club_shaft_{k}": Proposal(f"club_shaft_{k}", p.label, 0) for k, p in enumerate(ordered, start=1)
    }
    return {**chosen, **named}, []


def check_club(points: Points, up: np.ndarray | None) -> list[Contradiction]:
    """Return all contradictions between names and positions of the club's points and the ball.

    points : landmark -> positions (n, 3). up : unit vector up, None if unknown.
    """
    found = []
    shaft = sorted(name for name in points if name.startswith("club_shaft_"))
    line = [name for name in ("club_butt", *shaft, "club_hosel") if name in points]
    if len(line) >= 3:
        stacked = np.stack([points[name] for name in line], axis=1)
        whole = np.isfinite(stacked).all(axis=(1, 2))
        off = _off_line(stacked[whole]) if whole.any() else 0.0
        if off > _OFF_LINE:
            found.append(Contradiction(tuple(line), "these points of the shaft are not on one straight line"))
    found += _slow_head(points, line)
    if "ball" in points:
        found += _ball(points, up)
    return found


def _off_line(points: np.ndarray) -> float:
    """Return the largest distance of points (n, k, 3) from their line of best fit, as a part of their extent along it.

    The result is the median over frames.
    """
    centred = points - points.mean(axis=1, keepdims=True)
    axes = np.linalg.svd(centred, full_matrices=False)[2][:, 0]
    along = np.einsum("nkj,nj->nk", centred, axes)
    off = np.linalg.norm(centred - along[..., None] * axes[:, None], axis=2).max(axis=1)
    extent = along.max(axis=1) - along.min(axis=1)
    return typical(off / np.where(extent > 0, extent, np.nan))


def _travel(path: np.ndarray) -> float:
    """Return the length of a path (sum of steps between frames in which it is seen)."""
    seen = path[np.isfinite(path).all(axis=1)]
    return float(np.linalg.norm(np.diff(seen, axis=0), axis=1).sum()) if len(seen) > 1 else 0.0


def _slow_head(points: Points, line: list[str]) -> list[Contradiction]:
    """Return a contradiction where the clubhead travels less than the grip or the hands."""
    if "clubhead" not in points:
        return []
    head = _travel(points["clubhead"])
    hands = [n for n in points if n.startswith(("wrist", "hand", "club_butt"))]
    others = [_travel(points[name]) for name in hands]
    if not others or head == 0 or head >= np.median(others):
        return []
    return [
        Contradiction(
            ("clubhead", *(n for n in line if n == "club_butt")), "the clubhead travels less than the hands"
        )
    ]


def _ball(points: Points, up: np.ndarray | None) -> list[Contradiction]:
    """Return a contradiction where the ball is not low, or not at rest before it is struck."""
    path = points["ball"]
    seen = path[np.isfinite(path).all(axis=1)]
    if len(seen) >= 10:
        first = seen[: max(5, len(seen) // 4)]
        spread = float(np.linalg.norm(first - np.median(first, axis=0), axis=1).max())
        if spread > _REST_M and np.linalg.norm(np.median(np.diff(seen, axis=0), axis=0)) > 0:
            return [Contradiction(("ball",), "the ball is not at rest at the start of the capture")]
    feet = middle(
        points,
        *(
            f"{stem}_{side}"
            for stem in ("ankle_lateral", "ankle", "heel", "toe")
            for side in ("left", "right")
        ),
    )
    knees = middle(
        points, *(f"{stem}_{side}" for stem in ("knee_lateral", "knee") for side in ("left", "right"))
    )
    if up is None or feet is None or knees is None or not len(seen):
        return []
    if typical(seen[: max(1, len(seen) // 4)] @ up) > typical(knees @ up):
        return [Contradiction(("ball",), "the ball is above the knees")]
    return []
