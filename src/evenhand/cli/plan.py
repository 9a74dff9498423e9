"""Plan the next week, to the minute."""

from __future__ import annotations


def plan() -> None:
    """Plan the next week, to the minute."""
    raise NotImplementedError
