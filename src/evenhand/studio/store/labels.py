"""Labels beside the recordings: whose each is and what of, so that a lost database is not the end.

Conventions: ``labels/<student>/student.json`` has what the studio knows of a student and
``labels/<student>/take-<take>.json`` of a take, in the form of an export's rows, without what was
heard; ``said-<take or week>-<id>.json`` is of something that was spoken. A take's label names every
recording that ever was its own (``keys``, the newest first). What is being deleted has a label
that ends in ``.going`` until all of it is gone. A student's labels are one folder, so that they go with the
student.

Rows as JSON, in an export as on the labels: field by field, moments in UTC as ISO 8601. What is of this place
and moment stays behind; what was heard of a take is a text of its own.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
import re
import secrets
import shutil
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import MISSING, dataclass, fields
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from sqlalchemy import JSON, Boolean, Column, Date, Float, Integer, Table

from evenhand.studio.store.layout import disk_errors
from evenhand.studio.store.recordings import KEY
from evenhand.studio.store.tables import UtcDateTime, columns_of, said, students, takes, values_of
from evenhand.studio.values import Said, Student, StudioTake

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


HEARD = "heard"
STAYS: Mapping[str, Mapping[str, Any]] = {  # what is of this place and moment
    "studio": {"scrub_due": False},
    "takes": {"claimed_by": None, "claimed_at": None},
}


class BadValue(ValueError):
    """A value in an export is not what its column holds."""


def exported_columns(table: Table) -> list[Column[Any]]:
    """List the columns that are written as JSON rows."""
    stays = STAYS.get(table.name, {})
    return [column for column in columns_of(table) if column.name not in stays and column.name != HEARD]


LATER_FIELDS: Mapping[str, Mapping[str, object]] = {
    "studio": {
        "path": "",
        "keep_videos": False,
        "second_sealed": "",
        "second_used_step": 0,
        "second_recovery": "",
        "lesson_minutes": 45,
        "feed_made_at": None,
        "feed_sha256": None,
    },
    "takes": {"listened_at": None},
    "book": {"mark": ""},
    "students": {"signed_off": ""},
    "links": {"opens": "stand"},
}


def said_of_words(take: Mapping[str, Any]) -> dict[str, Any]:
    """Turn the words that an export of an earlier form has with a take to something said of it."""
    spoken = {"recording": None, "seconds": None, "unclear": False, "week_id": None}
    at, own = take.get("received_at"), take.get("id")
    told = {"who": "teacher", "text": take.get("words"), "said_at": at, "read_at": at}
    return {**spoken, **told, "id": own, "take_id": own, "student_id": take.get("student_id")}


def to_json(row: Mapping[str, Any], table: Table) -> dict[str, Any]:
    """Turn a row to JSON; a take that was in somebody's hands waits again."""
    written = {column.name: _plain(row[column.name]) for column in exported_columns(table)}
    if written.get("status") == "hearing":
        written |= {"status": "waiting", "progress": 0.0}
    return written


def from_json(written: object, table: Table) -> dict[str, Any]:
    """Turn JSON to a row, or refuse it by name."""
    columns = {column.name: column for column in exported_columns(table)}
    if not isinstance(written, dict) or set(written | _later(table)) != set(columns):
        raise BadValue(f"a row of {table.name} has not the fields {', '.join(columns)}")
    whole = {**_later(table), **written}
    row = {name: _value(whole[name], column) for name, column in columns.items()}
    return {**row, **STAYS.get(table.name, {})}


def _later(table: Table) -> dict[str, object]:
    """Return the fields that an export of an earlier form has not, as they are where nothing was said."""
    return dict(LATER_FIELDS.get(table.name, {}))


def _plain(value: object) -> object:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return value.isoformat() if isinstance(value, date) else value


def _value(written: object, column: Column[Any]) -> object:
    """Read a value as its column's kind."""
    if written is None and column.nullable:
        return None
    try:
        return _value_of_column(written, column)
    except (TypeError, ValueError) as error:
        raise BadValue(f"{column.table.name}.{column.name} is {str(written)[:40]!r}") from error


def _value_of_column(written: object, column: Column[Any]) -> object:
    """Read a value, or raise."""
    kind = column.type
    if isinstance(kind, UtcDateTime):
        return _moment(written)
    if isinstance(kind, Date):
        return date.fromisoformat(_text(written))
    if isinstance(kind, JSON):
        return {_text(name): _text(value) for name, value in _dict(written).items()}
    if isinstance(kind, Boolean):
        return _exactly(written, bool)
    if isinstance(kind, Float):
        return _number(written)
    return _exactly(written, int) if isinstance(kind, Integer) else _text(written)


def _moment(written: object) -> datetime:
    moment = datetime.fromisoformat(_text(written))
    if moment.tzinfo is None:
        raise ValueError("no zone")
    return moment


