"""Detection of the events of a swing (address to finish), with times between frames, from its trial and posture."""

from swinglab.events.find import find_events

__all__ = ["find_events"]
