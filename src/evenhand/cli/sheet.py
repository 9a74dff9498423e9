"""Print a lesson sheet."""

from __future__ import annotations


def sheet() -> None:
    """Print a lesson sheet."""
    raise NotImplementedError
