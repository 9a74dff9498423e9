"""Recordings by their content: the same bytes are kept once, and a file is never changed.

Conventions: a key is ``ab/<sha256><suffix>``, a path below the folder whose first two letters are
the hash's. A file is whole or not there: it is written under ``unfinished/``, synced, moved, and
the folder is synced too, so that what was added survives a power cut. The suffix comes from the
bytes; the name that a file had elsewhere is never part of a path. What no take names is set aside
(``SetAside``), never removed at once.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import shutil
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from threading import local

from evenhand.errors import CannotKeep, DamagedRecording, NotFound
from evenhand.studio.store.layout import RECORDINGS, SET_ASIDE, disk_errors
from evenhand.studio.store.places.aside import KEY, SetAside
from evenhand.studio.store.places.files import INCOMING, Files, FolderFiles, Ticket, digest_of

OLD_S = 3600.0  # an unfinished file that old has nobody who writes it
_UNFINISHED = "unfinished"
_AT_ONCE = 1 << 20

_MAGIC: tuple[tuple[int, bytes, str], ...] = (  # offset, bytes there, suffix
    (0, b"fLaC", ".flac"),
    (8, b"WAVE", ".wav"),
    (0, b"OggS", ".ogg"),
    (0, b"\x1aE\xdf\xa3", ".webm"),
    (4, b"ftypM4A", ".m4a"),
    (4, b"ftyp", ".mp4"),
    (0, b"ID3", ".mp3"),
    (0, b"\xff\xfb", ".mp3"),
    (0, b"MThd", ".mid"),
    (0, b"FORM", ".aiff"),
    (0, b"caff", ".caf"),
)


@dataclass(frozen=True, slots=True)
class Sent:
    """A recording that its student sent to where recordings lie, by a ticket; its SHA-256 names it.

    Only who had its bytes can have sent it, and only that student can ask for it to be kept.
    """

    student_id: str
    sha256: str

    @property
    def name(self) -> str:
        """Where it lies until it is kept."""
        return f"{_sent_by(self.student_id)}/{self.sha256}"


class Recordings:
    """A studio's recordings: in its folder, or where else ``files`` keeps them."""

    def __init__(self, folder: Path, files: Files | None = None) -> None:
        self.folder = folder  # what is unfinished lies here, and what is lent
        self.files = files or FolderFiles(folder.parent)
        self.aside = SetAside(self.files, folder.parent / SET_ASIDE)
        self._sizes: dict[str, int] = {}  # a file is never changed
        self._of_thread = local()

    def make(self) -> None:
        """Make the folder, for its owner's eyes only."""
        with disk_errors(str(self.folder)):
            (self.folder / _UNFINISHED).mkdir(mode=0o700, parents=True, exist_ok=True)
            if self.folder.stat().st_mode & 0o077:
                self.folder.chmod(0o700)

    def add(self, content: bytes | Path | Sent) -> str:
        """Keep bytes, or a copy of a file's, and give their key; they are on the disk when it returns."""
        with self.adding(content) as key:
            return key

    @contextmanager
    def adding(self, content: bytes | Path | Sent) -> Iterator[str]:
        """Keep bytes at the end of a block that knows their key already: it can label them first."""
        if isinstance(content, Sent):
            key, n_bytes = self._key_of_sent(content)
            yield key
            if self.files.size(_named(key)) != n_bytes:  # what is kept is never written over
                self.files.copy(content.name, _named(key))
            return
        with self.unfinished() as place:
            digest, head = _written(content, place)
            key, n_bytes = f"{digest[:2]}/{digest}{_suffix(head)}", place.stat().st_size
            yield key
            self.files.settle(place, _named(key))
            self._sizes[key] = n_bytes

    def ticket(self, sent: Sent, n_bytes: int) -> Ticket | None:
        """Let a student send a recording past us; None where that is not possible."""
        return self.files.ticket(sent.name, n_bytes)

    def waiting_bytes(self, student_id: str) -> int:
        """Tell how many bytes a student sent that are no take's yet."""
        return sum(self.files.sizes(_sent_by(student_id)).values())

    def _key_of_sent(self, sent: Sent) -> tuple[str, int]:
        """Say key and length of what was sent, or refuse it where it has not the bytes that it says."""
        found = self.files.arrived(sent.name)
        if found is None or found.sha256 != sent.sha256:
            raise NotFound(what="what was sent")
        return f"{sent.sha256[:2]}/{sent.sha256}{_suffix(found.head)}", found.n_bytes

    def was_kept(self, contents: Iterable[object]) -> None:
        """Remove what was sent and is kept now; where that fails a sweep does it."""
        for sent in contents:
            if isinstance(sent, Sent):
                with suppress(CannotKeep):
                    self.files.remove(sent.name)

    def forget_sent(self, student_id: str) -> None:
        """Remove all that a student sent and never asked to be kept."""
        self.files.remove_all(_sent_by(student_id))

    def link(self, key: str, headers: Mapping[str, str]) -> str | None:
        """Give a link by which a browser reads a recording, for some minutes; None where there is none."""
        return self.files.link(_named(key), headers)

    def has(self, key: str) -> bool:
        """Tell whether a recording is here."""
        return self.files.size(_named(key)) is not None

    @property
    def is_here(self) -> bool:
        """Tell whether recordings lie in a folder of this disk."""
        return isinstance(self.files, FolderFiles)

    def find(self, key: str) -> Path | None:
        """Say where a recording is, or a copy of it that is there for a while; None where there is none."""
        lent: list[str] | None = getattr(self._of_thread, "lent", None)
        if lent is not None:
            lent.append(key)
        return self.files.lend(_named(key))

    def path(self, key: str) -> Path:
        """Say where a recording is that must be there, as ``find``."""
        place = self.find(key)
        if place is None:
            raise NotFound(what="this recording")
        return place

    def sound_path(self, key: str) -> Path:
        """Say where a recording is whose bytes are still those that came, or refuse it."""
        place = self.find(key)
        if place is None:
            raise DamagedRecording(got=f"is missing {self.files.lying}")
        if not is_sound(place, key) and not self._copied_anew(key):
            got = f"is damaged {self.files.lying}: its bytes are not those that came in"
            raise DamagedRecording(got=got)
        return place

    def _copied_anew(self, key: str) -> bool:
        """Tell whether it was a copy alone that was damaged, and another one is whole."""
        self.files.let_go(_named(key))
        place = self.find(key)
        return not self.is_here and place is not None and is_sound(place, key)

    def size_of(self, key: str) -> int:
        """Tell how many bytes a recording has; one that is gone has none."""
        if not self._sizes:
            self._sizes = {_key_of(name): size for name, size in self.files.sizes(RECORDINGS).items()}
        size = self._sizes.get(key)
        if size is None:
            size = self.files.size(_named(key))
            if size is None:
                return 0
            self._sizes[key] = size
        return size

    def remove(self, key: str) -> None:
        """Remove a recording for good, set aside or not; one that is gone already is fine."""
        self.files.remove(_named(key))
        self.aside.remove(key)
        self._sizes.pop(key, None)

    def take_over(self, place: Path, key: str) -> None:
        """Move a whole recording here from elsewhere on the disk, unless it is here and whole."""
        if not self.is_sound(key):
            self.files.settle(place, _named(key))

    def set_aside(self, key: str, on: date) -> None:
        """Set a recording aside, by its file's own day where the clock has lost it and is behind."""
        with disk_errors(str(self.folder)), suppress(FileNotFoundError):  # its own deletion came first
            self.aside.put(_named(key), key, max(on, self.files.written_at(_named(key)).date()))

    def bring_back(self, key: str) -> bool:
        """Take back a recording that was set aside, whole; tell whether there was one."""
        name = self.aside.find(key)
        if name is None or self.files.digest(name) != Path(key).stem:
            return False
        with disk_errors(str(self.folder)):
            self.files.move(name, _named(key))
        return True

    def kept_keys(self) -> Iterator[str]:
        """Walk the keys of all that is here."""
        keys = map(_key_of, self.files.names(RECORDINGS))
        return (key for key in keys if KEY.fullmatch(key))

    def all_keys(self) -> set[str]:
        """List the keys of all that is here or was set aside."""
        return {*self.kept_keys(), *self.aside.keys()}

    def is_sound(self, key: str) -> bool:
        """Tell whether a recording is here, and its bytes are those that came in."""
        return self.files.digest(_named(key)) == Path(key).stem

    def written_at(self, key: str) -> datetime:
        """Tell when a recording came to be here."""
        return self.files.written_at(_named(key))

    @contextmanager
    def copies(self) -> Iterator[None]:
        """Let go, at the end of a block, of the copies that this thread asked for in it."""
        self._of_thread.lent = lent = list[str]()
        try:
            yield
        finally:
            self._of_thread.lent = None
            for key in lent:
                self.files.let_go(_named(key))

    @contextmanager
    def unfinished(self) -> Iterator[Path]:
        """Lend a name for a file that is being written; what is left of it at the end is removed."""
        place = self.folder / _UNFINISHED / secrets.token_hex(16)
        with disk_errors(str(self.folder)):
            try:
                yield place
            finally:
                place.unlink(missing_ok=True)

    def sweep_unfinished(self, older_than_s: float = OLD_S) -> int:
        """Remove files whose writer died, and tell how many."""
        before = time.time() - older_than_s
        old = [place for place in (self.folder / _UNFINISHED).glob("*") if _changed(place) <= before]
        for place in old:
            if place.is_dir():
                shutil.rmtree(place, ignore_errors=True)
            else:
                place.unlink(missing_ok=True)
        return len(old) + self.files.sweep(older_than_s)


