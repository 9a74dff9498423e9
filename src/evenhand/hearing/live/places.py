"""Lay blows on the notes of an exercise as they come: each on the nearest that is still free.

The player's own tempo is followed slowly, by a tracker that puts right a share of each blow's distance
in place and a smaller one in tempo (an alpha-beta filter; Kalata 1984). Nothing is taken back: what was
laid wrong is put right by the hearing of the whole take.

Conventions: times in seconds of the stream; written times in whole notes; note numbers unrolled from 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenhand.hearing.alignment.score import Score
from evenhand.music.exercise import Hand

GRACE_S = 0.030  # ahead of its note; from 12 to 90 ms is usual
_GRACE_LEAST_S = 0.008  # a grace note comes first, so in doubt the first blow is it
_GRACE_MOST_S = 0.060
_PLACE_SHARE, _TEMPO_SHARE = 0.4, 0.06  # of a blow's distance
_FURTHEST = 0.2  # from the tempo asked
_REACH = 0.5  # of the way to the neighbouring note
_BELIEVED = 0.2  # of that way: what lies further off moves the player's place no further
_EARLIEST_BEATS = 0.5  # before the first note is due
_RUSTLE_DB = 24.0  # below the first note
_STOP = 1.5  # times the longest way from note to note, beyond which playing begins anew


@dataclass(frozen=True, slots=True)
class Place:
    """A note of the exercise. ``due_s`` is where the click's grid has it, None without one."""

    hand: Hand | None
    repetition: int
    position: int
    grace: bool
    due_s: float | None


class LivePlaces:
    """The next notes of an exercise, and when they are due."""

    def __init__(self, score: Score, first_note_s: float | None) -> None:
        self._score, self._first_s = score, first_note_s
        self._whole_s = self._asked_s = score.tempo.whole_note_s
        self._at_s, self._at_written = first_note_s, 0.0
        longest = max(float(score.steps.max()), 2 * score.beat)  # from note to note, no less than two beats
        self._longest_s = _STOP * longest * self._whole_s
        self._loudest_db = -math.inf
        self._last = -1
        self._graces = 0  # of the next note, laid already
        self._laid_s, self._bare = -math.inf, False  # the last note: when, and whether without a grace

    def off_due_s(self, time_s: float) -> float:
        """Return how far from a moment the nearest free note is due; infinite where none is near."""
        found = None if self._at_s is None else self._nearest(time_s)
        if found is None:
            return math.inf
        number, grace = found
        return abs(self._due_s(number) - grace * GRACE_S - time_s)

    def place(self, time_s: float, level_db: float = 0.0) -> Place | None:
        """Lay a blow on a note, or on none."""
        if self._begins(time_s, level_db):
            self._begin(time_s)
        self._loudest_db = max(self._loudest_db, level_db)
        if self._first_s is not None and time_s < self._first_s - _EARLIEST_BEATS * self._score.tempo.beat_s:
            return None
        found = self._nearest(time_s)
        if found is None:
            self._mend(time_s)
            return None
        number, grace = found
        if grace == 0:
            self._bare = self._graces == 0 or self._last + 1 != number
            self._laid_s = time_s
            self._follow(number, time_s)
        else:
            self._graces = self._graces + 1 if self._last + 1 == number else 1
            self._last = number - 1
        return self._place_of(number, grace)

    def _mend(self, time_s: float) -> None:
        """See that a blow just after a note was the note itself, and the one before it its grace."""
        after_s = time_s - self._laid_s
        if self._bare and self._graces_of(self._last) and 0.012 < after_s < _GRACE_MOST_S:
            self._follow(self._last, time_s)
            self._bare = False

    def _begins(self, time_s: float, level_db: float) -> bool:
        """Tell whether playing begins here: at first, after a stop, and where all before was but a rustle."""
        if self._at_s is None:
            return True
        apart = time_s > self._at_s + _GRACE_MOST_S  # a grace note is soft, too
        rustle = self._last < 1 and apart and level_db > self._loudest_db + _RUSTLE_DB
        return self._first_s is None and (rustle or time_s > self._at_s + self._longest_s)

    def _begin(self, time_s: float) -> None:
        """Begin at the top: the take's first note, or a new repetition after a stop."""
        score = self._score
        begun = 0 if self._last < 1 else self._last // len(score) + 1
        self._last = begun * len(score) - 1
        self._at_s = time_s + GRACE_S * int(score.graces[0])
        self._at_written = self._written(self._last + 1)

    def _place_of(self, number: int, grace: int) -> Place:
        """Return a note's place; ``grace`` counts back from its main note."""
        repetition, position = self._score.place_of(number)
        note = self._score.exercise.notes[position]
        due_s = None if self._first_s is None else self._first_s + self._written(number) * self._asked_s
        return Place(note.graces[-grace] if grace else note.hand, repetition, position, grace > 0, due_s)

    def _written(self, number: int) -> float:
        """Return the written time of a note."""
        repetition, index = divmod(number, len(self._score))
        return repetition * self._score.length + float(self._score.starts[index])

    def _graces_of(self, number: int) -> int:
        """Return how many grace notes a note has."""
        return int(self._score.graces[number % len(self._score)])

    def _due_s(self, number: int) -> float:
        """Return when the player is expected to play a note."""
        return (self._at_s or 0.0) + (self._written(number) - self._at_written) * self._whole_s

    def _nearest(self, time_s: float) -> tuple[int, int] | None:
        """Return the nearest free note and which of its graces (0: itself), or None where none is near."""
        number = self._last + 1
        while self._due_s(number + 1) <= time_s:
            number += 1
        best = min((number, number + 1), key=lambda n: abs(time_s - self._due_s(n)))
        grace = self._grace_at(best, time_s)
        if grace:
            return best, grace
        off_s = time_s - self._due_s(best)
        step = best + 1 if off_s > 0 else best
        gap_s = (self._written(step) - self._written(step - 1)) * self._whole_s
        return (best, 0) if abs(off_s) < _REACH * gap_s else None

    def _grace_at(self, number: int, time_s: float) -> int:
        """Return which grace of a note a blow is nearer to than to the note itself, 0 where to none."""
        free = self._graces_of(number)
        if number == self._last + 1:
            free -= self._graces
        ahead_s = self._due_s(number) - time_s
        if free <= 0 or ahead_s < _GRACE_LEAST_S:
            return 0
        return free if ahead_s < GRACE_S * (free + 1.5) else 0

    def _follow(self, number: int, time_s: float) -> None:
        """Follow the player's place and tempo."""
        written, due_s = self._written(number), self._due_s(number)
        off_s, way = time_s - due_s, written - self._at_written
        if way > 0:
            most_s = _BELIEVED * min(way, self._score.shortest) * self._whole_s
            off_s = min(max(off_s, -most_s), most_s)
            whole_s = self._whole_s + _TEMPO_SHARE * off_s / way
            self._whole_s = min(
                max(whole_s, self._asked_s * (1 - _FURTHEST)), self._asked_s * (1 + _FURTHEST)
            )
        self._at_s, self._at_written = due_s + _PLACE_SHARE * off_s, written
        self._last, self._graces = number, 0
