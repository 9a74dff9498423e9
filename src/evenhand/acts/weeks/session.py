"""Write a day of a plan as one track to practise to: what comes next, count-in, what is played, rest, and on.

What comes next is spoken where the machine can speak; else a chime, and time to read it on the sheet. That is
in the rest before it; what the rest does not hold lengthens it, and the track. The last four seconds of a
rest or a pause tick softly.

Conventions: seconds from the file's first sample; items count from 1, as people count.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil
from pathlib import Path

import numpy as np

from evenhand.acts.exercises.tracks import (
    LOUDEST_PEAK_DBTP,
    PLAYALONG_LUFS,
    Json,
    Level,
    Written,
    check_length,
    parts_of,
    write_levelled,
)
from evenhand.errors import WrongOptions
from evenhand.media.chapters import Chapter, add_chapters
from evenhand.media.speech import Speaks
from evenhand.music.book import Entry
from evenhand.music.click_pattern import EVERY_BEAT, ClickPattern
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.planning.session import SessionEvent, session_events
from evenhand.report.words.practice import announcement, item_name
from evenhand.synthesis.click import Floats, Track, nearest_sample
from evenhand.synthesis.playalong import (
    ClickChoice,
    Mixing,
    PlayalongAsked,
    lay_playalong,
    playalong_track,
)
from evenhand.synthesis.session import chime, laid_together, soft_tick, sound_piece
from evenhand.take import Progress

READING_S = 8  # after a chime where nothing is spoken: to read the exercise on the sheet
AFTER_WORDS_S = 2  # from the last word to the count-in, at least
TICKING_S = 4
SPOKEN_LEVEL = 1.4  # beside a click's peak; spoken samples peak at a half


@dataclass(frozen=True, slots=True)
class SessionAsked:
    """How a day is to sound."""

    mixing: Mixing
    click: ClickChoice = "on"
    pattern: ClickPattern = EVERY_BEAT
    rate_hz: int = 48_000


@dataclass(frozen=True, slots=True)
class WrittenSession:
    """What was written: the day's own seconds, and how much of the track announces; whether it speaks."""

    written: Written
    day_s: float
    announced_s: float
    spoken: bool


def day_of(plan: PracticePlan, number: int) -> PracticeDay:
    """Return a day of a plan, counted from 1.

    Raises
    ------
    WrongOptions
        Where the plan has no such day, or the day no item.
    """
    if not 1 <= number <= len(plan.days):
        raise WrongOptions(got=f"day {number}", must_be=f"1 to {len(plan.days)}: the plan has so many days")
    if not plan.days[number - 1].items:
        raise WrongOptions(got=f"day {number}, which has no exercise", must_be="a day with one or more")
    return plan.days[number - 1]


def write_session(
    day: PracticeDay,
    path: Path,
    asked: SessionAsked,
    speaks: Speaks,
    progress: Progress | None = None,
) -> WrittenSession:
    """Write a day as one track, with its timetable."""
    check_length(day.seconds)
    made = _Session(day, asked, speaks)
    made.lay()
    check_length(made.seconds)
    frames = round(made.seconds * asked.rate_hz)
    track = laid_together(made.pieces, frames, asked.rate_hz, asked.mixing.channels)
    table: Json = {
        "day_s": day.seconds,
        "announced_s": made.announced_s,
        "spoken": made.spoken,
        "chapters": made.chapters,
    }
    tempos = day.items[0].tempo, day.items[-1].tempo
    level = Level(LOUDEST_PEAK_DBTP, PLAYALONG_LUFS)
    written = write_levelled(track, path, table, tempos, level=level, progress=progress)
    if path.suffix.lower() == ".mp3":
        add_chapters(path, made.items_as_chapters())
    return WrittenSession(written, day.seconds, made.announced_s, made.spoken)


