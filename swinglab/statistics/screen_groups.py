"""Groups of highly correlated candidates of a search; each group is reported once."""

from __future__ import annotations

import numpy as np
import scipy


def group_candidates(correlation: np.ndarray, alike: float) -> np.ndarray:
    """Return the number of the group of each candidate, (J,), by cluster analysis of their correlations.

    Groups are numbered from 0 in the order of their first members. The method is complete linkage on 1 - |r|: any two
    members of a group have an absolute correlation |r| of `alike` or more.

    Parameters
    ----------
    correlation : numpy.ndarray, (J, J)
        Correlations of J candidates.
    alike : float
        Smallest absolute correlation within a group, from 0 to 1.

    Examples
    --------
    >>> r = np.array([[1.0, 0.1, -0.9], [0.1, 1.0, 0.0], [-0.9, 0.0, 1.0]])
    >>> group_candidates(r, 0.8).tolist()
    [0, 1, 0]
    """
    number = len(correlation)
    if number < 2:
        return np.zeros(number, int)
    distance = 1 - np.abs(correlation)
    np.fill_diagonal(distance, 0.0)
    pairs = scipy.spatial.distance.squareform((distance + distance.T) / 2, checks=False)
    tree = scipy.cluster.hierarchy.linkage(pairs, "complete")
    label = scipy.cluster.hierarchy.fcluster(tree, 1 - alike + 1e-12, "distance")
    first = {one: place for place, one in reversed(list(enumerate(label)))}
    order = {one: number for number, one in enumerate(sorted(first, key=lambda one: first[one]))}
    return np.array([order[one] for one in label])
