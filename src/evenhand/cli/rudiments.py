"""List the forty standard rudiments, or the families of common practice."""

from __future__ import annotations


def rudiments() -> None:
    """List the forty standard rudiments, or the families of common practice."""
    raise NotImplementedError
