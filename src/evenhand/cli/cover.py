"""Choose the fewest exercises that hold the hand changes of a list."""

from __future__ import annotations


def cover() -> None:
    """Choose the fewest exercises that hold the hand changes of a list."""
    raise NotImplementedError
