"""Write a click to play to.

Give a track its loudness and write it: what the click and the play-along share.

Conventions: loudness in LUFS and true peaks in dBTP, as ITU-R BS.1770-4 has them.

Write a play-along: the exercises played as written, each stroke as loud as its height makes it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from evenhand.errors import WrongOptions
from evenhand.media.loudness import Loudness, loudness
from evenhand.media.write import write_track
from evenhand.music.book import Entry
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.loudness import dynamics_db
from evenhand.music.strokes.plan import plan_strokes
from evenhand.music.text import print_exercise
from evenhand.synthesis.click import BLOCK_FRAMES, Block, ClickAsked, Ear, Track, click_track, lay_click
from evenhand.synthesis.playalong import (
    LaidPlayalong,
    Levels,
    Mixing,
    Part,
    PlayalongAsked,
    lay_playalong,
    playalong_track,
)
from evenhand.synthesis.pulse import Bar, Change, Click, TempoMap
from evenhand.synthesis.voice import level_of_height_db
from evenhand.take import Progress, part_of

LONGEST_S = 2 * 3600
MOST_LEAD_IN_S = 60
LOUDEST_PEAK_DBTP = -1.0  # lossy codecs overshoot a little
CLICK_PEAK_DBTP = -6.0
PLAYALONG_LUFS = -20.0
TIME_DIGITS = 7
MEASURED = 0.3  # of the work, roughly: its loudness is measured, the rest is writing

_DECIMAL = re.compile(r"[+-]?\d{1,6}(\.\d{1,6})?", re.ASCII)

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Written:
    """What was written: how long and loud, the tempo after the count-in and at the end, what comes when."""

    seconds: float
    integrated_lufs: float | None
    true_peak_dbtp: float
    tempos: tuple[Tempo, Tempo]
    timetable: Json


def write_levelled(
    track: Track,
    path: Path,
    timetable: Json,
    tempos: tuple[Tempo, Tempo],
    *,
    level: Level,
    progress: Progress | None = None,
) -> Written:
    """Bring a track to its level and write it. Nothing is compressed: one gain holds for all of it."""
    measured = loudness(track)
    gain_db = level.gain_db(measured)
    louder = replace(track, gain=10 ** (gain_db / 20))
    write_track(path, _told(louder, part_of(progress, MEASURED, 1.0)), track.rate_hz, track.channels)
    lufs = None if measured.integrated_lufs is None else measured.integrated_lufs + gain_db
    peak_dbtp = measured.true_peak_dbtp + gain_db
    table = {
        "rate": track.rate_hz,
        "channels": track.channels,
        "seconds": rounded(Fraction(track.frames, track.rate_hz)),
        "loudness_lufs": None if lufs is None else round(lufs, 2),
        "true_peak_dbtp": round(peak_dbtp, 2),
        **timetable,
    }
    return Written(track.seconds, lufs, peak_dbtp, tempos, table)


def _told(track: Track, progress: Progress | None) -> Iterator[Block]:
    """Give a track's blocks, and tell how many of them are done."""
    for number, block in enumerate(track.blocks(), start=1):
        yield block
        if progress is not None:
            progress(min(number * BLOCK_FRAMES / max(track.frames, 1), 1.0))


@dataclass(frozen=True, slots=True)
class Level:
    """How loud: up to a true peak, and where ``lufs`` is given no louder than that either."""

    peak_dbtp: float
    lufs: float | None = None

    def gain_db(self, measured: Loudness) -> float:
        """Return the one gain, dB."""
        gain_db = self.peak_dbtp - measured.true_peak_dbtp
        if self.lufs is None or measured.integrated_lufs is None:
            return gain_db
        return min(gain_db, self.lufs - measured.integrated_lufs)


def check_length(seconds: Fraction | float) -> None:
    """Refuse what lasts too long, before any of it is made."""
    if seconds > LONGEST_S:
        got = f"{float(seconds) / 3600:.1f} h of sound"
        raise WrongOptions(got=got, must_be=f"{LONGEST_S // 3600} h at most; fewer bars or repetitions")


def read_change(step: str | None, every: int | None, to: str | None) -> Change:
    """Read how the tempo changes, as it was typed."""
    if every is not None and step is None:
        raise WrongOptions(got="--every without --step", must_be="both, such as --step 5 --every 4")
    return Change(
        step_bpm=None if step is None else decimal(step, "--step"),
        every=every or 1,
        to=None if to is None else Tempo.parse(to),
    )


def decimal(text: str, what: str) -> Fraction:
    """Read a number exactly as it was written.

    >>> decimal("-2.5", "--step")
    Fraction(-5, 2)
    """
    if _DECIMAL.fullmatch(text.strip()) is None:
        raise WrongOptions(got=f"{what} {text!r}", must_be="a number, such as 2.5")
    return Fraction(text.strip())


def read_lead_in(text: str) -> Fraction:
    """Read the seconds of silence before the first click."""
    seconds = decimal(text, "--lead-in")
    if not 0 <= seconds <= MOST_LEAD_IN_S:
        raise WrongOptions(got=f"a lead-in of {text} s", must_be=f"0 to {MOST_LEAD_IN_S} s")
    return seconds


