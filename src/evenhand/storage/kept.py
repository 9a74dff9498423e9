"""What every part of a studio leans on: its database, its recordings, the clock."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime

from argon2 import PasswordHasher
from sqlalchemy import select

from evenhand.storage.database import Database
from evenhand.storage.recordings import OLD_S, Recordings
from evenhand.storage.tables import takes

Clock = Callable[[], datetime]


def utc_now() -> datetime:
    """Read the clock."""
    return datetime.now(UTC)


class Kept:
    """A studio's database and recordings, for the parts that are made of them."""

    def __init__(
        self,
        database: Database,
        recordings: Recordings,
        *,
        now: Clock = utc_now,
        hasher: PasswordHasher | None = None,
    ) -> None:
        self._database = database
        self._recordings = recordings
        self._now = now
        self._hasher = hasher or PasswordHasher()

    def sweep(self, older_than_s: float = OLD_S) -> int:
        """Remove recordings that no take names and files that nobody finished; tell how many."""
        swept = self._recordings.sweep_unfinished(older_than_s)
        kept = list(self._recordings.kept_keys())
        with self._database.reading() as connection:
            named = set(connection.scalars(select(takes.c.recording)))
            named |= set(connection.scalars(select(takes.c.original)))
        return swept + self._drop_unnamed(set(kept) - named)

    def _drop_unnamed(self, keys: Iterable[str | None]) -> int:
        """Remove those recordings that no take names (any more); tell how many.

        It happens alone, as adding a take does: nobody can begin to name one meanwhile.
        """
        wanted = {key for key in keys if key is not None}
        if not wanted:
            return 0
        with self._database.alone() as connection:
            named = {
                key
                for column in (takes.c.recording, takes.c.original)
                for key in connection.scalars(select(column).where(column.in_(wanted)))
            }
            for key in wanted - named:
                self._recordings.remove(key)
        return len(wanted - named)
