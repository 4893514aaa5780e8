"""The keys of a session's page, and the description of each as shown there."""

from __future__ import annotations

#: Phase of swings with another club, and the name of a club that is not among the clubs of the study.
OTHER_CLUB, UNNAMED_CLUB = "other club", "another club"
#: Keys that set the phase of the next swings, and keys that mark the contact of the last swing.
PHASES = {"b": "before", "d": "drill", "a": "after", "l": "later", "c": OTHER_CLUB}
MARKS = {"m": "mishit", "t": "topped"}
UNDO, SINGLES, CUE, CLUB, SEASON = "u", "s", "k", "g", "w"
#: key -> reason why the last swing is left out; the key writes it to the column exclude of swings.csv.
LEFT_OUT = {"p": "practice swing: no ball struck", "x": "another player's capture"}
#: key -> what it does, in the words of the page.
KEYS = {
    **{key: f"phase: {name}" for key, name in PHASES.items()},
    CLUB: "next club of the study",
    CUE: "next swings with or without the cue",
    **{key: f"last swing: {word}" for key, word in MARKS.items()},
    **{key: f"last swing: {why.split(':')[0]}" for key, why in LEFT_OUT.items()},
    UNDO: "undo the last change",
    SINGLES: "show the last swing or the mean",
    SEASON: "show or hide the season",
    "1 to 9": "golfer",
}
