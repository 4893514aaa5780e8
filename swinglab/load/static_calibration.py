"""Virtual markers: landmarks that are reconstructed in a swing from other markers, using a static capture.

They replace markers, such as those on the medial side of a joint, that are removed before the swings.
"""

from __future__ import annotations

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.load.landmarks import match_landmarks, matched_points
from swinglab.load.rigid_body import carry_points
from swinglab.records import Capture, Setup

#: Largest distance of a cluster marker from its landmark (static capture).
_NEAR_M = 0.4
#: Two markers belong to one rigid body if the standard deviation of their distance is below the first limit and their
#: distance differs from the static capture by less than the second (chosen limits).
_VARIES_M, _DIFFERS_M = 0.008, 0.01
#: Largest number of markers in a cluster.
_MOST = 6
#: Collinear markers do not define an orientation: the second largest extent of a cluster must reach this.
_LEAST_WIDTH_M = 0.01


def virtual_landmarks(
    capture: Capture, setup: Setup, static: Capture
) -> tuple[dict[str, np.ndarray], list[str]]:
    """Reconstruct landmarks that are in the static capture but not in the swing, from clusters of other markers.

    Parameters
    ----------
    capture : Capture
        The swing.
    setup : Setup
        Assignment of labels to landmarks. Markers whose labels belong to no landmark can also be in a cluster.
    static : Capture
        A capture of the golfer standing still with all markers.

    Returns
    -------
    tuple
        First, landmark -> positions (n_frames, 3) in metres in the axes of the capture, NaN if a marker of the cluster
        is missing. Second, one text for each landmark: the markers of its cluster, or the reason why it has none.

    Notes
    -----
    A cluster consists of three to six markers near the landmark whose mutual distances are the same in both captures.
    Markers of the landmark's own segment are tried first.
    """
    lacking = set(match_landmarks(static, setup).columns) - set(match_landmarks(capture, setup).columns)
    if not lacking:
        return {}, []
    names, places = matched_points(static, setup, match_landmarks(static, setup))
    still = dict(zip(names, np.nanmedian(places, axis=0), strict=True))
    labels = [n for n in capture.labels if n in static.labels]
    moving = capture.points_m[:, [capture.labels.index(n) for n in labels]]
    resting = np.nanmedian(static.points_m[:, [static.labels.index(n) for n in labels]], axis=0)
    partners = _partners(capture, setup)
    found, lines = {}, []
    for landmark in sorted(lacking):
        own = [labels.index(label) for label in partners.get(landmark, ()) if label in labels]
        cluster = _find_cluster(still[landmark], resting, moving, own)
        if not cluster:
            lines.append(
                f"{landmark} of the static capture cannot be reconstructed: no three markers near it have the same "
                "distances in both captures"
            )
            continue
        shape = resting[cluster]
        found[landmark] = carry_points(shape, still[landmark] - shape.mean(axis=0), moving[:, cluster])
        lines.append(
            f"{landmark} was reconstructed from the static capture and the markers "
            f"{', '.join(labels[k] for k in cluster)}"
        )
    return found, lines


def _partners(capture: Capture, setup: Setup) -> dict[str, list[str]]:
    """Landmark -> labels in the file of the other landmarks of its segment."""
    columns = match_landmarks(capture, setup).columns
    return {
        name: [capture.labels[k] for other in own if other != name for k in columns.get(other, ())]
        for own in SEGMENT_LANDMARKS.values()
        for name in own
    }


def _find_cluster(landmark: np.ndarray, resting: np.ndarray, moving: np.ndarray, own: list[int]) -> list[int]:
    """Indices of three to six markers near the landmark that move as one rigid body; empty if there are none."""
    away = np.linalg.norm(resting - landmark, axis=1)
    seen = np.isfinite(moving).all(axis=2).mean(axis=0) > 0.5
    near = [int(k) for k in np.argsort(away) if away[k] < _NEAR_M and seen[k]]
    order = [k for k in own if k in near] + [k for k in near if k not in own]
    for first in order:
        cluster = [first]
        for k in order:
            if (
                len(cluster) < _MOST
                and k not in cluster
                and all(_rigid(resting, moving, k, j) for j in cluster)
            ):
                cluster.append(k)
        shape = resting[cluster]
        if len(cluster) >= 3 and np.linalg.svd(shape - shape.mean(axis=0))[1][1] > _LEAST_WIDTH_M:
            return cluster
    return []


def _rigid(resting: np.ndarray, moving: np.ndarray, i: int, j: int) -> bool:
    distance = np.linalg.norm(moving[:, i] - moving[:, j], axis=1)
    distance = distance[np.isfinite(distance)]
    at_rest = np.linalg.norm(resting[i] - resting[j])
    return bool(len(distance) and distance.std() < _VARIES_M and abs(distance.mean() - at_rest) < _DIFFERS_M)
