"""What is struck, as tables: a rubber pad, a snare drum, a snare drum that rings for long.

Figures are common practice, chosen by ear and eye, not measurements of a certain drum.

Where and how an invented take is recorded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from evenhand.errors import WrongUse
from evenhand.music.exercise import Hand

Instrument = Literal["pad", "snare", "ringing_snare"]

# Overtones of an ideal circular membrane: zeros of Bessel functions over the first
# (j01 1, j11 1.593, j21 2.136, ...).
MEMBRANE = (1.0, 1.5933, 2.1355, 2.2954, 2.6531, 2.9173, 3.1555, 3.5001, 3.5985, 3.6475, 4.0589, 4.1317)
STICK_HZ: Mapping[Hand, tuple[float, ...]] = {"R": (1060.0, 2720.0, 4950.0), "L": (1125.0, 2860.0, 5230.0)}
STICK_DECAY_S = (0.0050, 0.0035, 0.0022)
STICK_DB = (-13.0, -15.0, -18.0)


@dataclass(frozen=True)
class Drum:
    """What is struck. Decays are times to 1/e of the amplitude; levels relative to the first mode.

    ``seconds`` is how long a stroke sounds; its first ``head_s`` are built with all care,
    the tail after that more cheaply. ``quickness`` scales how fast the stick's push rises,
    ``turn_rad`` turns the modes' phase: together they make an attack sharp or blunt.
    """

    modes_hz: tuple[float, ...]
    decays_s: tuple[float, ...]
    modes_db: tuple[float, ...]
    contact_db: float
    contact_s: float
    contact_hz: tuple[float, float]
    wires_db: float | None
    wires_s: float
    wires_hz: tuple[float, float]
    seconds: float
    head_s: float
    quickness: float = 1.0
    turn_rad: float = 0.0


def _tuned(first_hz: float) -> tuple[float, ...]:
    return tuple(first_hz * ratio for ratio in MEMBRANE)


def _damped(first_s: float) -> tuple[float, ...]:
    return tuple(first_s / ratio**1.2 for ratio in MEMBRANE)


def _falling(db: float) -> tuple[float, ...]:
    return tuple(-db * (ratio - 1) for ratio in MEMBRANE)


DRUMS: Mapping[Instrument, Drum] = {
    "pad": Drum(
        modes_hz=(228.0, 402.0, 655.0, 980.0, 1490.0, 2210.0, 3280.0, 4900.0),
        decays_s=(0.016, 0.014, 0.011, 0.009, 0.0065, 0.005, 0.004, 0.003),
        modes_db=(0.0, -1.0, 0.0, -2.0, -2.0, -4.0, -6.0, -9.0),
        contact_db=-14.0,
        contact_s=0.0035,
        contact_hz=(900.0, 7000.0),
        wires_db=None,
        wires_s=0.0,
        wires_hz=(0.0, 0.0),
        seconds=0.16,
        head_s=0.16,
    ),
    "snare": Drum(
        modes_hz=_tuned(186.0),
        decays_s=_damped(0.11),
        modes_db=_falling(4.0),
        contact_db=-13.0,
        contact_s=0.003,
        contact_hz=(1200.0, 9000.0),
        wires_db=-13.0,
        wires_s=0.055,
        wires_hz=(900.0, 6500.0),
        seconds=0.4,
        head_s=0.1,
    ),
    "ringing_snare": Drum(
        modes_hz=_tuned(208.0),
        decays_s=_damped(0.6),
        modes_db=_falling(2.5),
        contact_db=-13.0,
        contact_s=0.003,
        contact_hz=(1200.0, 9000.0),
        wires_db=-16.0,
        wires_s=0.16,
        wires_hz=(900.0, 6500.0),
        seconds=1.6,
        head_s=0.1,
    ),
}


def one_of_its_kind(drum: Drum, rng: np.random.Generator) -> Drum:
    """Return another drum of the same kind: tuned, damped, fitted and miked in another way."""
    pitch = float(np.exp(rng.normal(0, 0.1)))
    damping = float(np.exp(rng.normal(0, 0.2)))
    modes_db = np.array(drum.modes_db) + rng.normal(0, 3, len(drum.modes_db))
    return replace(
        drum,
        modes_hz=tuple(pitch * hz for hz in drum.modes_hz),
        decays_s=tuple(damping * decay_s for decay_s in drum.decays_s),
        modes_db=tuple(modes_db.tolist()),
        contact_db=drum.contact_db + float(rng.normal(0, 3)),
        wires_db=None if drum.wires_db is None else drum.wires_db + float(rng.normal(0, 3)),
        wires_s=drum.wires_s * float(np.exp(rng.normal(0, 0.25))),
        quickness=float(np.exp(rng.normal(0, 0.3))),
        turn_rad=float(rng.uniform(-0.9, 0.9)),
    )


CountIn = Literal["click", "sticks", "none"]
NoiseColour = Literal["white", "pink", "brown", "hum"]
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8000, 192000


@dataclass(frozen=True)
class Room:
    """A room: how long it rings (to -60 dB), and how loud against the dry sound (energy, dB)."""

    decay_s: float = 0.4
    wet_db: float = -12.0


@dataclass(frozen=True)
class Scene:
    """Where the player is recorded. The defaults are a dry pad without noise or click.

    ``noise_snr_db`` is the RMS of the first 50 ms of the louder strokes over the RMS of
    the noise; None for silence. ``click_db`` is the click's peak over the mean peak of the
    strokes; None where the click is not in the recording (headphones). ``click_through``
    says that it goes on through the playing. ``count_in_db`` is the level of a count-in by
    sticks beside the player's loudest kind of stroke. ``clip_db`` drives the peak that far over
    full scale and cuts it there. ``agc`` lets a recorder ride the gain.
    """

    rate_hz: int = 48000
    instrument: Instrument = "pad"
    noise_snr_db: float | None = None
    noise_colour: NoiseColour = "pink"
    room: Room | None = None
    click_db: float | None = None
    click_through: bool = True
    click_accent: bool = False
    count_in: CountIn = "click"
    count_in_beats: int = 4
    count_in_db: float = -6.0
    lead_in_s: float = 0.5
    talking: bool = False
    tail_s: float = 0.8
    peak_db: float = -4.0
    clip_db: float | None = None
    agc: bool = False
    dc: float = 0.0

    def __post_init__(self) -> None:
        if not LOWEST_RATE_HZ <= self.rate_hz <= HIGHEST_RATE_HZ:
            raise WrongUse(f"rate_hz: got {self.rate_hz}; must be {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ}.")
        if self.lead_in_s < 0 or self.tail_s < 0 or self.count_in_beats < 0:
            raise WrongUse("lead_in_s, tail_s and count_in_beats must not be negative.")
