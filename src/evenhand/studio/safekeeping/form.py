"""The form of an export: which members a zip has, and rows as JSON.

    manifest.json            schema, version, moment; SHA-256 and length of every other member
    README.txt               what this is, for who opens it
    data/<table>.json        the rows, field by field; moments in UTC as ISO 8601
    heard/<take>.json        what was heard of a take (docs/json.md)
    recordings/ab/<key>      the recordings, by their content
    tables/<table>.csv       the same for people with a spreadsheet; never read back

The teacher's password goes with it as its Argon2 hash and the links as their SHA-256, so both work
on in the new place. Sessions, known devices and the log stay behind: everybody comes
in anew.

A file that says it is an export, read with suspicion: nothing is believed before it is checked.

Checked are the members' names against a list of what there can be, their lengths and SHA-256
against the manifest, how far they unpack, and that they do not overlap in the file.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import JSON, Boolean, Column, Date, Float, Integer, Table

from evenhand.errors import BadExport
from evenhand.studio.store.tables import Moment, book, devices, drafts, links, students, studio, takes, weeks

SCHEMA_ID = "urn:evenhand:studio-1"
MANIFEST, README = "manifest.json", "README.txt"
TABLES: tuple[Table, ...] = (studio, students, links, weeks, drafts, takes, devices, book)  # parents first
LATER = frozenset({"drafts"})  # tables that an older export has not
STAYS: Mapping[str, Mapping[str, Any]] = {  # what is of this place and moment
    "studio": {"scrub_due": False},
    "takes": {"claimed_by": None, "claimed_at": None},
}
HEARD = "heard"

_MEMBERS = re.compile(
    r"README\.txt"
    r"|data/(studio|students|links|weeks|drafts|takes|devices|book)\.json"
    r"|tables/(students|weeks|takes|book)\.csv"
    r"|heard/[0-9A-Za-z_-]{1,64}\.json"
    r"|recordings/([0-9a-f]{2})/\3[0-9a-f]{62}\.[a-z0-9]{1,5}"
)


class BadValue(ValueError):
    """A value in an export is not what its column holds."""


def may_be_member(name: str) -> bool:
    """Tell whether an export can have a member of this name; none of them leads out of a folder.

    >>> may_be_member("data/takes.json"), may_be_member("../data/takes.json")
    (True, False)
    """
    return _MEMBERS.fullmatch(name) is not None


def exported_columns(table: Table) -> list[Column[Any]]:
    """List the columns that are written as JSON rows."""
    stays = STAYS.get(table.name, {})
    return [column for column in table.columns if column.name not in stays and column.name != HEARD]


def to_json(row: Mapping[str, Any], table: Table) -> dict[str, Any]:
    """Turn a row to JSON; a take that was in somebody's hands waits again."""
    written = {column.name: _plain(row[column.name]) for column in exported_columns(table)}
    if written.get("status") == "hearing":
        written |= {"status": "waiting", "progress": 0.0}
    return written


def from_json(written: object, table: Table) -> dict[str, Any]:
    """Turn JSON to a row, or refuse it by name."""
    columns = {column.name: column for column in exported_columns(table)}
    if not isinstance(written, dict) or set(written) != set(columns):
        raise BadValue(f"a row of {table.name} has not the fields {', '.join(columns)}")
    row = {name: _value(written[name], column) for name, column in columns.items()}
    return {**row, **STAYS.get(table.name, {})}


def _plain(value: object) -> object:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return value.isoformat() if isinstance(value, date) else value


def _value(written: object, column: Column[Any]) -> object:
    """Read a value as its column's kind."""
    if written is None and column.nullable:
        return None
    try:
        return _read(written, column)
    except (TypeError, ValueError) as error:
        raise BadValue(f"{column.table.name}.{column.name} is {str(written)[:40]!r}") from error


def _read(written: object, column: Column[Any]) -> object:
    """Read a value, or raise."""
    kind = column.type
    if isinstance(kind, Moment):
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


MANIFEST_BYTES = 128 << 20  # half a million members
JSON_BYTES = 128 << 20
MOST_RATIO, RATIO_FROM_BYTES = 200, 1 << 20  # JSON packs to a tenth; what unpacks further is a trap
_AT_ONCE = 1 << 20
_HEAD_BYTES = 30  # before each member in a zip
_ENCRYPTED = 0x1


@dataclass(frozen=True, slots=True)
class Form:
    """What a file must be: its schema, which command wrote it, which members it can have and must have."""

    schema: str
    wrote: str
    may_have: Callable[[str], bool]
    must_have: tuple[str, ...]


EXPORT = Form(
    SCHEMA_ID,
    "evenhand export-studio",
    may_be_member,
    tuple(f"data/{table.name}.json" for table in TABLES if table.name not in LATER),
)


