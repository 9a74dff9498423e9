"""A strip of frames around one stroke, the way of the stick's tip drawn in each up to its moment.

Conventions: px of the drawing; places of the tip are in a frame's own px.
"""

from __future__ import annotations

import math
from base64 import b64encode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from evenhand.report.plots.markup import el, px, text_at
from evenhand.report.plots.shell import picture_file

A_ROW, GAP_PX, UNDER_PX = 6, 8.0, 22.0
HALO, INK = (
    "fill:none;stroke:#000;stroke-width:4;stroke-opacity:.45",
    "fill:none;stroke:#fff;stroke-width:1.6",
)
WORDS = (
    "Frames around one stroke, in order of time. The line is the way of the stick's tip from the first frame "
    "on. Under each frame: the time after the hit, and the tip's height over the pad."
)


@dataclass(frozen=True, slots=True)
class Shot:
    """One frame: its JPEG and size, when it is after the hit, the tip's height, and its places so far."""

    jpeg: bytes
    size_px: tuple[float, float]
    after_ms: float
    height_cm: float
    tip_px: tuple[tuple[float, ...], ...]


def strip_picture(shots: Sequence[Shot], title: str) -> str:
    """Return the strip as an SVG file of its own."""
    wide, high = shots[0].size_px
    rows = math.ceil(len(shots) / A_ROW)
    inside = [
        piece
        for i, shot in enumerate(shots)
        for piece in _shot(shot, (i % A_ROW) * (wide + GAP_PX), (i // A_ROW) * (high + UNDER_PX))
    ]
    width, height = A_ROW * (wide + GAP_PX) - GAP_PX, rows * (high + UNDER_PX)
    return picture_file("strip", inside, width, height, title=title, words=WORDS)


def _shot(shot: Shot, left: float, top: float) -> Iterator[str]:
    """Draw one frame, the tip's way, and what stands under it."""
    wide, high = shot.size_px
    yield embedded(shot.jpeg, left, top, wide, high)
    places = [(left + x, top + y) for x, y in shot.tip_px]
    if places:
        way = "M" + "L".join(f"{px(x)} {px(y)}" for x, y in places)
        yield el("path", d=way, style=HALO)
        yield el("path", d=way, style=INK)
        if not math.isnan(shot.height_cm):
            yield el("circle", cx=places[-1][0], cy=places[-1][1], r=3.5, style=INK)
    height = "tip not seen" if math.isnan(shot.height_cm) else f"{max(shot.height_cm, 0.0):.1f} cm"
    yield text_at(left, top + high + 15, f"{shot.after_ms:+.0f} ms, {height}".replace("-", "\N{MINUS SIGN}"))


def embedded(jpeg: bytes, left: float, top: float, wide: float, high: float) -> str:
    """Return a JPEG as a part of a drawing."""
    data = f"data:image/jpeg;base64,{b64encode(jpeg).decode()}"
    return el("image", x=left, y=top, width=wide, height=high, href=data)
