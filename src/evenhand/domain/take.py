"""A take: where the sound came from, and what its container said."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

TakeKind = Literal["sound", "midi"]


@dataclass(frozen=True, slots=True)
class InputFacts:
    """What a recording's file was, and what was done to read it."""

    format: str  # "wav/pcm_s16le", "mp4/aac", "midi"
    seconds: float
    rate_hz: int | None = None
    channels: int | None = None
    channel_used: str | None = None  # "mean of 2", "1 of 2: channel 2 is dead"
    warnings: tuple[str, ...] = field(default=())
