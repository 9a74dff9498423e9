"""The exercises that are there before a teacher has a book: stickings in eighths, common practice.

The order is our own: those that the right hand begins, then those that the left hand begins; in each from
easy to hard by ``craft.difficulty``. Of exercises that ask as much, the one whose first double comes later
stands first, and then R before L. A test holds the text to it.
"""

from __future__ import annotations

from functools import cache

from evenhand.craft.book_text import parse_book
from evenhand.domain.book import Book

_TEXT = """
# Right hand first
1/8: RLRL RLRL  # Singles, right hand first
1/8: RLLR RLLR  # Inward doubles, right hand first
1/8: RRLL RRLL  # Doubles, right hand first
1/8: RLRL LRLR  # Single paradiddle from its 4th note
1/8: RLRR LRLL  # Single paradiddle
1/8: RLLR LRRL  # Single paradiddle from its 2nd note
1/8: RRLR LLRL  # Single paradiddle from its 3rd note
1/8: RLRR LRRL  # More for the right hand
1/8: RLRL RRLL  # Four singles, two doubles
1/8: RRLL RLRL  # Two doubles, four singles
1/8: RRRR LLLL  # Four with each hand
1/8: RRRL LLLR  # Four with each hand, from its 2nd note
# Left hand first
1/8: LRLR LRLR  # Singles, left hand first
1/8: LRRL LRRL  # Inward doubles, left hand first
1/8: LLRR LLRR  # Doubles, left hand first
1/8: LLRR LRLR  # Two doubles, four singles, left hand first
1/8: LRLL RLLR  # More for the left hand
"""


@cache
def stock() -> Book:
    """Return the book that is there from the beginning."""
    return parse_book(_TEXT, name="the stock")
