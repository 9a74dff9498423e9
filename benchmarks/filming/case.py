"""What is to be filmed, and what truly happens in it.

Conventions: lengths cm, angles degrees, times seconds on the sound's timeline. A tip's height is 0 where it
meets the pad. An impact that sounds at ``t`` is seen at ``t - shift_ms / 1000`` of the picture's time: a
positive shift is a sound that comes late.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import COMMON_HEIGHTS, StrokeClass

Floats = NDArray[np.float64]
Rise = Literal["free", "lifted", "mixed", "up"]
Codec = Literal["libx264", "libx265"]


@dataclass(frozen=True)
class View:
    """Where the phone stands. ``field_cm`` is how much of the pad's plane the picture is wide.

    ``side`` is the player's side it looks from, so that hand is the near one. ``centre_cm`` is what the
    middle of the picture shows, along the sticks and up from the pad's middle. ``roll_deg`` tilts the
    picture, ``pitch_deg`` looks down, ``yaw_deg`` looks from behind the player (over 0) or from the front.
    """

    distance_m: float = 1.8
    field_cm: float = 95.0
    centre_cm: tuple[float, float] = (-14.0, 12.0)
    side: Hand = "R"
    roll_deg: float = 0.0
    pitch_deg: float = 7.0
    yaw_deg: float = 0.0


@dataclass(frozen=True)
class Rises:
    """Shares of what raises the sticks where the player is free to choose; the rest is free.

    A stroke to a far higher one is ``up`` and one to a far lower one is stopped, whatever the shares.
    """

    lifted: float = 0.0
    mixed: float = 0.0


@dataclass(frozen=True)
class FilmCase:
    """One film.

    ``exercise`` is what is played; ``written`` is what was to be played, where that is something else.
    ``stroke`` is a class to play from, as in a stroke plan, or ``any``: all heights from 7 to 31 cm, drawn.
    ``fingers`` is how much of a stick's weight they may take or add while it rises freely. With ``drops``,
    heights in cm, nothing is played: the right stick is dropped from each, and bounces until it rests.

    A stick is ``held_cm`` from its butt and points ``inward_deg``. A band is ``band_cm`` long, the first
    begins ``first_band_cm`` from the tip, the second ``between_cm`` farther; each was put there to within
    ``band_sd_cm``.

    What is seen: ``tapes`` names each hand's colour, one of ``colours.TAPES``; a hand without one has no
    tape. ``backdrop`` are colours of tape that stand in the background; a ``passer`` walks to and fro there.
    ``pad`` is one of ``colours.PADS``, or ``none``. ``light`` scales the exposure, which wanders by
    ``exposure_drift``; ``warmth`` is what the white balance leaves, from blue, -1, to yellow, 1. ``skin``
    goes from fair, 0, to dark, 1.

    How it is taken: ``readout_s`` is from a frame's first row to its last, ``noise`` the sensor's, in steps
    of 255. ``drop_share`` of the frames is lost and ``jitter`` moves the rest by that share of a frame: a
    variable frame rate. ``rotation`` is how far a player turns what is stored, clockwise, so that it is
    shown in ``size``. ``slowed`` stretches the file's time, as a slow-motion recording does. ``kept`` is how
    much of the file is there, from its start. ``deep`` is 10 bits.
    """

    exercise: str = "1/8: RLRL"
    tempo: str = "1/8=80"
    written: str = ""
    seconds: float = 8.0
    seed: int = 0
    stroke: StrokeClass | Literal["any"] = "full"
    height_sd_cm: float = 1.2
    timing_sd_ms: float = 6.0
    rises: Rises = Rises()
    restitution: float = 0.8
    fingers: float = 0.2
    drops: tuple[float, ...] = ()

    fps: float = 60.0
    size: tuple[int, int] = (1280, 720)
    view: View = View()
    tapes: Mapping[Hand, str] = field(default_factory=lambda: {"R": "blue", "L": "green"})
    bands: Literal[1, 2] = 2
    band_cm: float = 2.5
    first_band_cm: float = 2.5
    between_cm: float = 7.5
    band_sd_cm: float = 0.0
    stick_cm: float = 40.6
    held_cm: float = 40.6 / 3
    inward_deg: Mapping[Hand, float] = field(default_factory=lambda: {"R": 26.0, "L": 26.0})
    pad_cm: float = 30.0
    pad: str = "grey"
    shutter_s: float = 1 / 120
    readout_s: float = 0.0
    light: float = 1.0
    warmth: float = 0.0
    exposure_drift: float = 0.0
    noise: float = 2.0
    clutter: int = 6
    backdrop: tuple[str, ...] = ()
    passer: bool = False
    shake_px: float = 0.0
    sleeves: bool = True
    skin: float = 0.4

    shift_ms: float = 0.0
    sound: bool = True
    sound_snr_db: float = 40.0
    crf: int = 23
    codec: Codec = "libx264"
    deep: bool = False
    jitter: float = 0.0
    drop_share: float = 0.0
    rotation: Literal[0, 90, 180, 270] = 0
    slowed: float = 1.0
    kept: float = 1.0


@dataclass(frozen=True)
class StrokeTruth:
    """One stroke. ``rebound_cm`` is the first maximum after the impact, ``preparation_cm`` the last before.

    ``restitution`` is the tip's speed just after the impact over that just before, ``level_db``
    re full scale.
    """

    time_s: float
    hand: Hand
    preparation_cm: float
    rebound_cm: float
    kind: StrokeClass
    rise: Rise
    level_db: float
    striking_cm_s: float
    restitution: float


@dataclass(frozen=True)
class FilmTruth:
    """All that truly happens in a film.

    ``tip_cm`` has, for each hand, times and heights of the tip, both of shape (n,). ``px_per_cm`` is the
    scale at the depth of each hand's tip over the pad, ``pad_px`` the pad's widest extent in the picture.
    ``frames_s`` are the frames' times in the file, the middle of their exposure, shape (n_frames,).
    """

    strokes: tuple[StrokeTruth, ...]
    shift_ms: float
    px_per_cm: Mapping[Hand, float]
    tip_cm: Mapping[Hand, tuple[Floats, Floats]]
    pad_px: float
    frames_s: Floats


LIMITS_CM = (
    (COMMON_HEIGHTS.tap.high_cm + COMMON_HEIGHTS.half.low_cm) / 2,
    (COMMON_HEIGHTS.half.high_cm + COMMON_HEIGHTS.full.low_cm) / 2,
)


def kind_of(height_cm: float) -> StrokeClass:
    """Return the class of a height; the limits lie half-way between the common ranges.

    >>> kind_of(10), kind_of(20), kind_of(26)
    ('tap', 'half', 'full')
    """
    low, high = LIMITS_CM
    return "tap" if height_cm < low else "half" if height_cm < high else "full"
