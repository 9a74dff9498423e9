"""What a take is to be heard as: the exercise, the tempo, and where the click is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from evenhand.errors import WrongOptions
from evenhand.music.click_pattern import EVERY_BEAT, ClickPattern
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.text import parse_exercise

Click = Literal["auto", "heard", "none"]
CLICKS: tuple[Click, ...] = get_args(Click)
HEADPHONES = "headphones"


@dataclass(frozen=True, slots=True)
class RecordingDevice:
    """What a device knows: ``first_note_s`` is when the first note was due on its own clock.

    ``headphones`` tells that its click is not in the recording; ``latency_ms`` is None where its delay was
    not measured.
    """

    first_note_s: float
    headphones: bool = False
    latency_ms: float | None = None

    @classmethod
    def of(cls, facts: Mapping[str, str], latency_ms: float | None) -> RecordingDevice | None:
        """Read the facts that came with a take (``click``, ``first_note_s``); None where they say nothing."""
        try:
            first_note_s = float(facts.get("first_note_s", ""))
        except ValueError:
            return None
        if not (math.isfinite(first_note_s) and first_note_s >= 0):
            return None
        return cls(first_note_s, facts.get("click") == HEADPHONES, latency_ms)


def is_unmeasured(facts: Mapping[str, str], latency_ms: float | None) -> bool:
    """Tell whether a take was played to headphones of a device whose delay is not known."""
    return facts.get("click") == HEADPHONES and latency_ms is None


@dataclass(frozen=True, slots=True)
class TakeRequest:
    """What a take is to be heard as. Without an exercise it is heard blind: hits, no hands.

    ``begins_at_s`` is when the exercise's first note was struck, where somebody says so. ``device`` is what
    a device knows that counted in, so that nothing played is taken for a count-in. ``pattern`` is the click
    that was on.
    """

    exercise: Exercise | None = None
    exercise_text: str | None = None
    tempo: Tempo | None = None
    click: Click = "auto"
    begins_at_s: float | None = None
    device: RecordingDevice | None = None
    pattern: ClickPattern = EVERY_BEAT

    @property
    def blind(self) -> bool:
        """Tell whether there is nothing to judge the take against."""
        return self.exercise is None

    @classmethod
    def read(
        cls,
        exercise: str | None,
        tempo: str | None,
        click: str = "auto",
        *,
        begins_at_s: float | None = None,
        pattern: str = "",
    ) -> TakeRequest:
        """Read what was typed; an exercise and its tempo go together.

        >>> TakeRequest.read("1/8: RLRR LRLL", "1/4=120").tempo.beat_s
        0.5
        """
        exercise, tempo = (exercise or "").strip(), (tempo or "").strip()
        if exercise and not tempo:
            raise WrongOptions(got="an exercise without a tempo", must_be="both, such as --tempo 1/8=70")
        if tempo and not exercise:
            raise WrongOptions(got="a tempo without an exercise", must_be="both, or neither to hear it blind")
        if not exercise and begins_at_s is not None:
            raise WrongOptions(got="where the take begins, but no exercise", must_be="both, or neither")
        known = ClickPattern.parse(pattern)
        if not exercise:
            return cls(click=click_of(click), pattern=known)
        written = parse_exercise(exercise)
        return cls(written, exercise, Tempo.parse(tempo), click_of(click), begins_at_s, pattern=known)


def pattern_of(facts: Mapping[str, str]) -> ClickPattern:
    """Read which click was on from the facts that came with a take; every beat where they do not say."""
    try:
        return ClickPattern.parse(facts.get("pattern", ""))
    except WrongOptions:
        return EVERY_BEAT


def click_of(text: str) -> Click:
    """Read where the click is; nothing said means auto."""
    for known in CLICKS:
        if known == (text.strip() or "auto"):
            return known
    raise WrongOptions(got=f"click {text!r}", must_be="auto, heard or none")
