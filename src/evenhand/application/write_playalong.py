"""Write a play-along: the exercises played as written, each stroke as loud as its height makes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from evenhand.application.sound_out import (
    LOUDEST_PEAK_DBTP,
    Json,
    Level,
    SoundOut,
    Written,
    bars_as_json,
    check_length,
    clicks_as_json,
    rounded,
    write_levelled,
)
from evenhand.craft.stroke_plan import plan_strokes
from evenhand.craft.text import print_exercise
from evenhand.domain.book import Entry
from evenhand.domain.exercise import Exercise
from evenhand.domain.tempo import Tempo
from evenhand.errors import WrongOptions
from evenhand.sound.course import HOLD, Change
from evenhand.sound.playalong import (
    ClickChoice,
    LaidPlayalong,
    Levels,
    Part,
    PlayalongAsked,
    lay_playalong,
)
from evenhand.sound.playalong_track import Mixing, playalong_track
from evenhand.sound.pulse import ALL_HEARD, Silence
from evenhand.sound.stroke_voice import level_of_height_db

PLAYALONG_LUFS = -20.0
PLAYED_DB = {"soft": -12.0, "loud": 0.0}
LOWEST_PLAYED_DB, HIGHEST_PLAYED_DB = -60.0, 12.0
SOFTLY = Mixing()


@dataclass(frozen=True, slots=True)
class PlayalongWanted:
    """What is to be played, and how it is put on a track."""

    entries: Sequence[Entry]
    tempo: Tempo
    repetitions: int = 8
    count_in: int = 1
    change: Change = HOLD
    silence: Silence = ALL_HEARD
    click: ClickChoice = "on"
    mixing: Mixing = SOFTLY
    lead_in_s: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class PlayalongWritten:
    """What was written: how many exercises and strokes, and the tempo at the start and at the end."""

    written: Written
    exercises: int
    strokes: int
    tempos: tuple[Tempo, Tempo]


def write_playalong(wanted: PlayalongWanted, out: SoundOut) -> PlayalongWritten:
    """Lay the play-along, bring it to its level, write it."""
    laid = _laid(wanted)
    check_length(laid.course, wanted.lead_in_s)
    track = playalong_track(laid, out.rate_hz, wanted.mixing, lead_in_s=wanted.lead_in_s)
    if not track.events:
        raise WrongOptions(got="neither click nor strokes", must_be="one of them at least")
    level = Level(LOUDEST_PEAK_DBTP, PLAYALONG_LUFS)
    written = write_levelled(track, out, _timetable(laid, wanted.lead_in_s), level=level)
    first, last = laid.parts[0].repetitions[0], laid.course.length
    tempos = laid.course.tempo(first), laid.course.tempo(last)
    strokes = 0 if wanted.mixing.played_db is None else len(laid.blows)
    return PlayalongWritten(written, len(laid.parts), strokes, tempos)


def read_played(text: str) -> float | None:
    """Read how loud the exercise is against the click, dB; None for not at all.

    >>> read_played("soft"), read_played("-3"), read_played("off")
    (-12.0, -3.0, None)
    """
    if text == "off":
        return None
    try:
        level_db = PLAYED_DB[text] if text in PLAYED_DB else float(text)
    except ValueError:
        level_db = float("nan")
    if not LOWEST_PLAYED_DB <= level_db <= HIGHEST_PLAYED_DB:
        must_be = f"soft, loud, off, or dB over the click from {LOWEST_PLAYED_DB:g} to {HIGHEST_PLAYED_DB:g}"
        raise WrongOptions(got=f"--played {text!r}", must_be=must_be)
    return level_db


def _laid(wanted: PlayalongWanted) -> LaidPlayalong:
    parts = tuple(_part(entry) for entry in wanted.entries)
    if not parts:
        raise WrongOptions(got="a book without exercises", must_be="one exercise or more")
    return lay_playalong(
        PlayalongAsked(
            parts=parts,
            tempo=wanted.tempo,
            repetitions=wanted.repetitions,
            count_in=wanted.count_in,
            change=wanted.change,
            silence=wanted.silence,
            click=wanted.click,
        )
    )


def _part(entry: Entry) -> Part:
    """Give an exercise its levels, from the height of each stroke."""
    return Part(entry.exercise, _levels(entry.exercise), entry.title)


def _levels(exercise: Exercise) -> Levels:
    strokes = plan_strokes(exercise).strokes
    return {(s.position, s.grace): level_of_height_db(s.before_cm) for s in strokes}


def _timetable(laid: LaidPlayalong, lead_in_s: Fraction) -> Json:
    """Say what comes when."""
    parts = [
        {
            "title": each.part.title,
            "exercise": print_exercise(each.part.exercise),
            "repetitions_s": [rounded(lead_in_s + laid.course.time_s(at)) for at in each.repetitions],
            "end_s": rounded(lead_in_s + laid.course.time_s(each.end)),
        }
        for each in laid.parts
    ]
    strokes = [
        {
            "time_s": rounded(lead_in_s + blow.time_s),
            "level_db": round(blow.level_db, 2),
            "hand": blow.hand,
            "exercise": blow.part + 1,
            "repetition": blow.repetition,
            "position": blow.position,
            "grace": blow.grace,
        }
        for blow in laid.blows
    ]
    bars = bars_as_json(laid.bars, laid.course, lead_in_s)
    return {
        "exercises": parts,
        "bars": bars,
        "clicks": clicks_as_json(laid.clicks, lead_in_s),
        "strokes": strokes,
    }
