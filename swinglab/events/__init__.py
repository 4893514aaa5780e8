"""Detection of the events of a swing, between frames, from its trial and posture."""

from swinglab.events.find import find_events

__all__ = ["find_events"]
