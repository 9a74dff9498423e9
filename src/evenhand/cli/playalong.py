"""Write a play-along: the exercise played, with a click."""

from __future__ import annotations


def playalong() -> None:
    """Write a play-along: the exercise played, with a click."""
    raise NotImplementedError