def _number(written: object) -> float:
    if isinstance(written, bool) or not isinstance(written, int | float) or not math.isfinite(written):
        raise ValueError("no number")
    return float(written)


def _exactly(written: object, kind: type) -> object:
    if type(written) is not kind:
        raise ValueError("of another kind")
    return written


def _text(written: object) -> str:
    if not isinstance(written, str) or "\0" in written:
        raise ValueError("no text")
    return written


def _dict(written: object) -> dict[object, object]:
    if not isinstance(written, dict):
        raise TypeError("no object")
    return written


SCHEMA_ID = "urn:evenhand:label-1"
STUDENT, TAKE, SAID, GOING = "student", "take-", "said-", ".going"
_PLAIN = re.compile(r"[0-9A-Za-z_-]{1,64}")


@dataclass(frozen=True, slots=True)
class Label:
    """What a label says of a take."""

    row: Mapping[str, Any]
    keys: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Going:
    """Something that is being deleted: a take, something spoken, or a whole student."""

    id: str
    what: Literal["student", "take", "said"]
    keys: tuple[str, ...]
    place: Path


class Labels:
    """The folder of labels."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def write_take(self, take: StudioTake, keys: Iterable[str | None] = (), *, sync: bool = True) -> None:
        """Label a take. ``keys`` are recordings of its own besides those that it names."""
        place = self._take(take.student_id, take.id)
        before = _read(place).get("keys", [])
        every = [take.recording, *keys, take.original, *(before if isinstance(before, list) else [])]
        written = {"schema": SCHEMA_ID, "take": to_json(values_of(take), takes), "keys": _keys(every)}
        _write(place, written, sync=sync)

    def write_said(self, spoken: Said, *, sync: bool = True) -> None:
        """Label something spoken."""
        keys = _keys([spoken.recording])
        written = {"schema": SCHEMA_ID, "said": to_json(values_of(spoken), said), "keys": keys}
        _write(self._said(spoken), written, sync=sync)

    def write_student(self, student: Student, *, sync: bool = True) -> None:
        """Label a student."""
        written = {"schema": SCHEMA_ID, "student": to_json(values_of(student), students)}
        _write(self._folder(student.id) / f"{STUDENT}.json", written, sync=sync)

    def has_take(self, student_id: str, take_id: str) -> bool:
        """Tell whether a take has its label."""
        return self._take(student_id, take_id).is_file()

    def has_said(self, spoken: Said) -> bool:
        """Tell whether something spoken has its label."""
        return self._said(spoken).is_file()

    def has_student(self, student_id: str) -> bool:
        """Tell whether a student has a label."""
        return (self._folder(student_id) / f"{STUDENT}.json").is_file()

    def all_takes(self) -> Iterator[Label]:
        """Walk the labels of takes; one that cannot be read says nothing."""
        for place in sorted(self.folder.glob(f"*/{TAKE}*.json")):
            found = _read(place)
            row = _row(found.get("take"), takes, StudioTake)
            if row is not None:
                yield Label(row, tuple(_keys(found.get("keys", []))))

    def all_said(self) -> Iterator[Label]:
        """Walk the labels of what was spoken; one that cannot be read says nothing."""
        for place in sorted(self.folder.glob(f"*/{SAID}*.json")):
            found = _read(place)
            row = _row(found.get("said"), said, Said)
            if row is not None:
                yield Label(row, tuple(_keys(found.get("keys", []))))

    def all_students(self) -> dict[str, Mapping[str, Any]]:
        """Read what the labels know of students, by id."""
        found = (
            _row(_read(place).get("student"), students, Student)
            for place in self.folder.glob(f"*/{STUDENT}.json")
        )
        return {row["id"]: row for row in found if row is not None}

    def keys_of_student(self, student_id: str) -> list[str]:
        """List every recording that was a student's, as the labels know it."""
        places = [
            place for kind in (TAKE, SAID) for place in sorted(self._folder(student_id).glob(f"{kind}*"))
        ]
        return _keys(key for place in places for key in _keys(_read(place).get("keys", [])))

    def keys_of_take(self, take: StudioTake) -> list[str]:
        """List every recording that was a take's."""
        place = self._take(take.student_id, take.id)
        return _keys([take.recording, take.original, *_keys(_read(place).get("keys", []))])

    def take_goes(self, take: StudioTake, spoken: Iterable[str | None] = ()) -> list[str]:
        """Note that a take is being deleted, and list its recordings, those ``spoken`` of it too."""
        place, keys = self._take(take.student_id, take.id), _keys([*self.keys_of_take(take), *spoken])
        _write(place.with_suffix(GOING), {"id": take.id, "keys": keys}, sync=True)
        return keys

    def said_goes(self, spoken: Said) -> list[str]:
        """Note that something spoken is being deleted, and list its recording."""
        keys = _keys([spoken.recording])
        _write(self._said(spoken).with_suffix(GOING), {"id": spoken.id, "keys": keys}, sync=True)
        return keys

    def student_goes(self, student_id: str, keys: Iterable[str | None]) -> list[str]:
        """Note that a student is being erased, and list the recordings that were theirs."""
        every = _keys([*keys, *self.keys_of_student(student_id)])
        place = self._folder(student_id) / f"{STUDENT}{GOING}"
        _write(place, {"id": student_id, "keys": every}, sync=True)
        return every

    def all_going(self) -> list[Going]:
        """List what was being deleted when something broke off."""
        found = []
        for place in sorted(self.folder.glob(f"*/*{GOING}")):
            noted = _read(place)
            if isinstance(noted.get("id"), str):
                keys = tuple(_keys(noted.get("keys", [])))
                found.append(Going(noted["id"], _what(place), keys, place))
        return found

    def remove(self, going: Going) -> None:
        """Remove the labels of what is gone."""
        if going.what == "student":
            shutil.rmtree(going.place.parent, ignore_errors=True)
        else:
            if going.what == "take":
                self._remove_said(going.place.parent, going.id)
            going.place.with_suffix(".json").unlink(missing_ok=True)
            going.place.unlink(missing_ok=True)

    def remove_take(self, student_id: str, take_id: str) -> None:
        """Remove a take's label, and that it was going."""
        place = self._take(student_id, take_id)
        place.unlink(missing_ok=True)
        self._remove_said(place.parent, take_id)
        place.with_suffix(GOING).unlink(missing_ok=True)
        with suppress(OSError):  # it holds others
            place.parent.rmdir()

    def remove_said(self, spoken: Said) -> None:
        """Remove the label of something spoken, and that it was going."""
        for suffix in (".json", GOING):
            self._said(spoken).with_suffix(suffix).unlink(missing_ok=True)

    def _remove_said(self, folder: Path, about: str) -> None:
        """Remove the labels of all that was spoken of a take."""
        for place in folder.glob(f"{SAID}{_name(about)}-*"):
            place.unlink(missing_ok=True)

    def remove_student(self, student_id: str) -> None:
        """Remove all labels of a student."""
        shutil.rmtree(self._folder(student_id), ignore_errors=True)

    def _folder(self, student_id: str) -> Path:
        return self.folder / _name(student_id)

    def _said(self, spoken: Said) -> Path:
        about = _name(spoken.take_id or spoken.week_id or "none")
        return self._folder(spoken.student_id) / f"{SAID}{about}-{_name(spoken.id)}.json"

    def _take(self, student_id: str, take_id: str) -> Path:
        return self._folder(student_id) / f"{TAKE}{_name(take_id)}.json"


