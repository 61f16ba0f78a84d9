"""Keeping heads tall and the differences of the halves current while the artist works."""

from .session import Heads, Session
from .watch import asked, ended, forget, look_again, session_of, stop, switch_off, switch_on, turn


def unregister() -> None:
    stop()


__all__ = [
    "Heads", "Session", "asked", "ended", "forget", "look_again", "session_of", "stop",
    "switch_off", "switch_on", "turn", "unregister",
]
