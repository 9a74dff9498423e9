"""Hear drops of the stick: how freely it rebounds."""

from __future__ import annotations


def bounce() -> None:
    """Hear drops of the stick: how freely it rebounds."""
    raise NotImplementedError
