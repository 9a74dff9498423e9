"""A recording that was read: its frames, and what there is to say about them."""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.media.stored import Source

LONGEST_S = 3 * 3600
SHORTEST_S = 0.3
MOST_CHANNELS = 8
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8_000, 192_000


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """All channels as stored, before one is chosen. ``format`` is container/codec."""

    source: Source
    rate_hz: int
    format: str
    warnings: tuple[str, ...] = ()

    @property
    def duration_s(self) -> float:
        """Seconds of sound."""
        return self.source.frames / self.rate_hz


def cut_off(promised_s: float, there_s: float) -> str:
    """Say that a file holds less than it promises."""
    return f"cut off: the file promises {promised_s:.2f} s and holds {there_s:.2f} s"
