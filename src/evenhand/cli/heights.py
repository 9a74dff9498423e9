"""Fit loudness to stick height, and say which stroke each hit was."""

from __future__ import annotations


def heights() -> None:
    """Fit loudness to stick height, and say which stroke each hit was."""
    raise NotImplementedError
