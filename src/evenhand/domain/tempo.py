"""Tempo: beats a minute, with the note value that gets the beat."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from evenhand.errors import BadTempo

_FORM = re.compile(r"\s*(\d{1,4})\s*/\s*(\d{1,4})\s*=\s*(\d{1,4}(?:\.\d{1,6})?)\s*", re.ASCII)
SLOWEST_BPM, FASTEST_BPM = 5.0, 1000.0


@dataclass(frozen=True, slots=True)
class Tempo:
    """So many beats a minute of a note value: ``1/8 = 70``."""

    beat: Fraction
    bpm: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.bpm) and SLOWEST_BPM <= self.bpm <= FASTEST_BPM):
            raise BadTempo(got=f"{self.bpm:g}", must_be=f"{SLOWEST_BPM:g} to {FASTEST_BPM:g} beats a minute")
        if self.beat <= 0:
            raise BadTempo(got=str(self.beat), must_be="a note value above 0, such as 1/8")

    @property
    def whole_note_s(self) -> float:
        """Seconds that a whole note lasts."""
        return 60.0 / self.bpm / float(self.beat)

    @property
    def beat_s(self) -> float:
        """Seconds from beat to beat."""
        return 60.0 / self.bpm

    @classmethod
    def parse(cls, text: str) -> Tempo:
        """Read ``1/8=70``.

        >>> Tempo.parse("1/8 = 70").beat
        Fraction(1, 8)
        """
        found = _FORM.fullmatch(text)
        if found is None or int(found[2]) == 0 or int(found[1]) == 0:
            raise BadTempo(got=repr(text), must_be="a note value and beats a minute, such as 1/8=70")
        return cls(Fraction(int(found[1]), int(found[2])), float(found[3]))

    def __str__(self) -> str:
        return f"{self.beat.numerator}/{self.beat.denominator} = {self.bpm:g}"


def click_step_bpm(bpm: float) -> float:
    """Return the step between neighbouring tempos worth setting a click to: about 2 %.

    >>> click_step_bpm(70), click_step_bpm(120)
    (1.0, 2.0)
    """
    return 1.0 if bpm < 80 else 2.0 if bpm < 160 else 4.0


def on_the_click(bpm: float) -> float:
    """Round a tempo to one that a click is set to.

    >>> on_the_click(121.3)
    122.0
    """
    step = click_step_bpm(bpm)
    return max(SLOWEST_BPM, step * round(bpm / step))
