"""Words of the pages in ``views/stand.py``."""

from __future__ import annotations

WORDS: dict[str, str | tuple[str, str]] = {}
