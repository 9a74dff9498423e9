"""Show the path's stages, and what a student's takes say of going on."""

from __future__ import annotations


def path() -> None:
    """Show the path's stages, and what a student's takes say of going on."""
    raise NotImplementedError
