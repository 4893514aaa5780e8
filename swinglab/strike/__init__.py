"""The strike: the undisturbed arc of the clubhead and what it does to the ball and the turf."""

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
