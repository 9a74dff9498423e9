"""The sound of a click: made to be heard over a drum, and to be found again and taken out.

Conventions: sounds have shape (n,), float64, peak 1; the first sample is the click's time.

Two tones that fade together, at a ratio of 8 to 5:

- over 1.7 kHz, where a rubber pad or a snare drum has let go within a few milliseconds, and where ears and
  telephone loudspeakers are at their best (a pad's body sounds from 200 to 1500 Hz, see ``instruments``);
- one period of the lower tone on, the upper is out of step: the sound is like itself at one place only, so
  its place can be told exactly;
- for its peak it holds half the energy of one tone, so that little of a stroke beneath it is lost with it,
  but it lies in two of the ear's bands;
- it rises in a third of a millisecond, not at once: a sudden rise holds much that lies over the tones, and
  that is what is left where a click is taken out a fraction of a sample beside its place;
- the first beat, the beats and what lies between have tones of their own: none can be taken for another.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from evenhand.sound.pulse import ClickKind

Floats = NDArray[np.float64]

TONES_HZ: Mapping[ClickKind, tuple[float, float]] = {
    "first": (3130.0, 5010.0),
    "beat": (2350.0, 3770.0),
    "between": (1880.0, 3010.0),
}
SHARES = (1.0, 0.8)
LEVEL_DB: Mapping[ClickKind, float] = {"first": 0.0, "beat": 0.0, "between": -6.0}
RISE_S, DECAY_S, SECONDS, FADE_SHARE = 0.0003, 0.004, 0.05, 0.2


def click_voice(kind: ClickKind, rate_hz: int) -> Floats:
    """Return one click.

    Parameters
    ----------
    kind
        What it marks; the first beat of a bar differs in pitch only, what lies between is softer too.

    Returns
    -------
    shape (n,), peak 1 (0.5 between the beats); it sounds from its first sample on.
    """
    t = (np.arange(round(SECONDS * rate_hz)) + 0.5) / rate_hz  # half a sample in: the first is no zero
    tones = sum(share * np.sin(2 * np.pi * hz * t) for share, hz in zip(SHARES, TONES_HZ[kind], strict=True))
    fade = np.cos(np.pi / 2 * np.clip((t / SECONDS - 1 + FADE_SHARE) / FADE_SHARE, 0, 1)) ** 2
    rise = np.sin(np.pi / 2 * np.minimum(t / RISE_S, 1)) ** 2
    sound = np.asarray(tones * rise * np.exp(-t / DECAY_S) * fade)
    return np.asarray(sound / np.max(np.abs(sound)) * 10 ** (LEVEL_DB[kind] / 20))
