"""Copies of objects on this disk, for what reads files: the ear, the decoder, an archive.

Conventions: a process has a folder of its own, locked as long as it lives, and swept when it is gone
(``layout.part_folder``): a kill leaves no copy for long. A copy is whole or not there. What is in it may be
read for ``IN_USE_S`` after it was lent, longer where nothing else is; then it goes when room is needed.
"""

from __future__ import annotations

import os
import secrets
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from threading import Lock

from evenhand.studio.store.layout import disk_errors, part_folder

MOST_COPIED_BYTES = 256 << 20
IN_USE_S = 60.0


class Copies:
    """Copies of objects on this disk, for this process alone: the newest up to a bound."""

    def __init__(self, above: Path, most_bytes: int = MOST_COPIED_BYTES) -> None:
        self._above, self._most_bytes = above, most_bytes
        self._held, self._lock = ExitStack(), Lock()
        self._folder: Path | None = None

    def find(self, name: str) -> Path | None:
        """Find a copy, and have it for a while longer."""
        if self._folder is None:
            return None
        place = self._folder / name
        try:
            os.utime(place)
        except FileNotFoundError:
            return None
        return place

    def add(self, name: str, blocks: Iterator[bytes]) -> Path:
        """Write a copy."""
        place = self._own() / name
        beside = place.with_name(f"{secrets.token_hex(8)}.part")
        with disk_errors(str(self._above)):
            place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            try:
                with beside.open("xb") as file:
                    for block in blocks:
                        file.write(block)
                beside.replace(place)
            finally:
                beside.unlink(missing_ok=True)
            self._trim()
        return place

    def remove(self, name: str) -> None:
        """Remove a copy."""
        if self._folder is not None:
            (self._folder / name).unlink(missing_ok=True)

    def clear(self) -> None:
        """Remove all copies."""
        for place in self._all():
            place.unlink(missing_ok=True)

    def close(self) -> None:
        """Remove the folder, too."""
        with self._lock:
            self._folder = None
            self._held.close()

    def _own(self) -> Path:
        with self._lock:
            if self._folder is None:
                self._above.mkdir(mode=0o700, parents=True, exist_ok=True)
                self._folder = self._held.enter_context(part_folder(self._above, "copies"))
            return self._folder

    def _all(self) -> list[Path]:
        return [] if self._folder is None else [place for place in self._folder.rglob("*") if place.is_file()]

    def _trim(self) -> None:
        """Remove what was lent longest ago, down to the bound; what may be in use stays."""
        found = sorted((place.stat().st_mtime, place.stat().st_size, place) for place in self._all())
        more = sum(size for _at, size, _place in found) - self._most_bytes
        for at, size, place in found:
            if more <= 0 or time.time() - at < IN_USE_S:
                return
            place.unlink(missing_ok=True)
            more -= size
