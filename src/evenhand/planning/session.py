"""A day's practice as one timetable: what comes when, from the first word to the last rest.

Of each item what it is, then each go with its count-in, and pauses between goes. What the next item is comes
at the beginning of the rest before it, so that the rest's end leads into the count-in.

Conventions: seconds from the day's beginning. What is announced takes no time here: a track that speaks gets
longer by what its rests do not hold, and says by how much.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from evenhand.music.bars import count_in_length
from evenhand.planning.practice import PracticeDay, PracticeItem

EXACT_S = 1e-9  # less than this is no rest

SessionEventKind = Literal["announce", "count-in", "play", "pause", "rest"]


@dataclass(frozen=True, slots=True)
class SessionEvent:
    """One thing of a day: items count from 0, goes from 1 (0 where it is of the whole item)."""

    kind: SessionEventKind
    at_s: float
    seconds: float
    item: int
    go: int = 0


def session_events(day: PracticeDay) -> tuple[SessionEvent, ...]:
    """Lay out a day.

    An item's seconds are whole, what is played is not: what is left over lengthens the rest, so that the day
    lasts its seconds exactly. Where an item was given less time than its goes take, its rest gets shorter.
    """
    events: list[SessionEvent] = []
    at_s = 0.0
    for number, item in enumerate(day.items):
        if number == 0:
            events.append(SessionEvent("announce", at_s, 0.0, 0))
        for kind, seconds, go in _of_item(item):
            if go == 0 and number + 1 < len(day.items):
                events.append(SessionEvent("announce", at_s, 0.0, number + 1))
            if go or seconds > EXACT_S:
                events.append(SessionEvent(kind, at_s, seconds, number, go))
            at_s += seconds
    return tuple(events)


def go_seconds(item: PracticeItem) -> tuple[float, float]:
    """Return how long an item's count-in is, and how long a go is played."""
    counted_s = float(count_in_length(item.exercise, item.tempo)) * item.tempo.whole_note_s
    return counted_s, item.repetitions * float(item.exercise.length) * item.tempo.whole_note_s


def _of_item(item: PracticeItem) -> Iterator[tuple[SessionEventKind, float, int]]:
    """Give what an item is made of, and how long each part is."""
    counted_s, played_s = go_seconds(item)
    for go in range(1, item.goes + 1):
        yield "count-in", counted_s, go
        yield "play", played_s, go
        if go < item.goes and item.pause_s:
            yield "pause", item.pause_s, go
    used_s = item.goes * (counted_s + played_s) + (item.goes - 1) * item.pause_s
    yield "rest", max(item.seconds + item.rest_s - used_s, 0.0), 0
