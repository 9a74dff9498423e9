"""Choose exercises that load what the last takes showed to be weak."""

from __future__ import annotations


def choose() -> None:
    """Choose exercises that load what the last takes showed to be weak."""
    raise NotImplementedError
