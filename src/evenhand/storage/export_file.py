"""A file that says it is an export, read with suspicion: nothing is believed before it is checked.

Checked are the members' names against a list of what there can be, their lengths and SHA-256
against the manifest, how far they unpack, and that they do not overlap in the file.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from evenhand.errors import BadExport
from evenhand.storage.export_form import LATER, MANIFEST, SCHEMA_ID, TABLES, may_be_member

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
