"""The strike: the undisturbed arc of the clubhead and what it does to the ball and the turf."""

from swinglab.strike.measure import measure_strike

__all__ = ["measure_strike"]
