"""Words of the pages in ``views/takes.py``."""

from __future__ import annotations

WORDS: dict[str, str | tuple[str, str]] = {}