class _Session:
    """A day while it is laid."""

    def __init__(self, day: PracticeDay, asked: SessionAsked, speaks: Speaks) -> None:
        self.day, self.asked, self.speaks = day, asked, speaks
        self.pieces: list[tuple[int, Track]] = []
        self.chapters: list[Json] = []
        self.announced_s = 0
        self.spoken = False

    @property
    def seconds(self) -> float:
        """Seconds of all of it."""
        return self.day.seconds + self.announced_s

    def items_as_chapters(self) -> list[Chapter]:
        """Give each item as a chapter, from where it is announced to where the next one is."""
        begun = [each for each in self.chapters if each["kind"] == "announce"]
        ends_s = [*(each["time_s"] for each in begun[1:]), self.seconds]
        return [
            Chapter(each["time_s"], end_s, item_name(self.day.items[each["item"] - 1], each["item"]))
            for each, end_s in zip(begun, ends_s, strict=True)
        ]

    def lay(self) -> None:
        """Lay everything at its place."""
        events = session_events(self.day)
        longer_s = 0
        for event, after in zip(events, (*events[1:], None), strict=True):
            item, at_s = self.day.items[event.item], event.at_s + self.announced_s - longer_s
            seconds, more = event.seconds, {}
            if event.kind == "announce":
                words = announcement(item, event.item + 1, len(self.day.items))
                seconds, more = self._announce(words, at_s), {"said": words}
                longer_s = self._longer_by(seconds, after)
                self.announced_s += longer_s
            elif event.kind == "count-in":
                self._put(at_s, self._go(item, event))
            elif event.kind in {"pause", "rest"}:
                seconds += longer_s
                if after is not None:  # after the last there is nothing to be ready for
                    self._tick(at_s, seconds)
            self.chapters.append(_chapter(event, item, at_s, seconds, more))
            if event.kind != "announce" or after is None or after.kind != "rest":
                longer_s = 0

    def _put(self, at_s: float, piece: Track) -> None:
        self.pieces.append((nearest_sample(Fraction(at_s), self.asked.rate_hz), piece))

    def _sound(self, at_s: float, sound: Floats) -> None:
        self._put(at_s, sound_piece(sound, self.asked.rate_hz, self.asked.mixing.channels))

    def _announce(self, words: str, at_s: float) -> int:
        """Say what comes next, or chime; return how many seconds it needs."""
        said = self.speaks(words, self.asked.rate_hz)
        sound = chime(self.asked.rate_hz) if said is None else SPOKEN_LEVEL * said
        self._sound(at_s, np.asarray(sound))
        self.spoken |= said is not None
        return READING_S if said is None else ceil(len(said) / self.asked.rate_hz) + AFTER_WORDS_S

    @staticmethod
    def _longer_by(seconds: int, after: SessionEvent | None) -> int:
        """Return by how many seconds a rest must be longer, to hold what is said and its last ticks."""
        rest_s = after.seconds - TICKING_S if after is not None and after.kind == "rest" else 0.0
        return ceil(max(seconds - max(rest_s, 0.0), 0.0))

    def _go(self, item: PracticeItem, event: SessionEvent) -> Track:
        """Lay one go: count-in and what is played; a take to record is played to the click alone."""
        mixing, click = self.asked.mixing, self.asked.click
        if item.block == "record":
            mixing = replace(mixing, played_db=None, groove=False)
            click = "count-in" if click == "off" else click
        asked = PlayalongAsked(
            parts=parts_of([Entry(item.exercise, item.title)]),
            tempo=item.tempo,
            repetitions=item.repetitions,
            count_in=None,
            pattern=self.asked.pattern,
            click=click,
            seed=100 * event.item + event.go,
        )
        return playalong_track(lay_playalong(asked), self.asked.rate_hz, mixing)

    def _tick(self, at_s: float, seconds: float) -> None:
        """Tick in a rest's last seconds."""
        tick = soft_tick(self.asked.rate_hz)
        for before_s in range(min(TICKING_S, int(seconds)), 0, -1):
            self._sound(at_s + seconds - before_s, tick)


def _chapter(event: SessionEvent, item: PracticeItem, at_s: float, seconds: float, more: Json) -> Json:
    """Write one entry of the timetable."""
    chapter: Json = {
        "time_s": round(at_s, 3),
        "seconds": round(seconds, 3),
        "kind": event.kind,
        "item": event.item + 1,
    }
    if event.go:
        chapter["go"] = event.go
    if event.kind in {"announce", "play"}:
        chapter |= {"title": item.title, "block": item.block, "tempo": str(item.tempo)}
    return {**chapter, **more}
