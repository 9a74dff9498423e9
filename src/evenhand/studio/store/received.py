"""Takes: how they come in and are kept, changed and deleted.

Conventions: a take is acknowledged when its label and its recording are synced on the disk and its
row is committed, in this order. A crash between the last two leaves a recording that no take names; the
sweep sets it aside, and the device, which heard nothing, sends again.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import AbstractContextManager, ExitStack, suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from evenhand.errors import CannotKeep, DamagedRecording, EvenhandError, NotFound
from evenhand.studio.store.access import new_id
from evenhand.studio.store.kept import Kept, check_room
from evenhand.studio.store.tables import (
    check_fields,
    check_text,
    columns_of,
    students,
    studio,
    takes,
    value_of,
    values_of,
)
from evenhand.studio.values import NewTake, StudioTake

Content = bytes | Path  # a recording's bytes, or a file that holds them

_FIXED = frozenset({"id", "student_id", "upload_key", "received_at", "recording", "original"})
FOUND_FACT = "found_again"  # among a take's facts: the day on which its recording was found again
_OF_THE_HEARING = frozenset({"status", "progress", "tried", "reason", "heard", "corrected"})  # on no label
_NEWEST_FIRST = (takes.c.recorded_at.desc(), takes.c.received_at.desc(), takes.c.id)


class Received(Kept):
    """The studio's takes."""

    def receive_take(
        self,
        new: NewTake,
        content: Content,
        *,
        original: Content | None = None,
        original_name: str = "",
        received_at: datetime | None = None,
    ) -> tuple[StudioTake, bool]:
        """Keep a take that came in; sent twice, it is kept once, and the second answer says False.

        Args:
            new: What came with the recording.
            content: The recording, in any form that can be heard.
            original: What ``content`` was made of; kept where the studio keeps originals.
            original_name: How the file was called where it came from.
            received_at: When it came, for a take that came elsewhere and before.

        """
        check_text({**values_of(new), "original_name": original_name})
        known = self._take_by_key(new.student_id, new.upload_key)
        if known is not None:
            return known, False
        with ExitStack() as storing:  # at its end the recordings have their places
            contents = self._kept_contents(storing, new.student_id, content, original)
            keys = list(contents)
            take = StudioTake(
                id=new_id(),
                received_at=received_at or self._now(),
                status="waiting",
                recording=keys[0],
                original=keys[1] if len(keys) > 1 else None,
                original_name=original_name,
                **values_of(new),
            )
            self._labels.write_take(take)
        try:
            self._commit(take, contents)
        except IntegrityError:  # the same take came twice at once, or its student was erased meanwhile
            return self._known_instead(take, keys), False
        except EvenhandError:
            self._forget(take, keys)
            raise
        return take, True

    def _known_instead(self, take: StudioTake, keys: list[str]) -> StudioTake:
        """Let go of a take that came twice, and give the one that is here."""
        self._forget(take, keys)
        known = self._take_by_key(take.student_id, take.upload_key)
        if known is None:
            raise NotFound(what="this student")
        return known

    def _forget(self, take: StudioTake, keys: list[str]) -> None:
        """Let go of a take that is not kept after all."""
        with suppress(CannotKeep):  # the sweep sets them aside then, and their label says whose they are
            self._drop_unnamed(keys)
            self._labels.remove_take(take.student_id, take.id)

    def takes(
        self,
        student_id: str | None = None,
        *,
        since: datetime | None = None,
        limit: int | None = None,
        skip: int = 0,
        with_heard: bool = False,
    ) -> list[StudioTake]:
        """List takes, those first that were recorded last; what was heard of them only when asked for.

        ``since`` is when they came in: what is sent late has come now, and stands where it was recorded.
        """
        query = select(*columns_of(takes, StudioTake, without="" if with_heard else "heard"))
        if student_id is not None:
            query = query.where(takes.c.student_id == student_id)
        if since is not None:
            query = query.where(takes.c.received_at >= since)
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(*_NEWEST_FIRST).limit(limit).offset(skip)).mappings()
            return [value_of(StudioTake, row) for row in rows]

    def take(self, id: str) -> StudioTake | None:  # noqa: A002 - the contract's word
        """Find a take, with what was heard of it."""
        with self._database.reading() as connection:
            return found_take(connection, id)

    def recording(self, take: StudioTake) -> Path:
        """Say where a take's recording lies, as it is."""
        if take.recording is None:
            raise NotFound(what="this recording")
        return self._recordings.path(take.recording)

    def sound_recording(self, take: StudioTake) -> Path:
        """Say where a take's recording lies, if its bytes are those that were kept.

        Raises
        ------
        DamagedRecording
            It is missing, or its bytes have changed.
        """
        if take.recording is None:
            raise DamagedRecording(got="is missing: the take names none")
        return self._recordings.sound_path(take.recording)

    def unfinished_file(self) -> AbstractContextManager[Path]:
        """Lend a name for a file that is made for this studio; it is gone afterwards."""
        return self._recordings.unfinished()

    def change_take(self, id: str, **fields: Any) -> StudioTake:  # noqa: A002, ANN401 - the contract's word; any field
        """Change a take; set to waiting, it is heard again."""
        check_fields(StudioTake, fields, fixed=_FIXED)
        if fields.get("status") == "waiting":
            fields = {"tried": 0, "progress": 0.0, "reason": None, **fields}
        claim = {"claimed_by": None, "claimed_at": None} if "status" in fields else {}
        with self._database.writing() as connection:
            take = found_take(connection, id)
            if take is None:
                raise NotFound(what="this take")
            if fields:
                connection.execute(update(takes).where(takes.c.id == id).values(**fields, **claim))
            changed = replace(take, **fields)
            if not _OF_THE_HEARING.issuperset(fields):
                self._label(changed)
        return changed

    def give_take(self, id: str, student_id: str) -> None:  # noqa: A002 - the contract's word
        """Let a take be another student's; one that was found again has its place then."""
        with self._database.alone() as connection:
            take = found_take(connection, id)
            if take is None:
                raise NotFound(what="this take")
            if connection.scalar(select(students.c.id).where(students.c.id == student_id)) is None:
                raise NotFound(what="this student")
            facts = {name: text for name, text in take.facts.items() if name != FOUND_FACT}
            theirs: dict[str, Any] = {
                "student_id": student_id,
                "device_id": None,
                "upload_key": f"given-{id}",
                "facts": facts,
            }
            connection.execute(update(takes).where(takes.c.id == id).values(**theirs))
            keys = self._labels.keys_of_take(take)
            self._labels.write_take(replace(take, **theirs), keys)
        if student_id != take.student_id:
            self._labels.remove_take(take.student_id, id)

    def delete_take(self, id: str) -> None:  # noqa: A002 - the contract's word
        """Delete a take, and its recording unless another take has the same."""
        with self._database.alone() as connection:
            take = found_take(connection, id)
            if take is None:
                raise NotFound(what="this take")
            connection.execute(delete(takes).where(takes.c.id == id))
            keys = self._labels.take_goes(take)
        self._drop_unnamed(keys)
        self._labels.remove_take(take.student_id, id)

    def keep_recording(self, take_id: str, flac: Content) -> StudioTake:
        """Put a FLAC in the place of what came in, which stays as the original where that is wanted."""
        before = self.take(take_id)
        if before is None:
            raise NotFound(what="this take")
        key = self._stored_flac(before, flac)
        with self._database.alone() as connection:
            take = found_take(connection, take_id)
            if take is not None:
                changes = self._with_flac(connection, take, {key: flac})
                connection.execute(update(takes).where(takes.c.id == take_id).values(**changes))
        if take is None:  # erased meanwhile
            self._forget(before, [key])
            raise NotFound(what="this take")
        self._drop_unnamed([take.recording, take.original])
        return replace(take, **changes)

    def _stored_flac(self, take: StudioTake, flac: Content) -> str:
        """Store a take's FLAC, labelled before it is there."""
        with self._recordings.adding(flac) as key:
            self._labels.write_take(replace(take, recording=key), [take.recording])
        return key

    def _label(self, take: StudioTake) -> None:
        """Write a take's label anew, before its row is committed: no erasing comes between.

        Were there no room for it, the old one would do.
        """
        with suppress(CannotKeep):
            self._labels.write_take(take)

    def _with_flac(
        self, connection: Connection, take: StudioTake, contents: Mapping[str, Content]
    ) -> dict[str, Any]:
        """Say what a take's row becomes with its FLAC; alone, so that nobody removes it meanwhile."""
        self._be_there(contents)
        (key,) = contents
        keep = bool(connection.scalar(select(studio.c.keep_originals)))
        original = take.original or (take.recording if keep and take.recording != key else None)
        return {"recording": key, "original": original}

    def _kept_contents(
        self, storing: ExitStack, student_id: str, content: Content, original: Content | None
    ) -> dict[str, Content]:
        """Store what came in, at the end of the block; give it by key, the recording first."""
        with self._database.reading() as connection:
            there = connection.scalar(select(students.c.id).where(students.c.id == student_id))
            keep = bool(connection.scalar(select(studio.c.keep_originals)))
        if there is None:
            raise NotFound(what="this student")
        kept = {storing.enter_context(self._recordings.adding(content)): content}
        if original is not None and keep:
            kept.setdefault(storing.enter_context(self._recordings.adding(original)), original)
        return kept

    def _commit(self, take: StudioTake, contents: Mapping[str, Content]) -> None:
        """Write a take's row while nobody removes recordings."""
        with self._database.alone() as connection:
            self._be_there(contents)
            check_room(
                connection, self.quota, self._used, take.student_id, contents, self._recordings.size_of
            )
            connection.execute(insert(takes).values(**values_of(take)))

    def _be_there(self, contents: Mapping[str, Content]) -> None:
        """Store again what was removed since it was stored: another take with the same bytes went."""
        for key, content in contents.items():
            if not self._recordings.has(key):
                self._recordings.add(content)

    def _take_by_key(self, student_id: str, upload_key: str) -> StudioTake | None:
        """Find a take by its student and the key that the device chose."""
        query = select(*columns_of(takes, StudioTake))
        query = query.where(takes.c.student_id == student_id, takes.c.upload_key == upload_key)
        with self._database.reading() as connection:
            row = connection.execute(query).mappings().first()
        return None if row is None else value_of(StudioTake, row)


def found_take(connection: Connection, take_id: str) -> StudioTake | None:
    """Find a take by its id."""
    query = select(*columns_of(takes, StudioTake)).where(takes.c.id == take_id)
    row = connection.execute(query).mappings().first()
    return None if row is None else value_of(StudioTake, row)
