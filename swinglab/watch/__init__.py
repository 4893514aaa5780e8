"""A session on the range: captures entered and measured as they arrive, and one local page that shows them."""

from swinglab.watch.arrivals import Arrivals
from swinglab.watch.keys import KEYS
from swinglab.watch.number import Number, number_of
from swinglab.watch.server import serve_session
from swinglab.watch.session import RangeSession

__all__ = ["KEYS", "Arrivals", "Number", "RangeSession", "number_of", "serve_session"]
