"""Words of the pages in ``views/students.py``."""

from __future__ import annotations

WORDS: dict[str, str | tuple[str, str]] = {}
