"""Count strokes and minutes of each hand a week, and say where the load jumps."""

from __future__ import annotations


def load() -> None:
    """Count strokes and minutes of each hand a week, and say where the load jumps."""
    raise NotImplementedError
