"""Studios for tests, with invented people. Passwords are hashed weakly here, so that a test is quick."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from argon2 import PasswordHasher
from sqlalchemy import URL

from evenhand.studio.store.database import Database, upgrade
from evenhand.studio.store.layout import DATABASE, FOLDER_ALONE
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import NewTake

PASSWORD = "rim and shoulder"  # noqa: S105 - invented, for tests
QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)  # a Monday


class Clock:
    """A clock that stands still until it is moved."""

    def __init__(self, at: datetime = NOON) -> None:
        self.at = at

    def __call__(self) -> datetime:
        """Tell the time."""
        return self.at

    def move(self, **by: float) -> None:
        """Move it, such as ``hours=2``."""
        self.at += timedelta(**by)


def a_studio(folder: Path, **changes: Any) -> Studio:
    """Give a new, empty studio in ``folder``/studio; close it at the end."""
    wanted = {"name": "Studio Larkfield", "password": PASSWORD, "hasher": QUICK, **changes}
    data = folder / "studio"
    if wanted.get("backing", FOLDER_ALONE).url is None and not data.exists():
        data.mkdir(mode=0o700)
        (data / DATABASE).write_bytes(_empty_tables())
    return Studio.create(data, **wanted)


@cache
def _empty_tables() -> bytes:
    """Give a database with tables and nothing in them: to copy it is quicker than to make it each time."""
    with TemporaryDirectory() as folder:
        place = Path(folder) / DATABASE
        database = Database(URL.create("sqlite", database=str(place)))
        with database.changing() as connection:
            upgrade(connection)
        database.close()
        return place.read_bytes()


def a_new_take(student_id: str, upload_key: str = "key-1", **changes: Any) -> NewTake:
    """Give what comes with a recording of RLRR LRLL."""
    wanted = {
        "student_id": student_id,
        "upload_key": upload_key,
        "exercise": "1/8: RLRR LRLL",
        "tempo": "1/8=140",
        "recorded_at": NOON,
        "source": "microphone",
        **changes,
    }
    return NewTake(**wanted)
