"""What teacher and student say to each other: a thread of each take, and one of each week.

Conventions: what is spoken lies among the recordings, by its content, and is labelled before its row is
written, as a take is. An id that the page chose makes what is sent twice one. What a thread is of goes with
all that was said of it.
"""

from __future__ import annotations

from collections.abc import Collection
from contextlib import ExitStack, suppress
from dataclasses import replace
from pathlib import Path

from sqlalchemy import delete, insert, update
from sqlalchemy.exc import IntegrityError

from evenhand.errors import CannotKeep, EvenhandError, NotFound
from evenhand.studio.store.data import StudioData
from evenhand.studio.store.tables import check_text, said, select_of, value_by_id, values_of
from evenhand.studio.values import Role, Said


class Threads:
    """All that was said, by what it is of."""

    def __init__(self, data: StudioData) -> None:
        self._data = data

    def of_take(self, take_id: str) -> list[Said]:
        """List what was said of a take, the oldest first."""
        return self._of(said.c.take_id == take_id)

    def of_week(self, week_id: str) -> list[Said]:
        """List what was said of a week, the oldest first."""
        return self._of(said.c.week_id == week_id)

    def of_student(self, student_id: str) -> list[Said]:
        """List all that was said with a student, the oldest first."""
        return self._of(said.c.student_id == student_id)

    def unread(self, who: Role, student_id: str | None = None) -> list[Said]:
        """List what was said by one and not opened by the other, the oldest first."""
        query = (said.c.who == who) & said.c.read_at.is_(None)
        return self._of(query if student_id is None else query & (said.c.student_id == student_id))

    def get(self, said_id: str) -> Said:
        """Find one thing said that must be there."""
        with self._data.database.reading() as connection:
            found = value_by_id(connection, Said, said_id)
        if found is None:
            raise NotFound(what="what was said")
        return found

    def recording(self, spoken: Said) -> Path:
        """Say where something spoken lies."""
        if spoken.recording is None:
            raise NotFound(what="this recording")
        return self._data.recordings.path(spoken.recording)

    def say(self, new: Said, content: bytes | Path | None = None) -> Said:
        """Keep something said, with what was spoken; said twice under one id it is kept once."""
        check_text(values_of(new))
        known = self._known(new)
        if known is not None:
            return known
        with ExitStack() as storing:
            if content is not None:
                key = storing.enter_context(self._data.recordings.adding(content))
                new = replace(new, recording=key)
                self._data.labels.write_said(new)
        try:
            self._commit(new, content)
        except (IntegrityError, EvenhandError) as error:
            return self._instead(new, error)
        return new

    def _commit(self, new: Said, content: bytes | Path | None) -> None:
        """Write a row while nobody removes recordings."""
        with self._data.database.alone() as connection:
            if new.recording is not None and content is not None:
                if not self._data.recordings.has(new.recording):
                    self._data.recordings.add(content)
                self._data.check_room(connection, new.student_id, [new.recording])
            connection.execute(insert(said).values(**values_of(new)))

    def _instead(self, new: Said, error: Exception) -> Said:
        """Give what is there already under an id; where nothing is, let go of what was not kept."""
        known = self._known(new)
        with suppress(CannotKeep):
            self._data.drop_unnamed([new.recording])
            self._data.labels.remove_said(new)
            if known is not None and known.recording is not None:
                self._data.labels.write_said(known)
        if known is not None:
            return known
        if isinstance(error, EvenhandError):
            raise error
        raise NotFound(what="what this is said of") from None

    def _known(self, new: Said) -> Said | None:
        with self._data.database.reading() as connection:
            return value_by_id(connection, Said, new.id)

    def read(self, ids: Collection[str]) -> None:
        """Note that these were opened by whom they are for; what was read before keeps its moment."""
        unread = said.c.id.in_(ids) & said.c.read_at.is_(None)
        if ids:
            self._data.execute(update(said).where(unread).values(read_at=self._data.now()))

    def take_back(self, said_id: str) -> None:
        """Delete something said, and what was spoken unless something else has the same."""
        spoken = self.get(said_id)
        with self._data.database.alone() as connection:
            keys = self._data.labels.said_goes(spoken) if spoken.recording else []
            connection.execute(delete(said).where(said.c.id == said_id))
        self._data.drop_unnamed(keys)
        self._data.labels.remove_said(spoken)

    def _of(self, which: object) -> list[Said]:
        query = select_of(Said).where(which)  # type: ignore[arg-type]
        return self._data.values(Said, query.order_by(said.c.said_at, said.c.id))
