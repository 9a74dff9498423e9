"""Tell whether pad, microphone and gain are still those that were calibrated.

Conventions: levels in dB, shape (n_hits,); a colour is how the sound of hits lies over the bands, dB about
their mean.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenhand.domain.height_scale import HeightCalibration, SetUp
from evenhand.domain.stroke import STROKE_CLASSES

Floats = NDArray[np.float64]

MOST_BACKGROUND_DB = 6.0  # the room's own noise moves less from day to day
MOST_COLOUR_DB = 2.5  # mean over the bands: another drum, or another place of the microphone
SILENCE_DB = -90.0  # quieter backgrounds are all silence
OUTSIDE_SPREADS, OUTSIDE_SHARE, OUTSIDE_HITS = 3.5, 0.10, 3
AGAIN = "the set-up seems changed: calibrate again"


def changed(now: SetUp, levels_db: Floats, calibration: HeightCalibration) -> str | None:
    """Return a sentence that says what has changed, or None."""
    then = calibration.set_up
    why = _of_file(now, then) or _of_background(now, then) or _of_colour(now, then)
    why = why or _of_levels(levels_db, calibration)
    return None if why is None else f"{why}: {AGAIN}."


def _of_file(now: SetUp, then: SetUp) -> str | None:
    """Compare what the files are."""
    if (now.kind, now.format) != (then.kind, then.format):
        return f"The recording is {now.format}, the calibration was {then.format}"
    if now.rate_hz != then.rate_hz:
        return f"The recording has {now.rate_hz} samples a second, the calibration had {then.rate_hz}"
    if now.channels != then.channels:
        return f"The recording has {now.channels} channels, the calibration had {then.channels}"
    return None


def _of_background(now: SetUp, then: SetUp) -> str | None:
    """Compare how loud it is where nothing is struck: a changed gain changes that, too."""
    if now.background_db is None or then.background_db is None:
        return None
    moved = max(now.background_db, SILENCE_DB) - max(then.background_db, SILENCE_DB)
    if abs(moved) <= MOST_BACKGROUND_DB:
        return None
    return f"The background is {abs(moved):.0f} dB {'louder' if moved > 0 else 'quieter'} than it was"


def _of_colour(now: SetUp, then: SetUp) -> str | None:
    """Compare how hits sound: with the class that they sound most alike."""
    if not now.colours or not then.colours:
        return None
    apart = min(colour_distance_db(np.array(now.colours[0]), np.array(colour)) for colour in then.colours)
    if apart <= MOST_COLOUR_DB:
        return None
    return f"The hits sound unlike those calibrated, by {apart:.0f} dB over the bands"


def colour_distance_db(one: Floats, other: Floats) -> float:
    """Return the mean difference of two colours over the bands."""
    if len(one) != len(other):
        return float("inf")
    return float(np.sqrt(np.mean((one - other) ** 2)))


def _of_levels(levels_db: Floats, calibration: HeightCalibration) -> str | None:
    """Compare levels with the range of what was calibrated."""
    scale = calibration.scales["both"]
    low = min(s.classes[STROKE_CLASSES[0]].mean_db for s in calibration.scales.values())
    high = max(s.classes[STROKE_CLASSES[-1]].mean_db for s in calibration.scales.values())
    reach = OUTSIDE_SPREADS * scale.spread_db
    for outside, words in (
        (levels_db > high + reach, "louder than fulls"),
        (levels_db < low - reach, "softer than taps"),
    ):
        count = int(outside.sum())
        if count >= OUTSIDE_HITS and count > OUTSIDE_SHARE * len(levels_db):
            return f"{count} of {len(levels_db)} hits are far {words} were"
    return None
