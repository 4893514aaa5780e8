"""Actions of the keys that the coach presses on the page of a session."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from swinglab.watch.keys import (
    CLUB,
    CUE,
    LEFT_OUT,
    MARKS,
    OTHER_CLUB,
    PHASES,
    SEASON,
    SINGLES,
    UNDO,
    UNNAMED_CLUB,
)
from swinglab.watch.standing import Undo
from swinglab.watch.swings_file import set_cell

if TYPE_CHECKING:
    from swinglab.watch.session import RangeSession


def act(session: RangeSession, key: str) -> bool:
    """Carry out the action of a key on the session's page; return False for a key that is not in `keys.KEYS`."""
    if key in PHASES:
        other = PHASES[key] == OTHER_CLUB and session.standing.club == _usual_club(session)
        _set(session, phase=PHASES[key], **({"club": _next_club(session)} if other else {}))
    elif key == CUE:
        _set(session, with_cue=not session.standing.with_cue)
    elif key == CLUB:
        _set(session, club=_next_club(session))
    elif key == SINGLES:
        session.singles = not session.singles
    elif key == SEASON:
        session.season = not session.season
    elif key in MARKS:
        _mark(session, "seen", MARKS[key])
    elif key in LEFT_OUT:
        _mark(session, "exclude", LEFT_OUT[key])
    elif key == UNDO:
        _take_back(session)
    elif key.isdigit() and 1 <= int(key) <= min(9, len(session.golfers)):
        session.choose_golfer(session.golfers[int(key) - 1])
    else:
        return False
    return True


def _set(session: RangeSession, **values: object) -> None:
    """Set the phase, the club or the cue of the next swings; the change can be undone."""
    standing = session.standing
    before = {name: getattr(standing, name) for name in values}
    standing.set(**values)
    was = ", ".join(_set_again(name, value) for name, value in before.items())
    standing.undo.append(Undo(was, lambda: standing.set(**before)))


def _set_again(name: str, value: object) -> str:
    """Return a text that says that an earlier phase, club or cue applies to the next swings again."""
    if name == "with_cue":
        return f"the next swings are {'with' if value else 'without'} the cue again"
    return f"the {name} of the next swings is {value or 'empty'} again"


def _usual_club(session: RangeSession) -> str:
    """Return the club of most of the golfer's swings; "" if none is known."""
    swings = session.study.swings
    own = swings[swings["golfer"] == session.golfer]
    return "" if "club" not in own or own.empty else str(own["club"].fillna("").mode().iloc[0])


def _next_club(session: RangeSession) -> str:
    """Return the club after the current one in the list of the study's clubs, which ends with "another club"."""
    known = session.study.swings.get("club", pd.Series(dtype=str)).dropna().astype(str)
    clubs = [*dict.fromkeys(club for club in known if club and club != UNNAMED_CLUB), UNNAMED_CLUB]
    place = clubs.index(session.standing.club) if session.standing.club in clubs else -1
    return clubs[(place + 1) % len(clubs)]


def _mark(session: RangeSession, column: str, value: str) -> None:
    standing, swing = session.standing, session.last_swing()
    if swing is None:
        standing.say("this session has no swing yet that could be marked")
        return
    before = set_cell(session.folder, swing, column, value)
    standing.undo.append(
        Undo(f"the mark {value!r} of {swing}", lambda: set_cell(session.folder, swing, column, before))
    )
    session.reopen()
    standing.say(f"{swing} is marked: {value}")


def _take_back(session: RangeSession) -> None:
    standing = session.standing
    if not standing.undo:
        standing.say("this session has no change to undo")
        return
    last = standing.undo[-1]
    last.take_back()
    standing.undo.pop()
    session.reopen()
    standing.say(f"undone: {last.what}")
