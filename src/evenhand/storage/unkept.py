"""Sessions that the disk cannot keep: they hold in this process, until it ends or the disk can again.

Conventions: as in the database, a secret is here only as its hash.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from evenhand.domain.studio import OpenSession, Session

MOST = 200  # of all; the oldest go


@dataclass(frozen=True, slots=True)
class _Unkept:
    session: Session
    listed: OpenSession


class UnkeptSessions:
    """The sessions that began while nothing could be written."""

    def __init__(self) -> None:
        self._found: dict[str, _Unkept] = {}
        self._lock = threading.Lock()

    def put(self, hashed: str, session: Session, listed: OpenSession) -> None:
        """Keep a session by its secret's hash."""
        with self._lock:
            while len(self._found) >= MOST:
                del self._found[next(iter(self._found))]
            self._found[hashed] = _Unkept(session, listed)

    def find(self, hashed: str) -> Session | None:
        """Find a session by its secret's hash; whether it still holds is asked elsewhere."""
        found = self._found.get(hashed)
        return None if found is None else found.session

    def listed(self) -> list[OpenSession]:
        """List who is in."""
        with self._lock:
            return [each.listed for each in self._found.values()]

    def end(self, hashed: str) -> None:
        """End a session by its secret's hash."""
        with self._lock:
            self._found.pop(hashed, None)

    def end_where(self, which: Callable[[Session], bool]) -> int:
        """End some sessions; tell how many."""
        with self._lock:
            over = [hashed for hashed, each in self._found.items() if which(each.session)]
            for hashed in over:
                del self._found[hashed]
        return len(over)
