"""The tempo mark over the first line, and the beat's note as a picture of its own.

Conventions: px, y downwards; the engraver's units where a name says so.
"""

from __future__ import annotations

from fractions import Fraction

from evenhand.music.engraving.notation import NoteShape, ratio_of, shapes_of
from evenhand.music.engraving.stems import middle, number, placed
from evenhand.music.exercise import Tempo

_NOTES = {
    0: "ECA0",
    1: "ECA2",
    2: "ECA3",
    4: "ECA5",
    8: "ECA7",
    16: "ECA9",
    32: "ECAB",
    64: "ECAD",
    128: "ECAF",
}
_DOT = "ECB7"
_GLYPH_SCALE = 0.42  # of the music's own size
_EM_UNITS = 190.0
HEIGHT_UNITS = 370.0  # from the mark's baseline to the top of its stem


def tempo_mark(tempo: Tempo, *, x: float, y: float, scale: float) -> str:
    """Return the mark as SVG, its left edge at x and its baseline at y; ``scale`` is px a unit."""
    said = f"= {tempo.bpm:g}"
    outlines, x = beat_note(tempo.beat, x=x, y=y, scale=scale)
    if not outlines:
        said = str(tempo)
    size = number(_EM_UNITS * scale)
    text = f'<text class="tempo" x="{number(x)}" y="{number(y)}" font-family="serif" font-size="{size}">'
    return (f'<path d="{outlines}"/>' if outlines else "") + f"{text}{said}</text>"


def beat_note(beat: Fraction, *, x: float, y: float, scale: float) -> tuple[str, float]:
    """Draw the note that gets the beat: its outline, and where the text behind it begins.

    Where no single note has that value (a triplet's), the outline is empty and the text begins at x.
    """
    shapes = shapes_of(beat)
    if len(shapes) != 1 or ratio_of(beat).num != 1:
        return "", x
    return _note(shapes[0], x, y, scale)


def _note(shape: NoteShape, x: float, y: float, scale: float) -> tuple[str, float]:
    """Draw the beat's note with its dots; return its outline and where the text goes on."""
    size = scale * _GLYPH_SCALE
    code = _NOTES[shape.base]
    outlines = placed(code, x, y, size)
    x += 2 * middle(code) * size
    for _ in range(shape.dots):
        outlines += placed(_DOT, x + 60 * size, y, size)
        x += 160 * size
    return outlines, x + 150 * size


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
