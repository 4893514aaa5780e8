"""The strike: the clubhead's arc as if undisturbed by the ball, and the strike measures that follow from it."""

from swinglab.strike.delivery import Delivery, measure_delivery
from swinglab.strike.dplane import spin_axis_tilt_deg, spin_loft_deg, start_direction_deg
from swinglab.strike.measure import measure_strike

__all__ = [
    "Delivery",
    "measure_delivery",
    "measure_strike",
    "spin_axis_tilt_deg",
    "spin_loft_deg",
    "start_direction_deg",
]
