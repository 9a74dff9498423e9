"""Write a click to play to."""

from __future__ import annotations


def click() -> None:
    """Write a click to play to."""
    raise NotImplementedError
