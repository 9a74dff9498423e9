"""Words of the pages in ``views/week.py``."""

from __future__ import annotations

WORDS: dict[str, str | tuple[str, str]] = {}
