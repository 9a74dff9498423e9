"""The tempo mark above the first line: the beat's note, drawn, and its count."""

from __future__ import annotations

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
    shapes = shapes_of(tempo.beat)
    outlines, said = "", f"= {tempo.bpm:g}"
    if len(shapes) == 1 and ratio_of(tempo.beat).num == 1:
        outlines, x = _note(shapes[0], x, y, scale)
    else:
        said = str(tempo)
    size = number(_EM_UNITS * scale)
    text = f'<text class="tempo" x="{number(x)}" y="{number(y)}" font-family="serif" font-size="{size}">'
    return (f'<path d="{outlines}"/>' if outlines else "") + f"{text}{said}</text>"


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
