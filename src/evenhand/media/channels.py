"""Which channel of a recording to listen to, and what else its samples tell.

Conventions: channels are named from 1 for people and from 0 in code. Channels are never summed:
two microphones hear a stroke at different times, and their sum blurs its start.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from evenhand.media.stored import Floats, Source, broken, repaired, walk

COARSE_SILENCE = 2.5 / 32768  # highest less lowest sample, of a source with 16 bits: its last bit may flicker
FINE_SILENCE = 1e-6  # of a source with more
DEAD_DB = 50.0  # this far under the loudest channel, a channel carries only what leaks into it
SAME_SHARE = 1e-5  # energy of the difference over the energy
STROKE_RISE = 4.0  # energy of 10 ms over the mean of the 20 ms before, 6 dB
STROKE_FLOOR = 10**-4.5  # under the channel's loudest 10 ms
MANY_STROKES = 0.8  # share of the strokes of the channel that has most
CLIPPED_LEVEL = 0.9995
FLAT_TOP, FLAT_TOP_FROM = 0.98, 0.25  # equal neighbours so near the block's peak are a cut-off top
CLIPPED_PAIRS = 10
DC = 0.01


@dataclass(slots=True)
class Channel:
    """What one channel holds, gathered block by block."""

    low: float = np.inf
    high: float = -np.inf
    total: float = 0.0
    frames: int = 0
    broken: int = 0
    clipped: int = 0
    differs: float = 0.0  # energy of the difference from channel 1, and of the sum with it
    adds: float = 0.0
    energies: list[NDArray[np.float64]] = field(default_factory=list)  # of each 10 ms, lows taken off

    @property
    def span(self) -> float:
        """Highest less lowest sample."""
        return max(self.high - self.low, 0.0)

    @property
    def mean(self) -> float:
        """Constant offset."""
        return self.total / max(self.frames, 1)

    @property
    def energy(self) -> float:
        """Energy with the lows taken off: hum and offset count little."""
        return float(sum(part.sum() for part in self.energies))

    def strokes(self) -> int:
        """Count sudden rises."""
        energy = np.concatenate(self.energies) if self.energies else np.zeros(0)
        if energy.size < 3:
            return 0
        before = (energy[:-2] + energy[1:-1]) / 2
        loud = energy[2:] > STROKE_FLOOR * energy.max()
        return int(np.count_nonzero(loud & (energy[2:] > STROKE_RISE * before)))


@dataclass(frozen=True, slots=True)
class Choice:
    """The channel to listen to, from 0; why; and what to warn of. ``silent``: none sounds."""

    channel: int
    why: str
    warnings: tuple[str, ...] = ()
    silent: bool = False
    broken: int = 0


def survey(source: Source, rate_hz: int) -> list[Channel]:
    """Look at all samples once."""
    channels = [Channel() for _ in range(source.channels)]
    frame = max(rate_hz // 100, 1)
    block = source.channels * frame * max((1 << 18) // (frame * source.channels), 1)
    for frames in walk(source, block):
        parts = [np.ascontiguousarray(frames[:, i]) for i in range(source.channels)]
        parts = [_look(channel, part) for channel, part in zip(channels, parts, strict=True)]
        if source.channels > 1:
            _compare(channels, parts, frame)
    return channels


def choose(source: Source, rate_hz: int, silent_span: float = FINE_SILENCE) -> Choice:
    """Choose one channel, by what all of them hold."""
    channels = survey(source, rate_hz)
    sounding = [i for i, channel in enumerate(channels) if channel.span > silent_span]
    if not sounding:
        return Choice(0, "none sounds", silent=True, broken=max(channel.broken for channel in channels))
    chosen, why = (0, "mono") if len(channels) == 1 else _choose_of_many(channels, sounding)
    return Choice(chosen, why, _warnings(channels[chosen]), broken=channels[chosen].broken)


def _look(channel: Channel, part: Floats) -> Floats:
    """Add one block to what a channel holds; return it mended."""
    low, high = float(part.min()), float(part.max())
    if not (np.isfinite(low) and np.isfinite(high) and max(-low, high) < 1e9):
        channel.broken += int(np.count_nonzero(broken(part)))
        part = repaired(part)
        low, high = float(part.min()), float(part.max())
    channel.low, channel.high = min(channel.low, low), max(channel.high, high)
    channel.total += float(part.sum())
    channel.frames += part.size
    if max(-low, high) > FLAT_TOP_FROM:
        channel.clipped += _clipped(part, max(-low, high))
    return part


def _clipped(part: Floats, peak: float) -> int:
    """Count neighbours that are both at full scale, or equal and at the very top."""
    lowest = np.float32(min(FLAT_TOP * peak, CLIPPED_LEVEL))
    top = np.flatnonzero((part[1:] >= lowest) | (part[1:] <= -lowest))
    now, before = np.abs(part[top + 1]), np.abs(part[top])
    flat = (part[top + 1] == part[top]) & (now >= FLAT_TOP * peak)
    return int(np.count_nonzero(flat | ((now >= CLIPPED_LEVEL) & (before >= CLIPPED_LEVEL))))


def _compare(channels: list[Channel], parts: list[Floats], frame: int) -> None:
    """Add one block to how the channels differ, and to how their energy goes."""
    for channel, part in zip(channels, parts, strict=True):
        if part is not parts[0]:
            channel.differs += _energy(part - parts[0])
            channel.adds += _energy(part + parts[0])
        whole = part.size // frame * frame
        rises = np.empty_like(part)
        rises[0] = 0
        np.subtract(part[1:], part[:-1], out=rises[1:])
        rises = rises[:whole].reshape(-1, frame)
        channel.energies.append(np.einsum("ij,ij->i", rises, rises).astype(np.float64))


def _energy(part: Floats) -> float:
    return float(np.dot(part, part))


def _choose_of_many(channels: list[Channel], sounding: list[int]) -> tuple[int, str]:
    """Choose among several channels; the reason is for people."""
    count = len(channels)
    loudest = max(channels[i].energy for i in sounding)
    live = [i for i in sounding if channels[i].energy >= loudest * 10 ** (-DEAD_DB / 10)]
    if len(live) == 1:
        dead = [str(i + 1) for i in range(count) if i != live[0]]
        return live[0], f"{live[0] + 1} of {count}: {_listed(dead)} dead"
    if len(live) == count and all(_same(channels[i]) for i in live):
        return 0, f"1 of {count}: the channels are the same"
    if len(live) == count and all(_same(c) or _opposite(c) for c in channels):
        return 0, f"1 of {count}: the channels are opposite in polarity and would cancel each other"
    return _choose_by_sound(channels, live)


def _choose_by_sound(channels: list[Channel], live: list[int]) -> tuple[int, str]:
    """Choose the loudest clean channel among those that have the strokes."""
    strokes = {i: channels[i].strokes() for i in live}
    playing = [i for i in live if strokes[i] >= MANY_STROKES * max(strokes.values())]
    clean = [i for i in playing if channels[i].clipped <= CLIPPED_PAIRS]
    chosen = max(clean or playing, key=lambda i: channels[i].energy)
    reasons = []
    if len(playing) < len(live):
        reasons.append("it has the most hits")
    if clean and len(clean) < len(playing):
        reasons.append("it is not clipped")
    if len(clean or playing) > 1 or not reasons:
        reasons.append("it is the loudest")
    why = f"{chosen + 1} of {len(channels)}: {' and '.join(reasons)}; channels that differ are not summed"
    return chosen, why


def _same(channel: Channel) -> bool:
    return channel.differs <= SAME_SHARE * channel.adds


def _opposite(channel: Channel) -> bool:
    return channel.adds <= SAME_SHARE * channel.differs


def _listed(names: list[str]) -> str:
    """Name channels: channel 2 is, channels 2 and 3 are."""
    if len(names) == 1:
        return f"channel {names[0]} is"
    return f"channels {', '.join(names[:-1])} and {names[-1]} are"


def _warnings(channel: Channel) -> tuple[str, ...]:
    """Say what is wrong with the channel that was chosen."""
    said = []
    if channel.clipped > CLIPPED_PAIRS:
        said.append("clipped: the loudest hits were louder than they read")
    if abs(channel.mean) > DC and channel.span < 100:
        said.append(f"a constant offset (DC) of {100 * channel.mean:.0f} % of full scale; it does no harm")
    if channel.broken:
        said.append(f"{channel.broken} samples were not numbers; they were filled in from their neighbours")
    return tuple(said)
