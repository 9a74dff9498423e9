"""The choice of a stroke height, the same in every form that asks for it."""

from __future__ import annotations

from evenhand.domain.stroke import STROKE_CLASSES, Unit
from evenhand.pages.practice_words import stroke_pieces
from evenhand.web.texts import say


def stroke_choices(unit: Unit | None = None) -> list[tuple[str, str]]:
    """List the values and their words, any height first; with a unit the heights are said, too."""
    named = [
        (stroke, ", ".join(stroke_pieces(stroke, unit)) if unit else say(f"week.stroke_{stroke}"))
        for stroke in STROKE_CLASSES
    ]
    return [("", say("week.stroke_")), *named]
