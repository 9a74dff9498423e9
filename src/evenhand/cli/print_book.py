"""Print a book of exercises with contents."""

from __future__ import annotations


def print_book() -> None:
    """Print a book of exercises with contents."""
    raise NotImplementedError
