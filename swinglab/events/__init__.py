"""Trial and Posture to the events of the swing, found between frames."""

from swinglab.events.find import find_events

__all__ = ["find_events"]
