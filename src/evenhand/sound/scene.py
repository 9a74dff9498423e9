"""Where and how an invented take is recorded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenhand.errors import WrongUse
from evenhand.sound.instruments import Instrument

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
