"""Show how each hand changed over the weeks."""

from __future__ import annotations


def progress() -> None:
    """Show how each hand changed over the weeks."""
    raise NotImplementedError
