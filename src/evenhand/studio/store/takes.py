"""Takes: how they come in and are kept, changed and deleted.

Conventions: a take is acknowledged when its label and its recording are synced on the disk and its
row is committed, in this order. A crash between the last two leaves a recording that no take names; the
sweep sets it aside, and the device, which heard nothing, sends again.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from contextlib import AbstractContextManager, ExitStack, suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from evenhand.errors import CannotKeep, DamagedRecording, EvenhandError, NotFound
from evenhand.studio.store.access import check_student, new_id
from evenhand.studio.store.data import StudioData
from evenhand.studio.store.recordings import Sent
from evenhand.studio.store.tables import (
    check_fields,
    check_text,
    said,
    select_of,
    studio,
    takes,
    value_by_id,
    values_in,
    values_of,
)
from evenhand.studio.values import TEACHER, NewTake, Said, StudioTake, TakeOutline

Content = bytes | Path | Sent  # a recording's bytes, a file that holds them, or what was sent past us

_FIXED = frozenset({"id", "student_id", "upload_key", "received_at", "recording", "original"})
FOUND_FACT = "found_again"  # among a take's facts: the day on which its recording was found again
_ON_NO_LABEL = frozenset(
    {"status", "progress", "tried", "reason", "heard", "corrected", "listened_at", "urgency", "set_aside_at"}
)
FREE: Mapping[str, Any] = {"claimed_by": None, "claimed_at": None, "waits_until": None}  # in nobody's hands
_NEWEST_FIRST = (takes.c.recorded_at.desc(), takes.c.received_at.desc(), takes.c.id)


class Takes:
    """The studio's takes."""

    def __init__(self, data: StudioData) -> None:
        self._data = data

    def receive(
        self,
        new: NewTake,
        content: Content,
        *,
        original: Content | None = None,
        original_name: str = "",
        received_at: datetime | None = None,
        film: Content | None = None,
    ) -> tuple[StudioTake, bool]:
        """Keep a take that came in; sent twice, it is kept once, and the second answer says False.

        Args:
            new: What came with the recording.
            content: The recording, in any form that can be heard.
            original: What ``content`` was made of; kept where the studio keeps originals.
            original_name: How the file was called where it came from.
            received_at: When it came, for a take that came elsewhere and before.
            film: Pictures that were taken beside the recording; there until they were watched.

        """
        check_text({**values_of(new), "original_name": original_name})
        known = self._by_key(new.student_id, new.upload_key)
        if known is not None:
            return known, False
        with ExitStack() as storing:  # at its end the recordings have their places
            contents = self._kept_contents(storing, new.student_id, content, original, film)
            keys = list(contents)
            take = StudioTake(
                id=new_id(),
                received_at=received_at or self._data.now(),
                status="waiting",
                recording=keys[0],
                original=keys[1] if len(keys) > 1 else None,
                original_name=original_name,
                **values_of(new),
            )
            self._data.labels.write_take(take)
        try:
            self._commit(take, contents)
        except IntegrityError:  # the same take came twice at once, or its student was erased meanwhile
            return self._known_instead(take, keys), False
        except EvenhandError:
            self.forget(take, keys)
            raise
        self._data.recordings.was_kept(contents.values())
        return take, True

    def _known_instead(self, take: StudioTake, keys: list[str]) -> StudioTake:
        """Let go of a take that came twice, and give the one that is here."""
        self.forget(take, keys)
        known = self._by_key(take.student_id, take.upload_key)
        if known is None:
            raise NotFound(what="this student")
        return known

    def forget(self, take: StudioTake, keys: list[str]) -> None:
        """Let go of a take that is not kept after all."""
        with suppress(CannotKeep):  # the sweep sets them aside then, and their label says whose they are
            self._data.drop_unnamed(keys)
            self._data.labels.remove_take(take.student_id, take.id)

    def all(
        self,
        student_id: str | None = None,
        *,
        since: datetime | None = None,
        limit: int | None = None,
        skip: int = 0,
        ids: Collection[str] | None = None,
        with_heard: bool = False,
    ) -> list[StudioTake]:
        """List takes, those first that were recorded last; what was heard of them only when asked for.

        ``since`` is when they came in: what is sent late has come now, and stands where it was recorded.
        """
        query = select_of(StudioTake, without="" if with_heard else "heard")
        if student_id is not None:
            query = query.where(takes.c.student_id == student_id)
        if since is not None:
            query = query.where(takes.c.received_at >= since)
        if ids is not None:
            query = query.where(takes.c.id.in_(ids))
        return self._data.values(StudioTake, query.order_by(*_NEWEST_FIRST).limit(limit).offset(skip))

    def models(self, student_id: str) -> list[StudioTake]:
        """List what the teacher played for a student to listen to, then what for everybody; newest first."""
        mine = takes.c.student_id == student_id
        query = select_of(StudioTake, without="heard").where(
            takes.c.model, mine | (takes.c.student_id == TEACHER)
        )
        return self._data.values(StudioTake, query.order_by(mine.desc(), *_NEWEST_FIRST))

    def outlines(self, since: datetime, *, student_id: str | None = None) -> list[TakeOutline]:
        """List in outline the takes that came since a moment, those recorded last first."""
        query = select_of(TakeOutline).where(takes.c.received_at >= since)
        if student_id is not None:
            query = query.where(takes.c.student_id == student_id)
        return self._data.values(TakeOutline, query.order_by(*_NEWEST_FIRST))

    def find(self, take_id: str) -> StudioTake | None:
        """Find a take, with what was heard of it."""
        with self._data.database.reading() as connection:
            return value_by_id(connection, StudioTake, take_id)

    def get(self, take_id: str) -> StudioTake:
        """Find a take that must be there."""
        with self._data.database.reading() as connection:
            return take_in(connection, take_id)

    def recording(self, take: StudioTake) -> Path:
        """Say where a take's recording lies, as it is."""
        if take.recording is None:
            raise NotFound(what="this recording")
        return self._data.recordings.path(take.recording)

    def sound_recording(self, take: StudioTake) -> Path:
        """Say where a take's recording lies, if its bytes are those that were kept.

        Raises
        ------
        DamagedRecording
            It is missing, or its bytes have changed.
        """
        if take.recording is None:
            raise DamagedRecording(got="is missing: the take names none")
        return self._data.recordings.sound_path(take.recording)

    def unfinished_file(self) -> AbstractContextManager[Path]:
        """Lend a name for a file that is made for this studio; it is gone afterwards."""
        return self._data.recordings.unfinished()

    def change(self, take_id: str, **fields: Any) -> StudioTake:  # noqa: ANN401 - any field
        """Change a take; set to waiting, it is heard again."""
        check_fields(StudioTake, fields, fixed=_FIXED)
        if fields.get("status") == "waiting":
            fields = {"tried": 0, "progress": 0.0, "reason": None, "set_aside_at": None, **fields}
        claim = FREE if "status" in fields else {}
        with self._data.database.writing() as connection:
            take = take_in(connection, take_id)
            if fields:
                connection.execute(update(takes).where(takes.c.id == take_id).values(**fields, **claim))
            changed = replace(take, **fields)
            if not _ON_NO_LABEL.issuperset(fields):
                self.label(changed)
        return changed

    def listened(self, take_ids: Collection[str], *, undone: bool = False) -> int:
        """Note that the teacher heard takes now, or take that back; tell of how many that is new."""
        mine = takes.c.id.in_(take_ids)
        if undone:
            return self._data.execute(update(takes).where(mine).values(listened_at=None))
        fresh = mine & takes.c.listened_at.is_(None)
        return self._data.execute(update(takes).where(fresh).values(listened_at=self._data.now()))

    def give(self, take_id: str, student_id: str) -> None:
        """Let a take be another student's; one that was found again has its place then."""
        labels = self._data.labels
        with self._data.database.alone() as connection:
            take = take_in(connection, take_id)
            check_student(connection, student_id)
            facts = {name: text for name, text in take.facts.items() if name != FOUND_FACT}
            theirs: dict[str, Any] = {
                "student_id": student_id,
                "device_id": None,
                "upload_key": f"given-{take_id}",
                "facts": facts,
            }
            connection.execute(update(takes).where(takes.c.id == take_id).values(**theirs))
            labels.write_take(replace(take, **theirs), labels.keys_of_take(take))
            connection.execute(update(said).where(said.c.take_id == take_id).values(student_id=student_id))
            for each in values_in(connection, Said, select_of(Said).where(said.c.take_id == take_id)):
                if each.recording is not None:
                    labels.write_said(each)
        if student_id != take.student_id:
            labels.remove_take(take.student_id, take_id)

    def delete(self, take_id: str) -> None:
        """Delete a take, and its recording unless another take has the same."""
        with self._data.database.alone() as connection:
            take = take_in(connection, take_id)
            spoken = list(connection.scalars(select(said.c.recording).where(said.c.take_id == take_id)))
            connection.execute(delete(takes).where(takes.c.id == take_id))
            keys = self._data.labels.take_goes(take, spoken)
        self._data.drop_unnamed(keys)
        self._data.labels.remove_take(take.student_id, take_id)

    def drop_original(self, take_id: str) -> None:
        """Delete what a take's recording was made of, such as its video; all else stays."""
        with self._data.database.alone() as connection:
            take = take_in(connection, take_id)
            connection.execute(update(takes).where(takes.c.id == take_id).values(original=None))
            self.label(replace(take, original=None))
        self._data.drop_unnamed([take.original])

    def store_flac(self, take: StudioTake, flac: Content) -> str:
        """Store a take's FLAC, labelled before it is there."""
        with self._data.recordings.adding(flac) as key:
            self._data.labels.write_take(replace(take, recording=key), [take.recording])
        return key

    def with_flac(
        self, connection: Connection, take: StudioTake, key: str, flac: Content, *, is_film: bool
    ) -> dict[str, Any]:
        """Say what a take's row becomes with its FLAC; alone, so that nobody removes it meanwhile."""
        self._be_there({key: flac})
        came = take.original or (take.recording if take.recording != key else None)
        keep = bool(connection.scalar(select(studio.c.keep_videos if is_film else studio.c.keep_originals)))
        return {"recording": key, "original": came if keep or (take.original and not is_film) else None}

    def without_film(self, connection: Connection, take: StudioTake) -> dict[str, Any]:
        """Say what a take's row becomes whose film was watched beside its recording."""
        return {"original": take.original if connection.scalar(select(studio.c.keep_videos)) else None}

    def label(self, take: StudioTake) -> None:
        """Write a take's label anew, before its row is committed: no erasing comes between.

        Were there no room for it, the old one would do.
        """
        with suppress(CannotKeep):
            self._data.labels.write_take(take)

    def _kept_contents(
        self,
        storing: ExitStack,
        student_id: str,
        content: Content,
        original: Content | None,
        film: Content | None,
    ) -> dict[str, Content]:
        """Store what came in, at the end of the block; give it by key, the recording first."""
        with self._data.database.reading() as connection:
            check_student(connection, student_id)
            keep = bool(connection.scalar(select(studio.c.keep_originals)))
        recordings = self._data.recordings
        kept = {storing.enter_context(recordings.adding(content)): content}
        beside = film if film is not None else original if keep else None
        if beside is not None:
            kept.setdefault(storing.enter_context(recordings.adding(beside)), beside)
        return kept

    def _commit(self, take: StudioTake, contents: Mapping[str, Content]) -> None:
        """Write a take's row while nobody removes recordings."""
        with self._data.database.alone() as connection:
            self._be_there(contents)
            self._data.check_room(connection, take.student_id, contents)
            connection.execute(insert(takes).values(**values_of(take)))

    def _be_there(self, contents: Mapping[str, Content]) -> None:
        """Store again what was removed since it was stored: another take with the same bytes went."""
        for key, content in contents.items():
            if not self._data.recordings.has(key):
                self._data.recordings.add(content)

    def _by_key(self, student_id: str, upload_key: str) -> StudioTake | None:
        """Find a take by its student and the key that the device chose."""
        mine = (takes.c.student_id == student_id) & (takes.c.upload_key == upload_key)
        return self._data.value(StudioTake, select_of(StudioTake).where(mine))


def take_in(connection: Connection, take_id: str) -> StudioTake:
    """Find a take that must be there, by its id."""
    take = value_by_id(connection, StudioTake, take_id)
    if take is None:
        raise NotFound(what="this take")
    return take
