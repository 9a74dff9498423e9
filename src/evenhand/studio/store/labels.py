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
import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import MISSING, dataclass, fields
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any, Literal

from sqlalchemy import JSON, Boolean, Column, Date, Float, Integer, Table

from evenhand.studio.store.layout import LABELS
from evenhand.studio.store.places.aside import KEY
from evenhand.studio.store.places.files import Files, json_in, write_json
from evenhand.studio.store.rows.kinds import UtcDateTime
from evenhand.studio.store.tables import columns_of, said, students, takes, values_of
from evenhand.studio.values import Said, Student, StudioTake

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


HEARD = "heard"
STAYS: Mapping[str, Mapping[str, Any]] = {  # what is of this place and moment
    "studio": {"scrub_due": False},
    "takes": {"claimed_by": None, "claimed_at": None, "waits_until": None},
    "hearings": {"claimed_by": None, "claimed_at": None},
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
    "takes": {"listened_at": None, "urgency": "student", "set_aside_at": None},
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
    name: str


class Labels:
    """The folder of labels."""

    def __init__(self, files: Files) -> None:
        self._files = files

    def write_take(self, take: StudioTake, keys: Iterable[str | None] = (), *, sync: bool = True) -> None:
        """Label a take. ``keys`` are recordings of its own besides those that it names."""
        name = self._take(take.student_id, take.id)
        before = self._read(name).get("keys", [])
        every = [take.recording, *keys, take.original, *(before if isinstance(before, list) else [])]
        written = {"schema": SCHEMA_ID, "take": to_json(values_of(take), takes), "keys": _keys(every)}
        write_json(self._files, name, written, sync=sync)

    def write_said(self, spoken: Said, *, sync: bool = True) -> None:
        """Label something spoken."""
        keys = _keys([spoken.recording])
        written = {"schema": SCHEMA_ID, "said": to_json(values_of(spoken), said), "keys": keys}
        write_json(self._files, self._said(spoken), written, sync=sync)

    def write_student(self, student: Student, *, sync: bool = True) -> None:
        """Label a student."""
        written = {"schema": SCHEMA_ID, "student": to_json(values_of(student), students)}
        write_json(self._files, self._student(student.id), written, sync=sync)

    def lacking(self, every: Iterable[Student | Said]) -> list[Student | Said]:
        """List those that have no label."""
        there = set(self._files.names(LABELS))
        return [each for each in every if self._of(each) not in there]

    def lacking_takes(self, ids: Iterable[tuple[str, str]]) -> list[str]:
        """List those of the takes, by student and id, that have no label."""
        there = set(self._files.names(LABELS))
        return [take_id for student_id, take_id in ids if self._take(student_id, take_id) not in there]

    def all_takes(self) -> Iterator[Label]:
        """Walk the labels of takes; one that cannot be read says nothing."""
        for found in self._all(TAKE):
            row = _row(found.get("take"), takes, StudioTake)
            if row is not None:
                yield Label(row, tuple(_keys(found.get("keys", []))))

    def all_said(self) -> Iterator[Label]:
        """Walk the labels of what was spoken; one that cannot be read says nothing."""
        for found in self._all(SAID):
            row = _row(found.get("said"), said, Said)
            if row is not None:
                yield Label(row, tuple(_keys(found.get("keys", []))))

    def all_students(self) -> dict[str, Mapping[str, Any]]:
        """Read what the labels know of students, by id."""
        found = (_row(each.get("student"), students, Student) for each in self._all(STUDENT))
        return {row["id"]: row for row in found if row is not None}

    def keys_of_student(self, student_id: str) -> list[str]:
        """List every recording that was a student's, as the labels know it."""
        names = [name for name in self._files.names(self._folder(student_id)) if _kind(name) != STUDENT]
        return _keys(key for found in map(self._read, names) for key in _keys(found.get("keys", [])))

    def keys_of_take(self, take: StudioTake) -> list[str]:
        """List every recording that was a take's."""
        found = self._read(self._take(take.student_id, take.id))
        return _keys([take.recording, take.original, *_keys(found.get("keys", []))])

    def take_goes(self, take: StudioTake, spoken: Iterable[str | None] = ()) -> list[str]:
        """Note that a take is being deleted, and list its recordings, those ``spoken`` of it too."""
        name, keys = self._take(take.student_id, take.id), _keys([*self.keys_of_take(take), *spoken])
        write_json(self._files, _going(name), {"id": take.id, "keys": keys})
        return keys

    def said_goes(self, spoken: Said) -> list[str]:
        """Note that something spoken is being deleted, and list its recording."""
        keys = _keys([spoken.recording])
        write_json(self._files, _going(self._said(spoken)), {"id": spoken.id, "keys": keys})
        return keys

    def student_goes(self, student_id: str, keys: Iterable[str | None]) -> list[str]:
        """Note that a student is being erased, and list the recordings that were theirs."""
        every = _keys([*keys, *self.keys_of_student(student_id)])
        write_json(self._files, _going(self._student(student_id)), {"id": student_id, "keys": every})
        return every

    def all_going(self) -> list[Going]:
        """List what was being deleted when something broke off."""
        found = []
        for name in self._files.names(LABELS):
            noted = self._read(name) if name.endswith(GOING) else {}
            if isinstance(noted.get("id"), str):
                keys = tuple(_keys(noted.get("keys", [])))
                found.append(Going(noted["id"], _what(name), keys, name))
        return found

    def remove(self, going: Going) -> None:
        """Remove the labels of what is gone."""
        folder = going.name.rpartition("/")[0]
        if going.what == "student":
            self._files.remove_all(folder)
        else:
            if going.what == "take":
                self._remove_said(folder, going.id)
            self._files.remove(going.name.removesuffix(GOING) + ".json")
            self.stays(going)

    def stays(self, going: Going) -> None:
        """Note that something is not going, any more or after all."""
        self._files.remove(going.name)

    def remove_take(self, student_id: str, take_id: str) -> None:
        """Remove a take's label, and that it was going."""
        name, folder = self._take(student_id, take_id), self._folder(student_id)
        self._files.remove(name)
        self._remove_said(folder, take_id)
        self._files.remove(_going(name))
        self._files.tidy(folder)

    def remove_said(self, spoken: Said) -> None:
        """Remove the label of something spoken, and that it was going."""
        for name in (self._said(spoken), _going(self._said(spoken))):
            self._files.remove(name)

    def _remove_said(self, folder: str, about: str) -> None:
        """Remove the labels of all that was spoken of a take."""
        for name in self._files.names(folder):
            if name.startswith(f"{folder}/{SAID}{_name(about)}-"):
                self._files.remove(name)

    def remove_student(self, student_id: str) -> None:
        """Remove all labels of a student."""
        self._files.remove_all(self._folder(student_id))

    def _read(self, name: str) -> dict[str, Any]:
        return json_in(self._files, name)

    def _all(self, kind: str) -> Iterator[dict[str, Any]]:
        """Read all labels of a kind."""
        names = (name for name in self._files.names(LABELS) if name.endswith(".json"))
        return (self._read(name) for name in names if _kind(name) == kind)

    def _of(self, each: Student | Said) -> str:
        return self._student(each.id) if isinstance(each, Student) else self._said(each)

    def _folder(self, student_id: str) -> str:
        return f"{LABELS}/{_name(student_id)}"

    def _student(self, student_id: str) -> str:
        return f"{self._folder(student_id)}/{STUDENT}.json"

    def _said(self, spoken: Said) -> str:
        about = _name(spoken.take_id or spoken.week_id or "none")
        return f"{self._folder(spoken.student_id)}/{SAID}{about}-{_name(spoken.id)}.json"

    def _take(self, student_id: str, take_id: str) -> str:
        return f"{self._folder(student_id)}/{TAKE}{_name(take_id)}.json"


def _going(name: str) -> str:
    """Name the note that something goes, by its label's name."""
    return name.removesuffix(".json") + GOING


def _kind(name: str) -> str:
    """Tell by its name what a label, or a note that something goes, is of."""
    last = name.rpartition("/")[2]
    return next((kind for kind in (TAKE, SAID) if last.startswith(kind)), STUDENT)


def _what(name: str) -> Literal["student", "take", "said"]:
    """Tell by its name what a note is of that something goes."""
    kinds: dict[str, Literal["student", "take", "said"]] = {TAKE: "take", SAID: "said"}
    return kinds.get(_kind(name), "student")


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
