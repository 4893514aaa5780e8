"""Posture of a swing: segment coordinate systems, angles and positions by published definitions."""

from swinglab.segments.at_events import measure_at
from swinglab.segments.by_frame import frames_table
from swinglab.segments.centres import hip_centres
from swinglab.segments.posture import measure_posture
from swinglab.segments.swing import measure_swing

__all__ = ["frames_table", "hip_centres", "measure_at", "measure_posture", "measure_swing"]
