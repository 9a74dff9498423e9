"""Where recordings and labels lie: by name, in a folder or in a store of objects (``bucket.py``).

Conventions: a name is a path below the studio's own place, ``recordings/ab/<sha256>.flac``, with "/" in it
and never a ``..``. What is written is whole or not there. Reading and looking give None, or nothing, for what
is not there; to remove it is fine; to move it raises FileNotFoundError. Trouble that is nobody's fault leaves
as CannotKeep.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Protocol

from evenhand.studio.store.layout import disk_errors

INCOMING = "incoming"  # what was sent by a ticket and belongs to no take yet


@dataclass(frozen=True, slots=True)
class Ticket:
    """A link by which one file may be sent to where recordings lie, and the headers that go with it."""

    url: str
    headers: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Arrived:
    """What was sent by a ticket: its length, its SHA-256 in hexadecimal digits, its first bytes."""

    n_bytes: int
    sha256: str
    head: bytes


class Files(Protocol):
    """What recordings, labels and what was set aside lie in."""

    where: str  # as a person calls it
    lying: str  # "on the disk", or where else it lies

    def names(self, under: str) -> list[str]:
        """List the names in a folder and below, sorted; what is being written is none of them."""

    def folders(self, under: str) -> list[str]:
        """List the names of the folders in a folder, the last part only, sorted."""

    def find(self, under: str, ending: str) -> list[str]:
        """List what has a name that ends so, in a folder."""

    def read(self, name: str) -> bytes | None:
        """Read all of it."""

    def write(self, name: str, content: bytes, *, sync: bool = True) -> None:
        """Write it, in the place of what is there."""

    def settle(self, place: Path, name: str) -> None:
        """Move a synced file here from the disk; its name has its hash. It survives a power cut then."""

    def move(self, name: str, to: str) -> None:
        """Give it another name."""

    def size(self, name: str) -> int | None:
        """Tell how many bytes it has."""

    def written_at(self, name: str) -> datetime:
        """Tell when it was written, UTC."""

    def digest(self, name: str) -> str | None:
        """Tell the SHA-256 of its bytes, as they are read now, in hexadecimal digits."""

    def lend(self, name: str) -> Path | None:
        """Say where it lies on the disk, or a copy of it."""

    def remove(self, name: str) -> None:
        """Remove it."""

    def remove_all(self, under: str) -> None:
        """Remove a folder with all that is in it."""

    # What a folder of the disk has no need of.

    def check(self) -> None:
        """Look once whether it can be reached, so that what is wrong is said at the start."""
        return

    def sizes(self, under: str) -> dict[str, int]:  # noqa: ARG002 - as the others have it
        """List sizes by name, bytes, where one question for all is cheaper than one for each; else none."""
        return {}

    def tidy(self, under: str) -> None:  # noqa: ARG002 - the same
        """Remove a folder that is empty."""
        return

    def works(self) -> bool:
        """Tell whether something can be kept; what is tried is gone afterwards."""
        return True

    def sweep(self, older_than_s: float) -> int:  # noqa: ARG002 - as the others have it
        """Remove what nobody finished; tell how much that was."""
        return 0

    def let_go(self, name: str) -> None:  # noqa: ARG002 - the same
        """Remove the copy that was lent."""
        return

    def close(self) -> None:
        """Be done with it."""
        return

    def link(self, name: str, headers: Mapping[str, str]) -> str | None:  # noqa: ARG002 - the same
        """Give a link by which a browser reads it, for some minutes; None where there is none such."""
        return None

    def ticket(self, name: str, n_bytes: int) -> Ticket | None:  # noqa: ARG002 - the same
        """Give a link by which a browser sends it; None where there is none such."""
        return None

    def arrived(self, name: str) -> Arrived | None:  # noqa: ARG002 - the same
        """Tell what was sent by a ticket."""
        return None

    def copy(self, name: str, to: str) -> None:  # noqa: ARG002 - the same
        """Let it be there by another name, too; only what has tickets does."""
        return


class FolderFiles(Files):
    """A folder of the disk."""

    lying = "on the disk"

    def __init__(self, root: Path) -> None:
        self.root, self.where = root, str(root)

    def names(self, under: str) -> list[str]:
        """List the names in a folder and below."""
        found = (place for place in _walked(self.root / under) if not place.name.startswith("."))
        return sorted(place.relative_to(self.root).as_posix() for place in found)

    def folders(self, under: str) -> list[str]:
        """List the folders in a folder."""
        with suppress(FileNotFoundError):
            return sorted(place.name for place in (self.root / under).iterdir() if place.is_dir())
        return []

    def find(self, under: str, ending: str) -> list[str]:
        """List what has a name that ends so, however deep it lies."""
        return sorted(place.relative_to(self.root).as_posix() for place in (self.root / under).rglob(ending))

    def read(self, name: str) -> bytes | None:
        """Read all of a file."""
        with suppress(OSError):
            return (self.root / name).read_bytes()
        return None

    def write(self, name: str, content: bytes, *, sync: bool = True) -> None:
        """Write a file whole or not at all."""
        place = self.root / name
        beside = place.with_name(f".{secrets.token_hex(8)}")
        with disk_errors(str(place.parent)):
            place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            try:
                with beside.open("xb") as file:
                    beside.chmod(0o600)
                    file.write(content)
                    file.flush()
                    if sync:
                        os.fsync(file.fileno())
                beside.replace(place)
            finally:
                beside.unlink(missing_ok=True)

    def settle(self, place: Path, name: str) -> None:
        """Move a synced file to its place, and sync the folder."""
        folder = (self.root / name).parent
        if not folder.is_dir():
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            _sync_folder(folder.parent)
        place.replace(self.root / name)
        _sync_folder(folder)

    def move(self, name: str, to: str) -> None:
        """Give a file another name; its new folder is synced."""
        with disk_errors(self.where):
            (self.root / to).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            self.settle(self.root / name, to)

    def size(self, name: str) -> int | None:
        """Tell how many bytes a file has."""
        with suppress(OSError):
            return (self.root / name).stat().st_size
        return None

    def written_at(self, name: str) -> datetime:
        """Tell when a file was written."""
        return datetime.fromtimestamp((self.root / name).stat().st_mtime, UTC)

    def digest(self, name: str) -> str | None:
        """Hash a file."""
        return digest_of(self.root / name)

    def lend(self, name: str) -> Path | None:
        """Say where a file lies."""
        place = self.root / name
        return place if place.is_file() else None

    def remove(self, name: str) -> None:
        """Remove a file."""
        (self.root / name).unlink(missing_ok=True)

    def remove_all(self, under: str) -> None:
        """Remove a folder."""
        shutil.rmtree(self.root / under, ignore_errors=True)

    def tidy(self, under: str) -> None:
        """Remove a folder that is empty."""
        with suppress(OSError):  # it holds others
            (self.root / under).rmdir()


def json_in(files: Files, name: str) -> dict[str, Any]:
    """Read an object of JSON; one that is not there, or broken, says nothing."""
    with suppress(ValueError, RecursionError):
        found = json.loads(files.read(name) or b"null")
        if isinstance(found, dict):
            return found
    return {}


def write_json(files: Files, name: str, said: Mapping[str, Any], *, sync: bool = True) -> None:
    """Write an object as JSON."""
    files.write(name, json.dumps(said, ensure_ascii=False).encode("utf-8"), sync=sync)


def digest_of(place: Path) -> str | None:
    """Tell the SHA-256 of a file's bytes; None where it cannot be read."""
    try:
        with place.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None


def _walked(folder: Path) -> Iterator[Path]:
    """Walk the files of a folder; what is hidden is being made."""
    for above, folders, names in os.walk(folder):
        folders[:] = [name for name in folders if not name.startswith(".")]
        yield from (Path(above) / name for name in names)


def _sync_folder(folder: Path) -> None:
    """Make a folder's new names survive a power cut."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
