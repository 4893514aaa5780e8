"""A session on the range: new captures are added to the study, measured, and shown on a page in the browser."""

from swinglab.watch.arrivals import Arrivals
from swinglab.watch.keys import KEYS
from swinglab.watch.number import Number, number_of
from swinglab.watch.server import serve_session
from swinglab.watch.session import RangeSession

__all__ = ["KEYS", "Arrivals", "Number", "RangeSession", "number_of", "serve_session"]
