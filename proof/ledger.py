"""What the students' devices saw, on the disk: every take that was sent, and every answer that counts.

Conventions: one JSON object a line, synced before the device goes on. ``number`` is the take's own from 0;
its recording follows from it (``sounds.py``).
"""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

What = Literal["sent", "acknowledged", "again", "refused"]


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the ledger. ``again``: answered to a take that was sent again after that."""

    what: What
    number: int
    upload_key: str
    student_id: str
    sha256: str = ""
    take_id: str = ""
    words: str = ""


class Ledger:
    """The file; any thread may write."""

    def __init__(self, place: Path) -> None:
        self._file = place.open("a", encoding="utf-8")
        self._lock = threading.Lock()
        self.acknowledged = 0

    def note(self, entry: Entry) -> None:
        """Write a line, and have it on the disk."""
        with self._lock:
            self._file.write(json.dumps(asdict(entry)) + "\n")
            self._file.flush()
            os.fsync(self._file.fileno())
            self.acknowledged += entry.what == "acknowledged"

    def close(self) -> None:
        """Close the file."""
        self._file.close()


def read(place: Path) -> Iterator[Entry]:
    """Read a ledger."""
    with place.open(encoding="utf-8") as file:
        for line in file:
            yield Entry(**json.loads(line))
