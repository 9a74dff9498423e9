"""Hits matched to notes: how even each hand is, how sure that is, and what to practise."""

from evenhand.measuring.findings import find
from evenhand.measuring.measure import measure

__all__ = ["find", "measure"]
