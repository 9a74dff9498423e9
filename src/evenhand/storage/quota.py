"""How much of recordings is kept: so much for a student, so much for the whole studio.

Conventions: bytes on the disk; a recording that two takes name is counted for each. It is looked at while
nobody else adds a take, so what comes at once cannot pass together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from sqlalchemy import Connection, Select, select

from evenhand.errors import StudioFull
from evenhand.storage.tables import takes

GB = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Quota:
    """The most bytes of recordings, for each student and for the studio."""

    student_bytes: int = 10 * GB  # some 6000 takes of 20 s as FLAC
    studio_bytes: int = 100 * GB


SizeOf = Callable[[str], int]


class Used:
    """What the studio's recordings take, counted once and added to: never too little, since they only shrink.

    Only where it would be too much is it counted anew.
    """

    def __init__(self) -> None:
        self._bytes: int | None = None

    def with_more(self, more: int, most: int, count: Callable[[], int]) -> int:
        """Return what is used with so much more."""
        if self._bytes is None or self._bytes + more > most:
            self._bytes = count()
        used = self._bytes + more
        if used <= most:
            self._bytes = used
        return used


def check_room(
    connection: Connection, quota: Quota, used: Used, student_id: str, coming: Iterable[str], size_of: SizeOf
) -> None:
    """Refuse recordings for which there is no room.

    Raises
    ------
    StudioFull
        The student's, or the studio's, share is used up.
    """
    more = sum(size_of(key) for key in coming)
    named = select(takes.c.recording, takes.c.original)
    mine = more + _sum(connection, named.where(takes.c.student_id == student_id), size_of)
    if mine > quota.student_bytes:
        raise StudioFull(
            whose="this student's recordings", got_gb=mine / GB, most_gb=quota.student_bytes / GB
        )
    all_of_it = used.with_more(more, quota.studio_bytes, lambda: _sum(connection, named, size_of))
    if all_of_it > quota.studio_bytes:
        raise StudioFull(
            whose="the studio's recordings", got_gb=all_of_it / GB, most_gb=quota.studio_bytes / GB
        )


def _sum(connection: Connection, query: Select[tuple[str | None, str | None]], size_of: SizeOf) -> int:
    return sum(size_of(key) for row in connection.execute(query) for key in row if key is not None)
