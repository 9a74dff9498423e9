"""The exercises that are there before a teacher has a book: stickings in eighths, common practice."""

from __future__ import annotations

from functools import cache

from evenhand.craft.book_text import parse_book
from evenhand.domain.book import Book

# Singles, doubles, paradiddles from each of their notes, and mixed groups of two and one: common practice.
_TEXT = """
1/8: RLRL RLRL  # Singles, right hand first
1/8: LRLR LRLR  # Singles, left hand first
1/8: RRLL RRLL  # Doubles, right hand first
1/8: LLRR LLRR  # Doubles, left hand first
1/8: RLLR RLLR  # Inward doubles, right hand first
1/8: LRRL LRRL  # Inward doubles, left hand first
1/8: RLRR LRLL  # Paradiddle
1/8: RLLR LRRL  # Paradiddle from its second note
1/8: RRLR LLRL  # Paradiddle from its third note
1/8: RLRL LRLR  # Paradiddle from its fourth note
1/8: RRLL RLRL  # Two doubles, four singles
1/8: LLRR LRLR  # Two doubles, four singles, left hand first
1/8: RLRL RRLL  # Four singles, two doubles
1/8: RLRR LRRL  # Right hand leads
1/8: LRLL RLLR  # Left hand leads
1/8: RRRL LLLR  # Three and one
1/8: RRRR LLLL  # Four with each hand
"""


@cache
def stock() -> Book:
    """Return the book that is there from the beginning."""
    return parse_book(_TEXT, name="the stock")