class ExportFile:
    """An export, opened; every act raises BadExport where the file is not what it says."""

    def __init__(self, path: Path, archive: zipfile.ZipFile, form: Form = EXPORT) -> None:
        self.name = path.name
        self._form = form
        self._archive = archive
        self._infos = self._listed(path.stat().st_size)
        manifest = self._object(self._unpacked(MANIFEST, MANIFEST_BYTES))
        if manifest.get("schema") != form.schema:
            raise self.bad(f"its schema is {str(manifest.get('schema'))[:60]!r}, not {form.schema!r}")
        self.moment = str(manifest.get("exported_at"))[:40]
        self.members: dict[str, Any] = self._dict(manifest.get("members"))
        missing = manifest.get("missing", [])
        self.missing = frozenset(str(key) for key in missing) if isinstance(missing, list) else frozenset()
        self._check_members()

    def bad(self, got: str) -> BadExport:
        """Make the error that says what is wrong with this file."""
        return BadExport(name=self.name, got=got, wrote=self._form.wrote)

    def rows(self, table: str) -> list[object]:
        """Read a table's rows; none of one that came later than this export."""
        name = f"data/{table}.json"
        if table in LATER and name not in self.members:
            return []
        found = self._json(self._checked_bytes(name))
        if not isinstance(found, list):
            raise self.bad(f"{name} is no list")
        return found

    def text(self, name: str) -> str:
        """Read a member of JSON as text."""
        data = self._checked_bytes(name)
        self._object(data)
        return data.decode("utf-8")

    def unpack(self, name: str, place: Path) -> None:
        """Write a member to a place, checked while it is written; it is never longer than it is listed."""
        found, n_bytes = hashlib.sha256(), 0
        with self._reading(name) as source, place.open("xb") as target:
            place.chmod(0o600)
            while block := source.read(_AT_ONCE):
                n_bytes += target.write(block)
                found.update(block)
        self._check_hash(name, found.hexdigest(), n_bytes)

    def unpacked_bytes(self) -> int:
        """Tell how much room all members take."""
        return sum(info.file_size for info in self._infos.values())

    def _listed(self, file_bytes: int) -> dict[str, zipfile.ZipInfo]:
        """List the members, none of them twice, outside, locked, or unpacking without measure."""
        infos = self._archive.infolist()
        found = {info.filename: info for info in infos}
        if len(found) != len(infos):
            raise self.bad("a member is in it twice")
        if MANIFEST not in found:
            raise self.bad(f"it has no {MANIFEST}")
        for name, info in found.items():
            if name != MANIFEST and not self._form.may_have(name):
                raise self.bad(f"a member is called {name[:80]!r}")
            if info.flag_bits & _ENCRYPTED or info.compress_type not in {
                zipfile.ZIP_STORED,
                zipfile.ZIP_DEFLATED,
            }:
                raise self.bad(f"{name} is packed in another way")
            if info.file_size > max(RATIO_FROM_BYTES, MOST_RATIO * info.compress_size):
                raise self.bad(f"{name} unpacks to {info.file_size} bytes from {info.compress_size}")
        if sum(info.compress_size + _HEAD_BYTES for info in infos) > file_bytes:
            raise self.bad("its members overlap")
        return found

    def _check_members(self) -> None:
        """Let the manifest name every member, and every table be there."""
        if set(self.members) != set(self._infos) - {MANIFEST}:
            raise self.bad("its manifest names other members than it has")
        for name in self._form.must_have:
            if name not in self.members:
                raise self.bad(f"it has no {name}")

    def _checked_bytes(self, name: str) -> bytes:
        """Read a member that fits memory, and check it."""
        data = self._unpacked(name, JSON_BYTES)
        self._check_hash(name, hashlib.sha256(data).hexdigest(), len(data))
        return data

    def _check_hash(self, name: str, sha256: str, n_bytes: int) -> None:
        """Hold a member against the manifest."""
        if self._dict(self.members[name]) != {"sha256": sha256, "bytes": n_bytes}:
            raise self.bad(f"{name} is not what the manifest says")

    def _unpacked(self, name: str, most: int) -> bytes:
        if self._infos[name].file_size > most:
            raise self.bad(f"{name} is longer than {most} bytes")
        with self._reading(name) as source:
            data: bytes = source.read()
        return data

    @contextmanager
    def _reading(self, name: str) -> Iterator[Any]:
        """Read a member; what breaks on the way is the file's fault."""
        try:
            with self._archive.open(self._infos[name]) as source:
                yield source
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
            raise self.bad(f"{name} cannot be unpacked ({error})") from error

    def _object(self, data: bytes) -> dict[str, Any]:
        return self._dict(self._json(data))

    def _json(self, data: bytes) -> object:
        try:
            return json.loads(data)
        except (ValueError, RecursionError) as error:
            raise self.bad("it holds JSON that cannot be read") from error

    def _dict(self, found: object) -> dict[str, Any]:
        if not isinstance(found, dict):
            raise self.bad("it holds JSON of another form")
        return found


@contextmanager
def opened(path: Path, form: Form = EXPORT) -> Iterator[ExportFile]:
    """Open an export, or a file of another form."""
    try:
        archive = zipfile.ZipFile(path)
    except FileNotFoundError as error:
        raise BadExport(name=path.name, wrote=form.wrote, got="there is no such file") from error
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise BadExport(
            name=path.name, wrote=form.wrote, got=f"it is not a zip file, or not a whole one ({error})"
        ) from error
    with archive:
        yield ExportFile(path, archive, form)
