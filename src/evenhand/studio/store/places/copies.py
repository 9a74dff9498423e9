"""Copies of objects on this disk, for what reads files: the ear, the decoder, an archive.

Conventions: a process has a folder of its own, locked as long as it lives, and swept when it is gone
(``layout.part_folder``): a kill leaves no copy for long. A copy is whole or not there. What is in it may be
read for ``IN_USE_S`` after it was lent; then it goes when room is needed, and after ``KEPT_S`` in any case.
"""

from __future__ import annotations

import os
import secrets
import stat
import time
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from pathlib import Path
from threading import Lock, Timer

from evenhand.studio.store.layout import disk_errors, part_folder

MOST_COPIED_BYTES = 256 << 20
IN_USE_S, KEPT_S = 60.0, 600.0


class Copies:
    """Copies of objects on this disk, for this process alone: the newest up to a bound."""

    def __init__(self, above: Path, most_bytes: int = MOST_COPIED_BYTES) -> None:
        self._above, self._most_bytes = above, most_bytes
        self._held, self._lock = ExitStack(), Lock()
        self._folder: Path | None = None
        self._later: Timer | None = None

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
            self.tidy()
        return place

    def remove(self, name: str) -> None:
        """Remove a copy."""
        if self._folder is not None:
            (self._folder / name).unlink(missing_ok=True)

    def close(self) -> None:
        """Remove the folder, too."""
        with self._lock:
            self._folder = None
            if self._later is not None:
                self._later.cancel()
            self._held.close()

    def _own(self) -> Path:
        with self._lock:
            if self._folder is None:
                self._above.mkdir(mode=0o700, parents=True, exist_ok=True)
                self._folder = self._held.enter_context(part_folder(self._above, "copies"))
            return self._folder

    def _all(self) -> list[tuple[float, int, Path]]:
        """List when each was lent, its bytes and its place, the one that was lent longest ago first."""
        found = []
        for place in [] if self._folder is None else self._folder.rglob("*"):
            with suppress(FileNotFoundError):  # another thread removed it
                known = place.stat()
                if stat.S_ISREG(known.st_mode):
                    found.append((known.st_mtime, known.st_size, place))
        return sorted(found)

    def tidy(self) -> None:
        """Remove what nobody asked for in a while, and what is beyond the bound; look again later."""
        found, now = self._all(), time.time()
        more = sum(size for _at, size, _place in found) - self._most_bytes
        for at, size, place in found:
            if now - at >= KEPT_S or (more > 0 and now - at >= IN_USE_S):
                place.unlink(missing_ok=True)
                more -= size
        with self._lock:
            if found and self._folder is not None and (self._later is None or not self._later.is_alive()):
                self._later = Timer(KEPT_S, self.tidy)
                self._later.daemon = True
                self._later.start()
