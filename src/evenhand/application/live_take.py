"""A live take: the ear that was asked for, and what it hears as JSON holds it.

Conventions: hits as ``listening.live.LiveHit``.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from evenhand.application.studio_stand_take import LONGEST_LIVE_S, LiveAsked
from evenhand.listening.live import LiveEar, LiveHit

KEEPS_S = 60.0  # of sound; the recording itself is the page's
DIGITS = {"time_s": 5, "level_db": 2, "asynchrony_ms": 2}


def live_ear(asked: LiveAsked) -> LiveEar:
    """Make the ear for a live take."""
    return LiveEar(
        asked.rate_hz,
        exercise=asked.asked.exercise,
        tempo=asked.asked.tempo,
        first_note_s=asked.first_note_s,
        click_s=asked.clicks_s,
        longest_s=LONGEST_LIVE_S,
        keeps_s=KEEPS_S,
    )


def plain_hit(hit: LiveHit) -> dict[str, Any]:
    """Return a hit as JSON holds it."""
    return {
        name: round(float(value), DIGITS[name]) if name in DIGITS and value is not None else value
        for name, value in asdict(hit).items()
    }