def _what(place: Path) -> Literal["student", "take", "said"]:
    """Tell by its name what a note is of that something goes."""
    if place.stem == STUDENT:
        return "student"
    return "said" if place.name.startswith(SAID) else "take"


def _name(id: str) -> str:  # noqa: A002 - the contract's word
    """Turn an id to a file's name; one that came from elsewhere never leads out of the folder.

    >>> _name("0f3a"), _name("../x")[:4]
    ('0f3a', 'x-d6')
    """
    return id if _PLAIN.fullmatch(id) else f"x-{hashlib.sha256(id.encode()).hexdigest()}"


def _keys(found: object) -> list[str]:
    """List keys, each once and in their order; what is none is left out."""
    if not isinstance(found, Iterable):
        return []
    return list(dict.fromkeys(key for key in found if isinstance(key, str) and KEY.fullmatch(key)))


def _read(place: Path) -> dict[str, Any]:
    """Read a label; one that is not there, or broken, says nothing."""
    with suppress(OSError, ValueError, RecursionError):
        found = json.loads(place.read_bytes())
        if isinstance(found, dict):
            return found
    return {}


def _write(place: Path, said: Mapping[str, Any], *, sync: bool) -> None:
    """Write a label whole or not at all."""
    beside = place.with_name(f".{secrets.token_hex(8)}")
    with disk_errors(str(place.parent)):
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        try:
            with beside.open("x", encoding="utf-8") as file:
                beside.chmod(0o600)
                json.dump(said, file, ensure_ascii=False)
                file.flush()
                if sync:
                    os.fsync(file.fileno())
            beside.replace(place)
        finally:
            beside.unlink(missing_ok=True)


def _row(written: object, table: Table, kind: type[DataclassInstance]) -> dict[str, Any] | None:
    """Make a row of a label; fields that an older version did not know take their usual value."""
    if not isinstance(written, dict):
        return None
    names = [column.name for column in exported_columns(table)]
    usual = {each.name: each.default for each in fields(kind) if each.default is not MISSING}
    try:
        return from_json({name: written.get(name, usual.get(name)) for name in names}, table)
    except BadValue:
        return None
