"""Generate stickings by their properties."""

from __future__ import annotations


def generate() -> None:
    """Generate stickings by their properties."""
    raise NotImplementedError
