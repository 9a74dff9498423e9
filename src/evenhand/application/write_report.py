"""Write the report of a heard take: the music is engraved, the page is built around it."""

from __future__ import annotations

from evenhand.domain.engraved import EngravedExercise
from evenhand.domain.heard_take import HeardTake
from evenhand.engraving.engrave import engrave
from evenhand.errors import CannotEngrave
from evenhand.pages.report import NARROW_ENGRAVING_PX, WIDE_ENGRAVING_PX, report_page


def report_text(take: HeardTake) -> str:
    """Return the report as one self-contained HTML page."""
    return report_page(
        take, _engraved(take, WIDE_ENGRAVING_PX, "w"), _engraved(take, NARROW_ENGRAVING_PX, "n")
    )


def _engraved(take: HeardTake, width_px: int, id_prefix: str) -> EngravedExercise | None:
    """Engrave the take's exercise; the page does without where there is none, or it cannot be drawn."""
    if take.exercise is None or take.tempo is None:
        return None
    try:
        return engrave(take.exercise, width=width_px, tempo=take.tempo, id_prefix=id_prefix)
    except CannotEngrave:
        return None
