"""How much of recordings is kept: so much for a student, so much for the whole studio.

Conventions: bytes on the disk; a recording that two takes name is counted for each. It is looked at while
nobody else adds a take, so what comes at once cannot pass together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from sqlalchemy import Connection, select

from evenhand.errors import StudioFull
from evenhand.storage.tables import takes

GB = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Quota:
    """The most bytes of recordings, for each student and for the studio."""

    student_bytes: int = 10 * GB  # some 6000 takes of 20 s as FLAC
    studio_bytes: int = 100 * GB


def check_room(
    connection: Connection,
    quota: Quota,
    student_id: str,
    coming: Iterable[str],
    size_of: Callable[[str], int],
) -> None:
    """Refuse recordings for which there is no room.

    Raises
    ------
    StudioFull
        The student's, or the studio's, share is used up.
    """
    more = sum(size_of(key) for key in coming)
    mine = studio = 0
    for row in connection.execute(select(takes.c.student_id, takes.c.recording, takes.c.original)):
        size = sum(size_of(key) for key in (row.recording, row.original) if key is not None)
        studio += size
        mine += size if row.student_id == student_id else 0
    for whose, used, most in (
        ("this student's recordings", mine, quota.student_bytes),
        ("the studio's recordings", studio, quota.studio_bytes),
    ):
        if used + more > most:
            raise StudioFull(whose=whose, got_gb=(used + more) / GB, most_gb=most / GB)
