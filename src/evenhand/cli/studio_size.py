"""Say in a few words how large a studio is."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:  # brings the database, which the help need not wait for
    from evenhand.storage.studio import Studio


def size_of(studio: Studio) -> str:
    """Count a studio's students, archived ones too, and its takes."""
    students = len(studio.students()) + len(studio.students(archived=True))
    return f"{counted(students, 'student')}, {counted(sum(studio.counts().values()), 'take')}"


def counted(n: int, what: str) -> str:
    """Write a number of things."""
    return f"{n} {what}" if n == 1 else f"{n} {what}s"
