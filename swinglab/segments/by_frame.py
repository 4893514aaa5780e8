"""All posture quantities in all frames, as one long table for other programs."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab.columns import QUANTITIES
from swinglab.records import Events, Posture

FRAME_COLUMNS = [
    "swing", "frame", "time_s", "time_from_impact_s", "percent_of_swing", "quantity", "value", "standard_error",
    "unit",
]  # fmt: skip


def frames_table(posture: Posture, events: Events) -> pd.DataFrame:
    """Return a table of posture over time, with one row for each quantity and frame.

    Parameters
    ----------
    posture : Posture
        A swing, frame by frame.
    events : Events
        The events of the same swing.

    Returns
    -------
    pandas.DataFrame
        swing, frame (from 0), time_s (from the file's first frame), time_from_impact_s, percent_of_swing (0 at
        takeaway, 100 at impact, above 100 after impact), quantity, value, standard_error, unit. NaN where missing.

    Notes
    -----
    Frame: as in `measure_posture`. Positions are absolute, from the origin under the ball, not relative to address.

    Examples
    --------
    >>> frames_table(posture, events).columns.tolist()[:3]  # doctest: +SKIP
    ['swing', 'frame', 'time_s']
    """
    n, names = len(posture.time_s), posture.quantities
    takeaway, impact = events.time_s("takeaway"), events.time_s("impact")
    from_impact = posture.time_s - impact
    percent = 100 * (posture.time_s - takeaway) / (impact - takeaway)
    return pd.DataFrame({
        "swing": posture.swing,
        "frame": np.tile(np.arange(n), len(names)),
        "time_s": np.tile(posture.time_s, len(names)),
        "time_from_impact_s": np.tile(from_impact, len(names)),
        "percent_of_swing": np.tile(percent, len(names)),
        "quantity": np.repeat(np.array(names, dtype=object), n),
        "value": posture.values.T.ravel(),
        "standard_error": posture.standard_errors.T.ravel(),
        "unit": np.repeat(np.array([QUANTITIES[name].unit for name in names], dtype=object), n),
    }, columns=FRAME_COLUMNS)  # fmt: skip
