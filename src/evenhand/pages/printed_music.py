"""Engraved music made ready for print: its inks, its letters' font, its size on paper.

Conventions: an engraving's px become pt by ``pt_per_px``; the right hand's letters are
dark blue, the left hand's rust.
"""

from __future__ import annotations

from evenhand.domain.engraved import EngravedExercise, EngravedLine
from evenhand.domain.exercise import Exercise
from evenhand.pages.spoken_music import music_words

INK, RIGHT, LEFT = "#26241f", "#1f2b4d", "#b0492a"  # as in style.py and paper.typ
_STYLE = (
    f'<style>svg{{fill:{INK}}}text{{font-family:"Libertinus Serif"}}'
    f".right{{fill:{RIGHT}}}.left{{fill:{LEFT}}}</style>"
)


def printed_lines(
    exercise: Exercise, engraved: EngravedExercise, pt_per_px: float, *, repeat: int | None = None
) -> list[dict[str, object]]:
    """Return each line's picture, its width in pt and its words."""
    end = "Repeated." if repeat is None else "" if repeat == 1 else f"{repeat} repetitions."
    of = len(engraved.lines)
    return [
        {
            "svg": inked(line.svg),
            "width": round(line.width * pt_per_px, 3),
            "words": music_words(exercise, _positions(line), line=number, of=of, end=end),
        }
        for number, line in enumerate(engraved.lines, start=1)
    ]


def inked(svg: str) -> str:
    """Put the inks and the font into an engraved line."""
    head, closed, rest = svg.partition(">")
    return head.replace("currentColor", INK) + closed + _STYLE + rest.replace("currentColor", INK)


def _positions(line: EngravedLine) -> tuple[int, ...]:
    return tuple(note.position for note in line.notes)
