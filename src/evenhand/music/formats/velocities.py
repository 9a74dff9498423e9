"""How loud written notes are, and on which drum, for programs that play them: MIDI velocities and notes.

MIDI does not say what level a velocity is. Synthesizers were measured to follow a square law roughly, with
ranges that differ (Dannenberg 2006, "The interpretation of MIDI velocity", ICMC, 193-196); a range of 40 dB
is taken here. An accent stands 9 dB over a plain note and a grace 15 dB under it, as the simulated
player has them; no standard says so.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

from evenhand.music.exercise import Exercise, Hand, Note, Sound
from evenhand.music.loudness import dynamics_db

RANGE_DB = 40.0
MOST = 127
FORTE = 90  # MusicXML counts loudness in per cent of this velocity
SNARE = 38  # General MIDI's acoustic snare
SIDE_STICK, RIM, BASS_DRUM, PEDAL_HI_HAT = 37, 40, 36, 44  # General MIDI's; a rim shot is its electric snare
_DRUM_NOTES: Mapping[tuple[Sound, Hand | None], int] = {
    ("cross", None): SIDE_STICK,
    ("rim", None): RIM,
    ("foot", "R"): BASS_DRUM,
    ("foot", "L"): PEDAL_HI_HAT,
}

Blow = Literal["accent", "note", "grace"]

_LEVELS_DB: dict[Blow, float] = {"accent": -0.5, "note": -9.5, "grace": -24.5}


def amplitude_of(velocity: float, range_db: float = RANGE_DB) -> float:
    """Return the amplitude of a velocity from 1 to 127, full scale 1, by the square law.

    >>> round(amplitude_of(64), 4)
    0.3025
    """
    slope, offset = _line(range_db)
    return (slope * velocity + offset) ** 2


def velocity_for(level_db: float, range_db: float = RANGE_DB) -> int:
    """Return the velocity nearest to a level, dB re the loudest; 1 to 127.

    >>> velocity_for(0), velocity_for(-40), velocity_for(-10.3855)
    (127, 1, 64)
    """
    slope, offset = _line(range_db)
    velocity = (math.sqrt(10 ** (level_db / 20)) - offset) / slope
    return min(max(round(velocity), 1), MOST)


def velocity_of(blow: Blow, quieter_db: float = 0.0) -> int:
    """Return the velocity that a kind of blow is written with, so much under its usual level."""
    return velocity_for(_LEVELS_DB[blow] + quieter_db)


SECOND_ACCENT_DB = -3.0  # of an accent, where there are strong ones
GHOST_DB = -9.0  # of a ghost note under a plain one


def velocities_of(exercise: Exercise) -> tuple[int, ...]:
    """Return each position's velocity: its accent, ghost and dynamic; a rest's is a plain note's."""
    second = SECOND_ACCENT_DB if any(note.strong for note in exercise.notes) else 0.0
    out = []
    for note, dynamic in zip(exercise.notes, dynamics_db(exercise), strict=True):
        own = GHOST_DB * note.ghost + second * (note.accent and not note.strong)
        out.append(velocity_of("accent" if note.accent else "note", own + dynamic))
    return tuple(out)


def drum_note_of(note: Note, drum: int = SNARE) -> int:
    """Return the MIDI note that a blow is played by; ``drum`` is that of a plain one."""
    return _DRUM_NOTES.get((note.sound, note.hand if note.sound == "foot" else None), drum)


def dynamics_of(velocity: float) -> str:
    """Return MusicXML's loudness of a velocity: per cent of 90.

    >>> dynamics_of(90), dynamics_of(64), dynamics_of(127)
    ('100', '71.11', '141.11')
    """
    return f"{100 * velocity / FORTE:.2f}".rstrip("0").rstrip(".")


def _line(range_db: float) -> tuple[float, float]:
    """Return slope and offset of the root of the amplitude: 1 at 127, down by the range at 1."""
    lowest = 10 ** (range_db / 20)
    offset = MOST / ((MOST - 1) * math.sqrt(lowest)) - 1 / (MOST - 1)
    return (1 - offset) / MOST, offset
