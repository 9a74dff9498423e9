"""What was heard in a take.

Conventions: ``time_s`` is in the file's own timeline, seconds from the first
decoded sample; ``level_db`` is the level of a hit (RMS of its first 10 ms above
200 Hz, dB re full scale; from MIDI: 40 log10(velocity / 127)). Repetitions count
from 1, positions from 0. Asynchrony and deviation are ms, negative = early.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenhand.domain.exercise import Hand
from evenhand.domain.remarks import Remark

Clock = Literal["click", "smooth"]
ExtraReason = Literal["before the start", "count-in", "between", "after", "too soft"]


@dataclass(frozen=True, slots=True)
class Hit:
    """One blow that was heard. Everything from ``hand`` on is None where blind.

    ``asynchrony_ms`` is against the click that sounds through the playing (None
    without one); ``deviation_ms`` against the take's own smooth tempo. ``stretch``
    numbers the unbroken stretches of playing from 0: a stop opens the next.
    ``written`` is the written time in whole notes since the top of the take's first
    repetition (graces: their main note's).
    """

    time_s: float
    level_db: float
    confidence: float
    hand: Hand | None = None
    repetition: int | None = None
    position: int | None = None
    grace: bool = False
    asynchrony_ms: float | None = None
    deviation_ms: float | None = None
    stretch: int = 0
    written: float | None = None


@dataclass(frozen=True, slots=True)
class MissedNote:
    """A written note, between the first and the last played, that was not heard."""

    repetition: int
    position: int
    grace: bool = False


@dataclass(frozen=True, slots=True)
class ExtraHit:
    """A blow that no written note accounts for, and why.

    It came before the start or after the last note, was taken for a count-in, stands
    between the notes, or is too soft beside the others to be sure of.
    """

    time_s: float
    level_db: float
    reason: ExtraReason = "between"


@dataclass(frozen=True, slots=True)
class Heard:
    """Everything heard in one take, in order of time.

    ``clock`` says what timing is judged against; ``None`` where blind.
    ``ambiguity`` is a remark where the take fits two alignments (which hand is
    which cannot be told from the sound), else None. ``clicks_s`` are click times.
    ``tempo_bpm`` is in the beat of the tempo given; None where blind.
    ``unlike`` is a remark where the take does not sound like the exercise.
    ``begins_at_s`` is where the take was said to begin, None where that was left to the ear.
    """

    hits: tuple[Hit, ...]
    missed: tuple[MissedNote, ...] = ()
    extra: tuple[ExtraHit, ...] = ()
    clicks_s: tuple[float, ...] = ()
    clock: Clock | None = None
    tempo_bpm: float | None = None
    ambiguity: Remark | None = None
    unlike: Remark | None = None
    warnings: tuple[Remark, ...] = ()
    begins_at_s: float | None = None
