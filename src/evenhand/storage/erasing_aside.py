"""Erase a student from the databases that were set aside, too.

A restore and a repair set the old database aside for a month. One that can be read loses the student's
rows; one that cannot is removed, for nobody can say what is still in it.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import URL, delete
from sqlalchemy.exc import SQLAlchemyError

from evenhand.errors import CannotKeep
from evenhand.storage.database import Database
from evenhand.storage.layout import DATABASE, DATABASE_FILES
from evenhand.storage.set_aside import SetAside
from evenhand.storage.tables import students


def erase_aside(aside: SetAside, student_id: str) -> None:
    """Erase a student from every database that was set aside."""
    for folder, _n, _until in aside.folders():
        if (folder / DATABASE).is_file() and not _erased(folder / DATABASE, student_id):
            for name in DATABASE_FILES:
                (folder / name).unlink(missing_ok=True)


def _erased(place: Path, student_id: str) -> bool:
    """Delete a student's rows and every trace in a database's files; False where it cannot be read."""
    database = Database(URL.create("sqlite", database=str(place)))
    try:
        with database.writing() as connection:
            connection.execute(delete(students).where(students.c.id == student_id))
        return database.scrub()
    except (SQLAlchemyError, CannotKeep):
        return False
    finally:
        database.close()
