"""All plausibility checks of one swing's trial, which run before anything is measured."""

from __future__ import annotations

from typing import NamedTuple

from swinglab.records import Trial
from swinglab.study.gate.axes import check_axes, find_directions
from swinglab.study.gate.body import some_frames
from swinglab.study.gate.doubts import IMPOSSIBLE, Doubt
from swinglab.study.gate.golf import check_ball, check_ground, check_passes, check_time, is_fast
from swinglab.study.gate.labels import check_labels
from swinglab.study.gate.sizes import Lengths, check_sizes, segment_lengths


class Gate(NamedTuple):
    """Result of the plausibility checks of one swing.

    It contains the doubts (checks that failed), and segment lengths for comparison with other swings.
    """

    doubts: tuple[Doubt, ...]
    lengths: Lengths

    @property
    def impossible(self) -> tuple[Doubt, ...]:
        """The doubts that show that the data are impossible; a swing with such a doubt is not measured."""
        return tuple(doubt for doubt in self.doubts if doubt.verdict == IMPOSSIBLE)


def check_trial(trial: Trial, impact_s: float | None = None) -> Gate:
    """Run all plausibility checks of a trial and return the result.

    Parameters
    ----------
    trial : Trial
    impact_s : float, optional
        Time of impact set by hand (s). Otherwise the impact event of the file or, in a trial with a club, a coarse
        estimate is used. Without an impact, the checks facing, travel, ball and passes are not made.
    """
    body = some_frames(trial)
    lengths = segment_lengths(body)
    if impact_s is None:
        impact_s = trial.file_events.get("impact")
    if impact_s is None and "clubhead" in trial.landmarks and is_fast(trial):
        impact_s = trial.contact_time_s
    found = find_directions(trial, body, impact_s)
    doubts = [*check_time(trial.rate_hz), *check_labels(body, trial.hand)]
    # With exchanged labels, directions and lengths would only add faults with the same cause.
    exchanged = any(
        doubt.verdict == IMPOSSIBLE and doubt.check in ("sides", "front_back") for doubt in doubts
    )
    doubts += check_axes(trial, found._replace(front=None) if exchanged else found)
    doubts += check_sizes(trial, lengths, labels_fit=not exchanged)
    # Heights, positions and passes are meaningless with impossible axes or units.
    if not any(doubt.verdict == IMPOSSIBLE for doubt in doubts):
        doubts += check_ground(trial, body)
        if impact_s is not None:
            doubts += [*check_ball(trial, body, found, impact_s), *check_passes(trial)]
    return Gate(tuple(doubts), lengths)
