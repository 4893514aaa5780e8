"""swinglab tests a golf coach's hunch about posture and strike on motion capture data.

    import swinglab as sl

Public names are listed here and loaded when first used. Importing swinglab itself uses only the
standard library; it touches no file, no network and no global setting.
"""

# An old Python reads this file before it reports that it is too old: syntax of Python 2.7 only.
from importlib import import_module

_ROOMS = (
    "errors", "conventions", "columns", "records", "finding_words", "shipped", "signals", "load", "segments", "events",
    "strike",
    "statistics", "figures", "simulate", "answers", "study", "begin", "report", "watch", "controls",
)  # fmt: skip

#: public name -> the room it lives in
_SHELF = {
    "SwinglabError": "errors",
    "Capture": "records",
    "Trial": "records",
    "Posture": "records",
    "Events": "records",
    "Strike": "records",
    "Finding": "records",
    "shipped_folder": "shipped",
    "read_capture": "load",
    "write_capture": "load",
    "load_trial": "load",
    "measure_posture": "segments",
    "measure_at": "segments",
    "measure_swing": "segments",
    "find_events": "events",
    "measure_strike": "strike",
    "screen_postures": "statistics",
    "begin_study": "begin",
    "what_if": "simulate",
    "sensitivity": "answers",
    "open_study": "study",
    "check_folder": "study",
    "check_study": "study",
    "shared_doubts": "study",
    "measure_study": "study",
    "answer_study": "study",
    "write_results": "study",
    "write_frames": "study",
    "read_results": "study",
    "write_report": "report",
}

__all__ = ["__version__"] + list(_ROOMS) + list(_SHELF)


def __getattr__(name):  # type: (str) -> object
    if name in _ROOMS:
        return import_module("swinglab." + name)
    if name in _SHELF:
        return getattr(import_module("swinglab." + _SHELF[name]), name)
    if name == "__version__":
        return _version()
    raise AttributeError("module 'swinglab' has no attribute {!r}".format(name))


def __dir__():  # type: () -> list[str]
    return sorted(__all__)


def _version():  # type: () -> str
    metadata = import_module("importlib.metadata")
    try:
        return str(metadata.version("swinglab"))
    except metadata.PackageNotFoundError:  # a clone that was not installed
        return "0.1.0"
