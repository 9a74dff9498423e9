"""Read books of exercises: list, sort, find the same ones, write them out."""

from __future__ import annotations


def book() -> None:
    """Read books of exercises: list, sort, find the same ones, write them out."""
    raise NotImplementedError
