"""The form of an export: which members a zip has, and rows as JSON.

    manifest.json            schema, version, moment; SHA-256 and length of every other member
    README.txt               what this is, for who opens it
    data/<table>.json        the rows, field by field; moments in UTC as ISO 8601
    heard/<take>.json        what was heard of a take (docs/json.md); by a hearing's id, another version of it
    recordings/ab/<key>      the recordings, by their content
    tables/<table>.csv       the same for people with a spreadsheet; never read back

The teacher's password goes with it as its Argon2 hash and the links as their SHA-256, so both work
on in the new place. Sessions and known devices stay behind: everybody comes
in anew. The second factor goes along, sealed with the password.

A backup is a zip with a manifest, too (``backup.py``): both are written and read here.

A file that says it is one is read with suspicion: nothing is believed before it is checked.
Checked are the members' names against a list of what there can be, their lengths and SHA-256
against the manifest, how far they unpack, and that they do not overlap in the file.
"""

from __future__ import annotations

import errno
import hashlib
import json
import re
import shutil
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from sqlalchemy import Table

import evenhand
from evenhand.errors import BadExport, CannotWrite, DiskFull
from evenhand.studio.store.layout import RECORDINGS, trouble_of, whole_file
from evenhand.studio.store.places.aside import KEY
from evenhand.studio.store.recordings import Recordings, is_sound
from evenhand.studio.store.tables import (
    acts,
    book,
    book_changes,
    devices,
    drafts,
    hearings,
    holidays,
    lesson_changes,
    links,
    said,
    students,
    studio,
    takes,
    weeks,
)

Progress = Callable[[float], None]  # the share done, 0 to 1

SCHEMA_ID = "urn:evenhand:studio-1"
MANIFEST, README = "manifest.json", "README.txt"
TABLES: tuple[Table, ...] = (  # parents first
    studio,
    students,
    links,
    weeks,
    drafts,
    takes,
    hearings,
    said,
    devices,
    lesson_changes,
    holidays,
    book,
    book_changes,
    acts,
)
_AT_ONCE = 1 << 20
# tables that an older export has not
LATER = frozenset({"drafts", "said", "lesson_changes", "holidays", "book_changes", "acts", "hearings"})

_MEMBERS = re.compile(
    r"README\.txt"
    rf"|data/({'|'.join(table.name for table in TABLES)})\.json"
    r"|tables/(students|weeks|takes|said|book|acts)\.csv"
    r"|heard/[0-9A-Za-z_-]{1,64}\.json"
    r"|recordings/(?P<first>[0-9a-f]{2})/(?P=first)[0-9a-f]{62}\.[a-z0-9]{1,5}"
)


def may_be_member(name: str) -> bool:
    """Tell whether an export can have a member of this name; none of them leads out of a folder.

    >>> may_be_member("data/takes.json"), may_be_member("../data/takes.json")
    (True, False)
    """
    return _MEMBERS.fullmatch(name) is not None


@contextmanager
def written_whole(path: Path) -> Iterator[IO[bytes]]:
    """Lend a file to be written, whole or not at all; what the disk says leaves as our own error."""
    try:
        with whole_file(path) as file:
            yield file
    except OSError as error:
        trouble = trouble_of(error, str(path.parent))
        if isinstance(trouble, DiskFull):
            raise trouble from error
        raise CannotWrite(name=str(path), got=error.strerror or str(error)) from error


@dataclass(slots=True)
class ArchiveWriter:
    """A zip that is being written, the list of its members, and the recordings that were not whole."""

    archive: zipfile.ZipFile
    members: dict[str, dict[str, str | int]] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)

    def add_text(self, name: str, text: str) -> None:
        """Add a member of text."""
        data = text.encode("utf-8")
        self.archive.writestr(name, data)
        self.members[name] = {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}

    def add_file(self, name: str, place: Path, sha256: str) -> None:
        """Add a file as it is, by its hash."""
        n_bytes, info = 0, zipfile.ZipInfo(name)
        info.file_size = place.stat().st_size
        with place.open("rb") as source, self.archive.open(info, "w") as target:
            while block := source.read(_AT_ONCE):
                n_bytes += target.write(block)
        self.members[name] = {"sha256": sha256, "bytes": n_bytes}

    def add_recordings(
        self, find: Callable[[str], Path | None], keys: Sequence[str], progress: Progress
    ) -> None:
        """Add recordings; one that is gone or no longer what its key says is listed as missing."""
        for done, key in enumerate(keys, start=1):
            place = find(key)
            if place is not None and is_sound(place, key):
                self.add_file(f"{RECORDINGS}/{key}", place, Path(key).stem)
            else:
                self.missing.append(key)
            progress(done / len(keys))

    def finish(self, schema: str, moment: datetime) -> None:
        """Write the manifest, which comes last."""
        manifest = {
            "schema": schema,
            "version": evenhand.__version__,
            "exported_at": moment.isoformat(),
            "members": self.members,
            "missing": self.missing,
        }
        self.archive.writestr(MANIFEST, json_of(manifest))


def json_of(value: object) -> str:
    """Write a member as JSON."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def quiet(_done: float) -> None:
    """Tell nobody how much is done."""


MANIFEST_BYTES = 128 << 20  # half a million members
JSON_BYTES = 128 << 20
MOST_RATIO, RATIO_FROM_BYTES = 200, 1 << 20  # JSON packs to a tenth; what unpacks further is a trap
_HEAD_BYTES = 30  # before each member in a zip
_ENCRYPTED = 0x1


@dataclass(frozen=True, slots=True)
class ArchiveForm:
    """What a file must be: its schema, which command wrote it, which members it can have and must have."""

    schema: str
    wrote: str
    may_have: Callable[[str], bool]
    must_have: tuple[str, ...]


EXPORT = ArchiveForm(
    SCHEMA_ID,
    "evenhand export-studio",
    may_be_member,
    tuple(f"data/{table.name}.json" for table in TABLES if table.name not in LATER),
)


class ExportFile:
    """An export, opened; every act raises BadExport where the file is not what it says."""

    def __init__(self, path: Path, archive: zipfile.ZipFile, form: ArchiveForm = EXPORT) -> None:
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

    def unpack_recordings(self, folder: Path) -> None:
        """Unpack the recordings; each has its own hash in its name."""
        recordings = Recordings(folder)
        recordings.make()
        for name in self.members:
            if not name.startswith(f"{RECORDINGS}/"):
                continue
            with recordings.unfinished() as place:
                self.unpack(name, place)
                if f"{RECORDINGS}/{recordings.add(place)}" != name:
                    raise self.bad(f"{name} is not what its name says")

    def check_room(self, place: Path) -> None:
        """Refuse what the disk cannot hold."""
        if sum(info.file_size for info in self._infos.values()) > shutil.disk_usage(place).free:
            raise DiskFull(where=str(place.parent))

    def check_named(self, keys: Iterable[str | None]) -> None:
        """Let every recording that a take names be in the file, or be known to be missing."""
        for key in keys:
            if key is None or f"{RECORDINGS}/{key}" in self.members:
                continue
            if not KEY.fullmatch(key) or key not in self.missing:
                raise self.bad(f"a take's recording {key[:80]!r} is not in it")

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
        except OSError as error:
            if error.errno != errno.EINVAL:  # what looks for a member before the file's beginning
                raise
            raise self.bad(f"{name} is not where the file says") from error
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
def opened(path: Path, form: ArchiveForm = EXPORT) -> Iterator[ExportFile]:
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
