"""The note that gets the beat as a small picture of its own, to stand in a line of text."""

from __future__ import annotations

from fractions import Fraction

from evenhand.engraving.outlines import number
from evenhand.engraving.tempo_mark import HEIGHT_UNITS, beat_note

_SCALE = 0.1  # px a unit
_FOOT_UNITS = 50.0  # what hangs below the baseline: half a head
_GAP_UNITS = 63.0  # between a note and the text behind it, which the picture leaves to the text


def beat_picture(beat: Fraction) -> tuple[str, float, float] | None:
    """Draw the beat's note.

    Returns
    -------
    tuple of str and two floats, or None
        The picture as SVG, and its width and height as shares of a plain stem's height;
        None where no single note has that value (a triplet's).
    """
    outline, end = beat_note(beat, x=0.0, y=HEIGHT_UNITS * _SCALE, scale=_SCALE)
    if not outline:
        return None
    width, height = end / _SCALE - _GAP_UNITS, HEIGHT_UNITS + _FOOT_UNITS
    box = f"0 0 {number(width * _SCALE)} {number(height * _SCALE)}"
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}"><path d="{outline}"/></svg>'
    return svg, width / HEIGHT_UNITS, height / HEIGHT_UNITS
