"""The two inks can be read on both papers.

Contrast by the formula of WCAG 2.1 (W3C): (L1 + 0.05) / (L2 + 0.05) with relative luminance;
4.5 for text, 3 for drawn marks.
"""

from __future__ import annotations

import re

import pytest

from evenhand.report.plots.shell import style_sheet

LIGHT, DARK, *_ = re.findall(r":root\{[^}]*--left:[^}]*\}", style_sheet("palette"))


def luminance(colour: str) -> float:
    """Return a colour's relative luminance, 0 to 1."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """Return the contrast of two colours, 1 to 21."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def colours(theme: str) -> dict[str, str]:
    """Return a theme's colours by name."""
    return dict(re.findall(r"--(\w+):(#[0-9a-f]{6})", theme))


def test_black_on_white_is_the_published_21() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("theme", [LIGHT, DARK])
@pytest.mark.parametrize("ink", ["ink", "quiet", "right", "left"])
def test_inks_can_be_read_on_paper_and_on_the_band(theme: str, ink: str) -> None:
    named = colours(theme)
    assert contrast(named[ink], named["paper"]) >= 4.5
    assert contrast(named[ink], named["band"]) >= 4.0
