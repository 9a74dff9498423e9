"""A take as values: the sound or the strokes that came in, what its container said, and what was heard in it.

Conventions: samples are mono float32, full scale 1, in order of time; a sample's
time is its index over ``rate_hz``. ``time_s`` is in the file's own timeline, seconds from the
first decoded sample. ``level_db`` is the level of a hit (RMS of its first 10 ms above 200 Hz,
dB re full scale; from MIDI: 40 log10(velocity / 127)). Repetitions count from 1, positions
from 0. Asynchrony and deviation are ms, negative = early.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal, Protocol

from evenhand.music.exercise import Hand

if TYPE_CHECKING:  # a value needs no arrays to be made, and a small command none to start
    import numpy as np
    from numpy.typing import NDArray

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


SNARE_NOTES = (37, 38, 40)  # General MIDI: side stick, acoustic snare, electric snare

Progress = Callable[[float], None]  # the share done, 0 to 1


def part_of(progress: Progress | None, start: float, end: float) -> Progress | None:
    """Let a stage tell its own 0 to 1 as its part of the whole."""
    return None if progress is None else lambda done: progress(start + (end - start) * done)


class Samples(Protocol):
    """Samples that may lie in memory or on disk: an array is one, and so is a long take's file.

    Slices come back as arrays of shape (n,), float32.
    """

    def __len__(self) -> int: ...

    def __getitem__(self, key: slice, /) -> NDArray[np.float32]: ...


@dataclass(frozen=True, slots=True, eq=False)
class SoundTake:
    """A take as sound. Short takes hold an array; long ones read slices from disk."""

    samples: Samples
    rate_hz: int
    facts: InputFacts

    @property
    def duration_s(self) -> float:
        """Seconds of sound."""
        return len(self.samples) / self.rate_hz

    def blocks(self, size: int) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """Walk the take: the index of each block's first sample, and the block.

        Yields
        ------
        a number, and shape (<= size,), full scale 1.0
        """
        for start in range(0, len(self.samples), size):
            yield start, self.samples[start : start + size]


@dataclass(frozen=True, slots=True, eq=False)
class MidiTake:
    """A take from an electronic pad. All arrays have shape (n_hits,); times are rising seconds."""

    times_s: NDArray[np.float64]
    levels_db: NDArray[np.float64]
    notes: NDArray[np.int64]
    facts: InputFacts
    duration_s: float


class OpensTakes(Protocol):
    """Opens a recording or a Standard MIDI File, or refuses it by name."""

    def __call__(
        self,
        path: Path,
        *,
        midi_notes: Sequence[int] = SNARE_NOTES,
        progress: Progress | None = None,
    ) -> SoundTake | MidiTake:
        """Open one take; ``progress`` is told the share done."""
        ...


RemarkKind = Literal[
    "written",
    "no note found",
    "notes unmatched",
    "hits off the notes",
    "two alignments",
    "other sticking",
    "hands from habit",
    "no click found",
    "another note value",
    "another tempo",
    "hits without a note",
    "notes hidden",
    "maybe a count-in",
    "maybe notes",
    "corrected",
    "pictures not watched",
    "no video shows this",
    "too few hits",
    "nothing stands out",
    "repetitions so far",
    "rate would tell",
    "no take so long",
    "slower than the stage",
    "takes slower than the stage",
    "run too long",
    "too many notes",
    "accents come later",
    "ornament comes later",
    "too hard for the stage",
    "hand too fast",
    "hand too slow",
    "no take shows this",
    "hand not heard",
    "no drops heard",
    "no free drop",
    "hands of drops not known",
    "few drops heard",
    "drops unsure",
    "drops damped",
    "drops heard",
    "strokes not said",
    "stages of one stroke",
    "hands not told",
    "few hits of a drop",
    "strokes, not a drop",
    "damped by a finger",
    "held",
    "shrinks unevenly",
    "bounced on by itself",
    "no whole repetition",
    "too few to judge",
    "ceiling higher",
    "ceiling lower",
    "ceiling not shown",
    "ceiling known",
    "next tempo would tell",
    "another format",
    "another rate",
    "other channels",
    "another background",
    "another sound",
    "louder than fulls",
    "softer than taps",
    "loads a hand",
    "loads second notes",
    "loads a hand change",
    "loads heights",
    "loads graces",
    "keeps up a stroke",
    "new exercise",
    "as fast as the stage",
    "purpose warm-up",
    "purpose drops",
    "purpose new",
    "purpose build",
    "purpose again",
    "purpose slower",
    "purpose alone",
    "purpose leading",
    "purpose around",
    "purpose leaning",
    "purpose short goes",
    "purpose review",
    "purpose speed",
    "purpose endurance",
    "purpose music",
    "purpose record",
    "purpose record drops",
    "heard in takes",
    "behind in every take",
    "another treatment",
    "another way before",
    "success is heard in",
    "stays for a fault",
    "slower for a fault",
    "control not sure",
    "at the ceiling",
    "even so far",
    "no slower on the click",
    "next in the library",
    "from the book",
    "to be used",
    "easy to begin with",
    "learnt before",
    "same form each week",
    "story drops",
    "story fault",
    "story new",
    "story steps",
    "fault waits",
    "in sittings",
    "week without takes",
    "week from takes",
    "week from even takes",
    "strokes by day",
    "strokes by week",
    "strokes jump",
    "beyond the record",
    "shorter than asked",
    "level hardly rises",
    "scale of both hands",
    "heard without an exercise",
    "hands not told in a take",
    "found in a take",
    "nothing in the book for",
    "new hand changes",
    "book works on none",
    "book works on few",
    "chosen by coverage",
]
Fact = str | int | float


@dataclass(frozen=True, slots=True)
class Remark:
    """One remark. ``written`` is one that an earlier version stored in words (``text``, ``then``)."""

    kind: RemarkKind
    facts: Mapping[str, Fact] = field(default_factory=dict)


def in_words(text: str) -> tuple[Remark, ...]:
    """Return a remark that is in words already; nothing for none."""
    return (Remark("written", {"text": text}),) if text else ()


Clock = Literal["click", "smooth"]
ExtraReason = Literal["before the start", "count-in", "between", "after", "too soft"]


@dataclass(frozen=True, slots=True)
class Hit:
    """One blow that was heard. Everything from ``hand`` on is None where blind.

    ``asynchrony_ms`` is against the click that sounds through the playing (None
    without one); ``deviation_ms`` against the take's own smooth tempo. ``stretch``
    numbers the unbroken stretches of playing from 0: a stop opens the next.
    ``written`` is the written time in whole notes since the top of the take's first
    repetition (graces: their main note's). ``time_se_ms`` is the standard error of ``time_s``
    as the sound allows it; None where times were given, as from an electronic pad.
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
    time_se_ms: float | None = None


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


EAR = 3  # counted up where the same recording may be heard otherwise than before


@dataclass(frozen=True, slots=True)
class Heard:
    """Everything heard in one take, in order of time.

    ``clock`` says what timing is judged against; ``None`` where blind.
    ``ambiguity`` is a remark where the take fits two alignments (which hand is
    which cannot be told from the sound), else None. ``clicks_s`` are click times.
    ``tempo_bpm`` is in the beat of the tempo given; None where blind.
    ``hidden`` are notes under the ring of louder ones, which cannot be heard and are not missed.
    ``unlike`` is a remark where the take does not sound like the exercise.
    ``begins_at_s`` is where the take was said to begin, None where that was left to the ear.
    ``ear`` is the number of the ear that heard it (``EAR``), None before ears had one.
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
    ear: int | None = None
    hidden: tuple[MissedNote, ...] = ()

    @property
    def clear(self) -> bool:
        """Tell whether it fits one alignment alone, and sounds like the exercise."""
        return self.ambiguity is None and self.unlike is None
