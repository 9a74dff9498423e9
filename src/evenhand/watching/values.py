"""What was seen of the sticks as values: the set-up, each hand's stick, each stroke.

Conventions: heights are of the stick's tip over where it meets the pad, cm; ``time_s`` is in the timeline of
the film's sound; places are px of the picture as shown, y downwards. A shift is how much later the sound
comes than the picture, ms. Shares and probabilities are 0 to 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from evenhand.arrays import Floats
from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import StrokeClass

RiseKind = Literal["free", "unsure", "lifted"]
SetUpKind = Literal[
    "too dark",
    "tape in the background",
    "camera tilted",
    "too close",
    "few frames a second",
    "uneven frames",
    "pad cut off",
    "pad not found",
    "tape often hidden",
    "upright picture",
    "wide range",
    "shift not found",
    "cut-off film",
    "no heights",
    "tape not found",
    "one tape",
]


@dataclass(frozen=True, slots=True)
class SetUpWarning:
    """One thing to change about how it was filmed. ``box_px`` is where, as left, top, right, bottom."""

    kind: SetUpKind
    facts: Mapping[str, float | str] = field(default_factory=dict)
    box_px: tuple[float, float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class LiftParts:
    """What the lift index is made of; each None where the frames are too few.

    ``half_rise`` is the height at half the rise time over the height at its end; ``energy_ratio`` is
    v0^2 / (2 g h), v0 the speed right after the hit; ``at_30_ms`` is the height 30 ms after the hit over that
    of a stick that rises freely to the same height.
    """

    half_rise: float | None = None
    energy_ratio: float | None = None
    at_30_ms: float | None = None


@dataclass(frozen=True, slots=True)
class LiftScale:
    """How the parts of a rise become the lift index: what they are of a free rise, and where it turns.

    ``middle`` is the log odds that count as even, ``slope`` how fast it turns there. Where it was fitted to a
    player's own strokes, ``n_free`` and ``n_lifted`` are how many, and ``told_apart`` is the share of them
    that it tells apart.
    """

    at_free: tuple[float, float, float]
    middle: float
    slope: float = 1.0
    n_free: int = 0
    n_lifted: int = 0
    told_apart: float | None = None


@dataclass(frozen=True, slots=True)
class SeenStroke:
    """One hit with the stick that made it.

    ``preparation_cm`` is the last highest point before the hit, ``rebound_cm`` the first after it; None where
    it was not seen. ``hand_probability`` is how sure the hand is. ``rise`` is None where the rise is not to
    be judged: an up stroke that was asked for, too few frames, or too small. ``lift_index`` is 0 (free) to
    1 (lifted).
    """

    time_s: float
    hand: Hand | None = None
    hand_probability: float | None = None
    preparation_cm: float | None = None
    preparation_sd_cm: float | None = None
    rebound_cm: float | None = None
    stroke: StrokeClass | None = None
    class_probability: float | None = None
    angle_deg: float | None = None
    rise: RiseKind | None = None
    lift_index: float | None = None
    parts: LiftParts = field(default_factory=LiftParts)


@dataclass(frozen=True, slots=True, eq=False)
class SeenStick:
    """One hand's stick over the film: arrays of shape (n_frames,), NaN where it was not seen.

    ``times_s`` are on the sound's timeline.
    """

    times_s: Floats
    height_cm: Floats
    px_per_cm: float
    bands: int
    seen: float  # share of the frames
    tip_px: tuple[Floats, Floats] | None = None  # x and y in the picture as shown, where it was kept


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """All that was seen in one film, strokes in order of time."""

    strokes: tuple[SeenStroke, ...]
    sticks: Mapping[Hand, SeenStick]
    warnings: tuple[SetUpWarning, ...]
    tapes: Mapping[Hand, str]
    shift_ms: float | None
    fps: float
    scale_sd: float = 0.0  # by how much all heights may be off together, as a share
