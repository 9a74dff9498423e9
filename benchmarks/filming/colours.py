"""Colours by name, and the way between what a screen shows and the light that falls in.

Conventions: ``light`` is linear, 0 to 1, shape (..., 3); what is shown is sRGB (IEC 61966-2-1),
whole numbers to 255.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

Light = NDArray[np.float32]
Shown = NDArray[np.uint8]
Rgb = tuple[int, int, int]

TAPES: Mapping[str, Rgb] = {
    "blue": (28, 82, 190),
    "green": (38, 150, 70),
    "red": (200, 36, 40),
    "yellow": (236, 205, 40),
    "orange": (240, 120, 30),
    "pink": (236, 70, 150),
    "white": (238, 238, 234),
    "black": (28, 28, 30),
}
PADS: Mapping[str, Rgb] = {
    "grey": (70, 72, 76),
    "black": (34, 34, 36),
    "light": (168, 168, 164),
    "blue": (40, 70, 130),
    "green": (60, 104, 70),
    "red": (140, 44, 40),
}
WOOD, PAD_SIDE, STEEL = (214, 178, 124), (44, 40, 38), (120, 122, 126)
SHIRT = (110, 74, 90)
FAIR, DARK = (233, 190, 162), (92, 58, 42)
SLEEVES: tuple[Rgb, ...] = ((60, 62, 74), (150, 150, 154), (96, 52, 58), (52, 74, 60), (205, 198, 184))
THINGS: tuple[Rgb, ...] = (
    (128, 104, 82),
    (92, 96, 104),
    (176, 168, 150),
    (70, 60, 56),
    (148, 128, 120),
    (190, 182, 176),
    (84, 100, 112),
    (120, 118, 96),
)
WALLS: tuple[Rgb, ...] = ((206, 202, 194), (188, 194, 198), (214, 206, 186), (150, 148, 146))
_STEPS = 4096


def light_of(shown: Rgb) -> Light:
    """Return the light of a shown colour, shape (3,)."""
    s = np.array(shown) / 255
    return np.where(s <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4).astype(np.float32)


def _curve() -> Shown:
    x = np.arange(_STEPS) / (_STEPS - 1)
    s = np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)
    return np.round(255 * s).astype(np.uint8)


CURVE = _curve()


def shown_of(light: Light) -> Shown:
    """Return what is shown of light, in the same shape; what is too bright is clipped."""
    return np.asarray(CURVE[(np.clip(light, 0, 1) * (_STEPS - 1)).astype(np.uint16)])


def cast(warmth: float) -> Light:
    """Return what an uncorrected lamp does to red, green and blue, shape (3,)."""
    return np.array([1 + 0.2 * warmth, 1, 1 - 0.3 * warmth], np.float32)


def dimmed(shown: Shown, share: float) -> Shown:
    """Return a picture as less or more light shows it, in the same shape."""
    levels = np.arange(256) / 255
    return np.asarray(shown_of((share * levels**2.2).astype(np.float32))[shown])


def skin(share: float) -> Light:
    """Return a skin's light, from fair (0) to dark (1), shape (3,)."""
    return np.asarray((1 - share) * light_of(FAIR) + share * light_of(DARK), np.float32)
