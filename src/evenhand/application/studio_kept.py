"""What takes long to make, kept in memory for the next time it is asked for."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

Made = TypeVar("Made")


class Kept(Generic[Made]):
    """Things by what they were made of; when there are too many, the one made first goes."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: dict[Hashable, Made] = {}
        self._lock = Lock()

    def get(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """Give a thing, made now if it is not there; two who ask at once may both make it."""
        with self._lock:
            if key in self._kept:
                return self._kept[key]
        made = make()
        with self._lock:
            while len(self._kept) >= self._most and key not in self._kept:
                self._kept.pop(next(iter(self._kept)))
            self._kept[key] = made
        return made