def is_sound(place: Path, key: str) -> bool:
    """Tell whether a file's bytes are those of its key."""
    return digest_of(place) == Path(key).stem


def _sent_by(student_id: str) -> str:
    """Name the folder of what a student sent; an id that came from elsewhere never leads out of it."""
    return f"{INCOMING}/{hashlib.sha256(student_id.encode()).hexdigest()[:32]}"


def _named(key: str) -> str:
    """Turn a key to a name; what is no key leads nowhere."""
    if not KEY.fullmatch(key):
        raise NotFound(what="this recording")
    return f"{RECORDINGS}/{key}"


def _key_of(name: str) -> str:
    return name.removeprefix(f"{RECORDINGS}/")


def _written(content: bytes | Path, place: Path) -> tuple[str, bytes]:
    """Write bytes to a place and sync them; give their SHA-256 and the first of them."""
    with place.open("xb") as file:
        place.chmod(0o600)
        if isinstance(content, Path):
            with content.open("rb") as source:
                shutil.copyfileobj(source, file, _AT_ONCE)
        else:
            file.write(content)
        file.flush()
        os.fsync(file.fileno())
    with place.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        file.seek(0)
        return digest, file.read(64)


def _suffix(head: bytes) -> str:
    """Name the kind of a file by its first bytes."""
    for offset, magic, suffix in _MAGIC:
        if head[offset : offset + len(magic)] == magic:
            return suffix
    return ".bin"


def _changed(place: Path) -> float:
    """Tell when a file was last written, seconds; a file that is gone was written in the future."""
    try:
        return place.stat().st_mtime
    except FileNotFoundError:
        return float("inf")
