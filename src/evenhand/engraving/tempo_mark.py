"""The tempo mark above the first line: the beat's note, drawn, and its count."""

from __future__ import annotations

from fractions import Fraction

from evenhand.domain.tempo import Tempo
from evenhand.engraving.notation import Shape, ratio_of, shapes_of
from evenhand.engraving.outlines import middle, number, placed

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


def _note(shape: Shape, x: float, y: float, scale: float) -> tuple[str, float]:
    """Draw the beat's note with its dots; return its outline and where the text goes on."""
    size = scale * _GLYPH_SCALE
    code = _NOTES[shape.base]
    outlines = placed(code, x, y, size)
    x += 2 * middle(code) * size
    for _ in range(shape.dots):
        outlines += placed(_DOT, x + 60 * size, y, size)
        x += 160 * size
    return outlines, x + 150 * size
