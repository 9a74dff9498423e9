"""Outlines of music glyphs, scaled and turned the page's way, as relative SVG path data.

Conventions: font units are 1/1000 em with y upwards; page units are px-like with y
downwards. An outline placed at a point is ``M x y`` and the relative data behind it,
so that many glyphs share one path element and no ids are needed.
"""

from __future__ import annotations

import re
from functools import lru_cache

from evenhand.engraving.engraver import glyph_boxes, glyph_outline

_TOKENS = re.compile(r"[A-Za-z]|-?\d*\.?\d+")
_TAKES = {"m": 2, "l": 2, "c": 6, "s": 4, "h": 1, "v": 1, "z": 0}


def number(value: float) -> str:
    """Write a coordinate with two decimals at most.

    >>> number(12.0), number(-0.001), number(3.14159)
    ('12', '0', '3.14')
    """
    short = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if short in {"-0", ""} else short


def placed(code: str, x: float, y: float, scale: float) -> str:
    """Return a glyph's outline with its origin at x, y; ``scale`` is px a font unit."""
    return f"M{number(x)} {number(y)}{_scaled(code, round(scale, 6))}"


def middle(code: str) -> float:
    """Return where a glyph's middle lies right of its origin, font units."""
    left, _, width, _ = glyph_boxes()[code]
    return left + width / 2


def bottom_and_top(code: str) -> tuple[float, float]:
    """Return how far a glyph reaches above its origin: lowest and highest, font units."""
    _, low, _, height = glyph_boxes()[code]
    return low, low + height


@lru_cache(maxsize=512)
def _scaled(code: str, scale: float) -> str:
    """Make an outline relative to its origin, px, y downwards."""
    parts: list[str] = []
    x = y = start_x = start_y = 0.0
    for command, values in _commands(glyph_outline(code)):
        kind = command.lower()
        step = values if command == kind else _relative(kind, values, x, y)
        if kind == "z":
            x, y = start_x, start_y
        elif kind == "h":
            x += step[0]
        elif kind == "v":
            y += step[0]
        else:
            x, y = x + step[-2], y + step[-1]
        if kind == "m":
            start_x, start_y = x, y
        parts.append(kind + " ".join(number(value) for value in _page(kind, step, scale)))
    return "".join(parts)


def _commands(outline: str) -> list[tuple[str, list[float]]]:
    """Split path data into commands with their numbers, repeated letters written out."""
    commands: list[tuple[str, list[float]]] = []
    tokens = _TOKENS.findall(outline)
    at, command = 0, "M"
    while at < len(tokens):
        if tokens[at].isalpha():
            command = tokens[at]
            at += 1
        takes = _TAKES[command.lower()]
        commands.append((command, [float(token) for token in tokens[at : at + takes]]))
        at += takes
    return commands


def _relative(kind: str, values: list[float], x: float, y: float) -> list[float]:
    """Turn absolute coordinates into steps from the point reached."""
    if kind == "h":
        return [values[0] - x]
    if kind == "v":
        return [values[0] - y]
    return [value - (y if index % 2 else x) for index, value in enumerate(values)]


def _page(kind: str, step: list[float], scale: float) -> list[float]:
    """Scale a step and turn it over."""
    if kind == "h":
        return [step[0] * scale]
    if kind == "v":
        return [-step[0] * scale]
    return [value * (-scale if index % 2 else scale) for index, value in enumerate(step)]
