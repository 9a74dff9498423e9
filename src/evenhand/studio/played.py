"""An exercise of the book to listen to: a short play-along as MP3, made once and kept in memory.

Conventions: bytes of a whole file. Nothing stays on the studio's disk. How fast is said as strokes a second
of the busier hand, so that every exercise is heard as fast as any other, whatever it is written in.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

from evenhand.acts.exercises.tracks import parts_of, write_playalong
from evenhand.errors import WrongOptions
from evenhand.music.beat import click_tempo
from evenhand.music.book import Entry
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.text import parse_exercise
from evenhand.music.writing.rates import hand_rate
from evenhand.synthesis.playalong import ClickChoice, Mixing, PlayalongAsked

SPEEDS: Mapping[str, float] = {"slow": 1.2, "middle": 2.2, "fast": 3.6}  # strokes a second: conventions
USUAL_SPEED = "middle"
RATE_HZ = 44_100
AT_LEAST_S, AT_MOST_S = 8.0, 60.0  # so long it is played over and over; longer than that it is not heard here
MOST_KEPT = 96  # files, some 60 kB each


def tempo_at(exercise: Exercise, speed: str) -> Tempo:
    """Return the click's tempo at one of the speeds; the usual one where there is no such.

    >>> str(tempo_at(parse_exercise("1/8: RLRR LRLL"), "slow"))
    '1/4 = 54'
    """
    rate = hand_rate(exercise)
    if not rate:
        raise WrongOptions(got="an exercise for the feet alone", must_be="one with strokes of a hand")
    return click_tempo(exercise, rate / SPEEDS.get(speed, SPEEDS[USUAL_SPEED]))


def heard_here(text: str, speed: str, *, click: bool) -> tuple[bytes, Tempo]:
    """Return an exercise played over and over as MP3, and at which tempo; counted in with a bar.

    Raises
    ------
    EvenhandError
        Where the exercise cannot be read, or once through it takes longer than a minute.
    """
    exercise = parse_exercise(text)
    tempo = tempo_at(exercise, speed)
    once_s = float(exercise.length) * tempo.whole_note_s
    if once_s > AT_MOST_S:
        got = f"an exercise of {once_s:.0f} s at {tempo}"
        raise WrongOptions(got=got, must_be=f"at most {AT_MOST_S:g} s to be heard here; try it faster")
    times = max(1, math.ceil(AT_LEAST_S / once_s))
    return _played(text, str(tempo), times, "on" if click else "count-in"), tempo


@lru_cache(maxsize=MOST_KEPT)
def _played(text: str, tempo: str, times: int, click: ClickChoice) -> bytes:
    parts = parts_of([Entry(parse_exercise(text))])
    asked = PlayalongAsked(parts, Tempo.parse(tempo), repetitions=times, click=click)
    with TemporaryDirectory() as folder:
        place = Path(folder) / "heard.mp3"
        write_playalong(asked, Mixing(), place, RATE_HZ)
        return place.read_bytes()
