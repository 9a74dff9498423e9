"""How many are heard live at once: so many in all, so many of one student."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager

MOST_EARS, MOST_EARS_EACH = 8 * max(1, min(4, os.cpu_count() or 1)), 2


class Ears:
    """Counts who is heard live."""

    def __init__(self, most: int = MOST_EARS, most_each: int = MOST_EARS_EACH) -> None:
        self._most, self._most_each = most, most_each
        self._each: Counter[str] = Counter()

    @contextmanager
    def room_for(self, student_id: str) -> Iterator[bool]:
        """Tell whether one more may be heard; hold the place until the end."""
        if self._each.total() >= self._most or self._each[student_id] >= self._most_each:
            yield False
            return
        self._each[student_id] += 1
        try:
            yield True
        finally:
            self._each[student_id] -= 1
            self._each = +self._each