def bars_as_json(bars: Iterable[Bar], tempo_map: TempoMap, lead_in_s: Fraction) -> list[Json]:
    """Say when each bar begins, what it is, and at which tempo."""
    return [
        {
            "bar": number,
            "time_s": rounded(lead_in_s + tempo_map.time_s(bar.at)),
            "kind": bar.kind,
            "tempo": str(tempo_map.tempo(bar.at)),
        }
        for number, bar in enumerate(bars, start=1)
    ]


def clicks_as_json(clicks: Iterable[Click], lead_in_s: Fraction) -> list[Json]:
    """Say when each click comes."""
    return [
        {
            "time_s": rounded(lead_in_s + click.time_s),
            "kind": click.kind,
            "level_db": round(click.level_db, 2),
        }
        for click in clicks
    ]


def rounded(time_s: Fraction) -> float:
    """Return seconds as they are written."""
    return round(float(time_s), TIME_DIGITS)


def write_click(
    asked: ClickAsked,
    path: Path,
    rate_hz: int,
    *,
    lead_in_s: Fraction = Fraction(0),
    ear: Ear = "both",
    peak_dbtp: float = CLICK_PEAK_DBTP,
) -> Written:
    """Lay a click, bring the peak of the loudest to its level, write it."""
    laid = lay_click(asked)
    check_length(laid.tempo_map.seconds + lead_in_s)
    track = click_track(laid, rate_hz, lead_in_s=lead_in_s, ear=ear)
    timetable = {
        "bars": bars_as_json(laid.bars, laid.tempo_map, lead_in_s),
        "clicks": clicks_as_json(laid.clicks, lead_in_s),
    }
    tempos = laid.tempo_map.tempos_from(laid.bars[asked.count_in].at)
    return write_levelled(track, path, timetable, tempos, level=Level(peak_dbtp))


def parts_of(entries: Sequence[Entry]) -> tuple[Part, ...]:
    """Give exercises their levels, from the height of each stroke."""
    if not entries:
        raise WrongOptions(got="a book without exercises", must_be="one exercise or more")
    return tuple(Part(entry.exercise, _levels(entry.exercise), entry.title) for entry in entries)


def _levels(exercise: Exercise) -> Levels:
    strokes = plan_strokes(exercise).strokes
    levels: dict[tuple[int, int | None], float] = {
        (s.position, s.grace): level_of_height_db(s.before_cm) for s in strokes
    }
    quieter = dynamics_db(exercise)
    feet = (at for at in exercise.struck if exercise.notes[at].sound == "foot")
    return levels | {(at, None): quieter[at] for at in feet}


def write_playalong(
    asked: PlayalongAsked, mixing: Mixing, path: Path, rate_hz: int, *, lead_in_s: Fraction = Fraction(0)
) -> Written:
    """Lay a play-along, bring it to its level, write it."""
    laid = lay_playalong(asked)
    check_length(laid.tempo_map.seconds + lead_in_s)
    track = playalong_track(laid, rate_hz, mixing, lead_in_s=lead_in_s)
    if not track.events:
        raise WrongOptions(got="neither click nor strokes", must_be="one of them at least")
    tempos = laid.tempo_map.tempos_from(laid.parts[0].repetitions[0])
    level = Level(LOUDEST_PEAK_DBTP, PLAYALONG_LUFS)
    return write_levelled(track, path, _timetable(laid, lead_in_s), tempos, level=level)


PLAYED_DB = {"soft": -3.0, "even": 3.0, "loud": 9.0}
LOWEST_PLAYED_DB, HIGHEST_PLAYED_DB = -60.0, 12.0


def read_played(text: str) -> float | None:
    """Read how loud the exercise is against the click, dB; None for not at all.

    >>> read_played("even"), read_played("-3"), read_played("off")
    (3.0, -3.0, None)
    """
    if text == "off":
        return None
    try:
        level_db = PLAYED_DB[text] if text in PLAYED_DB else float(text)
    except ValueError:
        level_db = float("nan")
    if not LOWEST_PLAYED_DB <= level_db <= HIGHEST_PLAYED_DB:
        must_be = (
            f"soft, even, loud, off, or dB over the click from {LOWEST_PLAYED_DB:g} to {HIGHEST_PLAYED_DB:g}"
        )
        raise WrongOptions(got=f"--played {text!r}", must_be=must_be)
    return level_db


def _timetable(laid: LaidPlayalong, lead_in_s: Fraction) -> Json:
    """Say what comes when."""
    parts = [
        {
            "title": each.part.title,
            "exercise": print_exercise(each.part.exercise),
            "repetitions_s": [rounded(lead_in_s + laid.tempo_map.time_s(at)) for at in each.repetitions],
            "end_s": rounded(lead_in_s + laid.tempo_map.time_s(each.end)),
        }
        for each in laid.parts
    ]
    strokes = [
        {
            "time_s": rounded(lead_in_s + blow.time_s),
            "level_db": round(blow.level_db + blow.off_db, 2),
            "hand": blow.hand,
            "exercise": blow.part + 1,
            "repetition": blow.repetition,
            "position": blow.position,
            "grace": blow.grace,
        }
        for blow in laid.blows
    ]
    bars = bars_as_json(laid.bars, laid.tempo_map, lead_in_s)
    return {
        "exercises": parts,
        "bars": bars,
        "clicks": clicks_as_json(laid.clicks, lead_in_s),
        "strokes": strokes,
    }
