"""The sound of the pulse: a short tone burst, the same each time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenhand.sound.strokes import LEAD

Floats = NDArray[np.float64]

CLICK_HZ, ACCENT_HZ = 1000.0, 1500.0
SECONDS, DECAY_S, RISE_S = 0.03, 0.006, 0.0004


def burst(rate_hz: int, *, accent: bool = False) -> Floats:
    """Return one click, peak 1, after ``LEAD`` samples of silence, shape (n,)."""
    t = np.arange(round(SECONDS * rate_hz)) / rate_hz
    rise = np.sin(np.pi / 2 * np.minimum(t / RISE_S, 1)) ** 2
    tone = np.sin(2 * np.pi * (ACCENT_HZ if accent else CLICK_HZ) * t) * rise * np.exp(-t / DECAY_S)
    fade = np.cos(np.pi / 2 * np.clip((t / SECONDS - 0.8) / 0.2, 0, 1)) ** 2
    return np.concatenate([np.zeros(LEAD), tone * fade / np.max(np.abs(tone))])
