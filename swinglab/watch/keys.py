"""The keys of a session's page, and the description of each as shown there."""

from __future__ import annotations

#: Keys that set what the coming swings are, and keys that mark the last one.
OTHER_CLUB, UNNAMED_CLUB = "other club", "another club"
PHASES = {"b": "before", "d": "drill", "a": "after", "l": "later", "c": OTHER_CLUB}
MARKS = {"m": "mishit", "t": "topped"}
UNDO, SINGLES, CUE, CLUB, SEASON = "u", "s", "k", "g", "w"
#: key -> why the last swing is left out.
LEFT_OUT = {"p": "practice swing: no ball struck", "x": "another player's capture"}
#: key -> what it does, in the words of the page.
KEYS = {
    **{key: f"phase: {name}" for key, name in PHASES.items()},
    CLUB: "next club",
    CUE: "cue given, or not",
    **{key: f"last swing: {word}" for key, word in MARKS.items()},
    **{key: f"last swing: {why.split(':')[0]}" for key, why in LEFT_OUT.items()},
    UNDO: "undo",
    SINGLES: "single swings shown, or not",
    SEASON: "whole season shown, or not",
    "1 to 9": "golfer",
}
