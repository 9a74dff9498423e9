"""Count the single strokes of a minute."""

from __future__ import annotations


def minute() -> None:
    """Count the single strokes of a minute."""
    raise NotImplementedError
