"""The strike: path of the clubhead as it would be without the ball, and the quantities computed from it."""

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
