"""Plan each note's stroke, and the height that a free rebound allows."""

from __future__ import annotations


def strokes() -> None:
    """Plan each note's stroke, and the height that a free rebound allows."""
    raise NotImplementedError
