"""Outlines of music glyphs, scaled and turned the page's way, as relative SVG path data.

Conventions: font units are 1/1000 em with y upwards; page units are px-like with y
downwards. An outline placed at a point is ``M x y`` and the relative data behind it,
so that many glyphs share one path element and no ids are needed.

"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Glyph:
    """A sign's box and outline, font units, y upwards."""

    left: float
    bottom: float
    width: float
    height: float
    outline: str


@cache
def _signs() -> dict[str, Glyph]:
    """Read the signs by their code, as ``scripts/cut_signs.py`` cut them."""
    with Path(__file__).with_name("signs.json").open(encoding="utf-8") as file:
        return {code: Glyph(*sign) for code, sign in json.load(file).items()}


def sign_of(code: str) -> Glyph:
    """Return the sign of a code in the Standard Music Font Layout."""
    return _signs()[code]


_COMMANDS = re.compile(r"([Mchlsvz])([^A-Za-z]*)")
_NUMBERS = re.compile(r"-?\d*\.?\d+")


def number(value: float) -> str:
    """Write a coordinate with two decimals at most.

    >>> number(12.0), number(-0.001), number(3.14159)
    ('12', '0', '3.14')
    """
    short = f"{value:.2f}"
    if short[-1] == "0":
        short = short[:-1] if short[-2] != "0" else short[:-3]
    return "0" if short == "-0" else short


def escaped(text: str) -> str:
    """Make words safe to stand in SVG, between tags and in quotes.

    >>> escaped('<"R&L">')
    '&lt;&quot;R&amp;L&quot;&gt;'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")


def placed(code: str, x: float, y: float, scale: float) -> str:
    """Return a glyph's outline with its origin at x, y; ``scale`` is px a font unit."""
    return f"M{number(x)} {number(y)}{_scaled(code, round(scale, 6))}"


def middle(code: str) -> float:
    """Return where a glyph's middle lies right of its origin, font units."""
    sign = sign_of(code)
    return sign.left + sign.width / 2


def bottom_and_top(code: str) -> tuple[float, float]:
    """Return how far a glyph reaches above its origin: lowest and highest, font units."""
    sign = sign_of(code)
    return sign.bottom, sign.bottom + sign.height


@lru_cache(maxsize=512)
def _scaled(code: str, scale: float) -> str:
    """Make an outline relative to its origin, px, y downwards.

    The font's outlines begin each contour with an absolute M; all else is relative.
    """
    parts: list[str] = []
    x = y = start_x = start_y = 0.0
    for command, values in _commands(sign_of(code).outline):
        step = values
        if command == "M":
            step = [values[0] - x, values[1] - y]
            start_x, start_y = values
        if command == "z":
            x, y = start_x, start_y
        else:
            x += 0.0 if command == "v" else step[-1 if command == "h" else -2]
            y += 0.0 if command == "h" else step[-1]
        parts.append(command.lower() + " ".join(number(value) for value in _page(command, step, scale)))
    return "".join(parts)


def _commands(outline: str) -> list[tuple[str, list[float]]]:
    """Split path data into commands with their numbers."""
    return [
        (command, [float(value) for value in _NUMBERS.findall(values)])
        for command, values in _COMMANDS.findall(outline)
    ]


def _page(command: str, step: list[float], scale: float) -> list[float]:
    """Scale a step and turn it over."""
    if command == "h":
        return [step[0] * scale]
    if command == "v":
        return [-step[0] * scale]
    return [value * (-scale if index % 2 else scale) for index, value in enumerate(step)]
