"""The log of who did what, and the devices from which the teacher came in before.

Conventions: the log names ids and addresses, no names and nothing of a recording; it is bounded by its
number of rows, not by a clock that may be wrong. The id of a student who was erased goes from it.
"""

from __future__ import annotations

from contextlib import suppress
from typing import Literal

from sqlalchemy import Connection, Table, delete, insert, select, update
from sqlalchemy.sql.elements import ColumnElement

from evenhand.domain.studio import Act, ActKind
from evenhand.errors import DiskFull, ReadOnly
from evenhand.storage.kept import Kept
from evenhand.storage.rows import columns_of, value_of, values_of
from evenhand.storage.secrets_kept import new_id, new_secret, sha256_of
from evenhand.storage.tables import acts, known_devices

MOST_ACTS, MOST_KNOWN = 5000, 50
MOST_LETTERS = 100


class Acts(Kept):
    """The studio's log, and its known devices."""

    def note(
        self,
        what: ActKind,
        who: Literal["teacher", "student", "nobody"],
        *,
        about: str = "",
        address: str = "",
    ) -> None:
        """Write down that somebody did something; where the disk cannot keep it, it is done all the same."""
        act = Act(self._now(), what, who, about[:MOST_LETTERS], address[:MOST_LETTERS])
        with suppress(DiskFull, ReadOnly), self._database.writing() as connection:
            connection.execute(insert(acts).values(id=new_id(), **values_of(act)))
            keep_newest(connection, acts, acts.c.at, MOST_ACTS)

    def acts(self, limit: int = 200) -> list[Act]:
        """List what was done, the newest first."""
        query = select(*columns_of(acts, Act)).order_by(acts.c.at.desc(), acts.c.id).limit(limit)
        with self._database.reading() as connection:
            return [value_of(Act, row) for row in connection.execute(query).mappings()]

    def know_device(self) -> str:
        """Remember the device from which the teacher came in: the secret for its cookie."""
        secret = new_secret()
        row = {"id": new_id(), "secret_sha256": sha256_of(secret), "used_at": self._now()}
        with suppress(DiskFull, ReadOnly), self._database.writing() as connection:
            connection.execute(insert(known_devices).values(**row))
            keep_newest(connection, known_devices, known_devices.c.used_at, MOST_KNOWN)
        return secret

    def known_device(self, secret: str) -> str | None:
        """Find a device by its secret; None where none is known by it."""
        query = select(known_devices.c.id).where(known_devices.c.secret_sha256 == sha256_of(secret))
        with self._database.reading() as connection:
            return connection.scalar(query)


def keep_newest(
    connection: Connection,
    table: Table,
    order: ColumnElement[object],
    most: int,
    *which: ColumnElement[bool],
) -> None:
    """Delete all but so many rows, those that come last in an order kept."""
    kept = select(table.c.id).where(*which).order_by(order.desc(), table.c.id).limit(most)
    connection.execute(delete(table).where(*which, table.c.id.not_in(kept)))


def forget_about(connection: Connection, student_id: str) -> None:
    """Take the id of a student who is erased out of the log."""
    connection.execute(update(acts).where(acts.c.about == student_id).values(about=""))
