"""A day's pieces in time: how often each is played, in how many goes, with what pauses, to the second.

A go is short and opens with a count-in; between two goes of a piece there is a pause, between two pieces a
rest. Short goes before variety: interleaved turns of three minutes were favoured over blocks of twelve where
raters told them apart (Carter & Grahn 2016, Front Psychol 7:1251). The lengths of goes, pauses and rests are
conventions of Evenhand.

Conventions: seconds are whole. A piece's seconds are its goes, each with its count-in, and its pauses; a
day's are its pieces and rests. After the last piece comes a rest only where nothing else takes the time up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from evenhand.errors import WrongOptions
from evenhand.music.exercise import Exercise, Tempo
from evenhand.planning.practice import Block, PracticeDay, PracticeItem, turn_seconds
from evenhand.progress.stages.path import Stage
from evenhand.take import Remark

REST_S, LONGEST_REST_S = 10, 40
SHORTEST_PAUSE_S, LONGER_PAUSE_S = 6, 12  # a pause may grow by so much
PAUSE_SHARE = 0.3  # of the go before it
USUAL_NOTES = 8  # a stage's repetitions are those of an exercise so long; a shorter one comes more often
USUAL_GO_S = 36.0
GO_RANGE = (0.4, 2.0)  # of the usual length of a piece's goes
OFTEN = (1, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 32, 40)  # times through in one go: counts one can keep
MOST_GOES = 40
RECORDED = (
    8  # times through in the take to record: from so many on figures give answers (docs/how-it-listens)
)
LONGEST_RECORD_S = 60.0


@dataclass(frozen=True, slots=True)
class Piece:
    """What a day is made of before it has its length.

    ``share`` is its share of the day's time; ``stage`` gives its stroke and bounds; ``part_of`` is the
    exercise that it is a part of, or itself. ``repetitions`` is the
    range of one go, ``go_s`` about how long one is; a take to record is one go of
    ``least_s`` or more.
    """

    block: Block
    exercise: Exercise
    tempo: Tempo
    share: float
    stage: Stage
    part_of: Exercise
    title: str = ""
    purpose: tuple[Remark, ...] = ()
    why: tuple[Remark, ...] = ()
    repetitions: tuple[int, int] = (1, 20)
    go_s: float = USUAL_GO_S
    least_s: float = 0.0


@dataclass(frozen=True, slots=True)
class _Length:
    """One way to play a piece: times through in a go, goes, and the shortest pause between them."""

    repetitions: int
    goes: int
    go_s: int
    pause_s: int

    @property
    def seconds(self) -> int:
        return self.goes * self.go_s + (self.goes - 1) * self.pause_s


def fill_day(pieces: Sequence[Piece], seconds: int) -> PracticeDay:
    """Give each piece of a day its length, so that all add up to the seconds given.

    Raises
    ------
    WrongOptions
        Where the pieces at their shortest do not fit.
    """
    total = sum(piece.share for piece in pieces)
    between = REST_S * (len(pieces) - 1)
    lengths = [_lengths(piece) for piece in pieces]
    shortest = sum(each[0].seconds for each in lengths) + between
    if shortest > seconds:
        must_be = f"at least {math.ceil(shortest / 60)} min for these exercises at this tempo"
        raise WrongOptions(got=f"{seconds / 60:g} min a day", must_be=must_be)
    chosen = [
        _nearest(options, piece.share / total * (seconds - between), piece.go_s)
        for piece, options in zip(pieces, lengths, strict=True)
    ]
    chosen = _shortened(chosen, lengths, seconds - between)
    chosen = _lengthened(pieces, chosen, lengths, seconds - between)
    return _with_rests(pieces, chosen, seconds)


def _lengths(piece: Piece) -> list[_Length]:
    """List the ways to play a piece, by their seconds; of those as long, the one with the more usual go."""
    if piece.block == "record":
        once_s = float(piece.exercise.length) * piece.tempo.whole_note_s
        often = max(
            1, min(RECORDED, math.floor(LONGEST_RECORD_S / once_s)), math.ceil(piece.least_s / once_s)
        )
        return [_Length(often, 1, turn_seconds(piece.exercise, piece.tempo, often), 0)]
    struck = USUAL_NOTES if piece.stage.stroke is None else max(len(piece.exercise.struck), 1)
    short = max(1, USUAL_NOTES // struck)
    least, most = (short * n for n in piece.repetitions)
    known = [n for n in OFTEN if least <= n <= most] or [least]
    goes = {n: turn_seconds(piece.exercise, piece.tempo, n) for n in known}
    low_s, high_s = (share * piece.go_s for share in GO_RANGE)
    fitting = {n: go_s for n, go_s in goes.items() if low_s <= go_s <= high_s}
    if not fitting:
        n = min(goes, key=lambda each: abs(math.log(goes[each] / piece.go_s)))
        fitting = {n: goes[n]}
    found: dict[int, _Length] = {}
    for n, go_s in sorted(fitting.items(), key=lambda row: -abs(math.log(row[1] / piece.go_s))):
        pause_s = max(SHORTEST_PAUSE_S, round(PAUSE_SHARE * go_s))
        for count in range(1, MOST_GOES + 1):
            length = _Length(n, count, go_s, pause_s)
            found[length.seconds] = length
    return [found[each] for each in sorted(found)]


def _nearest(options: Sequence[_Length], wanted_s: float, go_s: float) -> _Length:
    """Take a length that is near what is wanted and whose goes are about as long as they should be."""

    def off(length: _Length) -> float:
        return 3 * abs(length.seconds - wanted_s) / wanted_s + abs(math.log(length.go_s / go_s))

    return min(options, key=off)


def _shortened(
    chosen: Sequence[_Length], lengths: Sequence[Sequence[_Length]], seconds: int
) -> list[_Length]:
    """Shorten the longest until all fit."""
    kept = list(chosen)
    while sum(each.seconds for each in kept) > seconds:
        over = sum(each.seconds for each in kept) - seconds
        shorter = [
            (i, [each for each in options if each.seconds < kept[i].seconds])
            for i, options in enumerate(lengths)
        ]
        i, below = max((row for row in shorter if row[1]), key=lambda row: kept[row[0]].seconds)
        enough = [each for each in below if each.seconds <= kept[i].seconds - over]
        same = [each for each in enough or below if each.repetitions == kept[i].repetitions]
        kept[i] = (same or enough or below)[-1]
    return kept


def _lengthened(
    pieces: Sequence[Piece], chosen: Sequence[_Length], lengths: Sequence[Sequence[_Length]], seconds: int
) -> list[_Length]:
    """Lengthen what is shortest beside its share, until rests and pauses can take up what is left."""
    kept = list(chosen)
    while True:
        left = seconds - sum(each.seconds for each in kept)
        room = (LONGEST_REST_S - REST_S) * (len(kept) - 1) + LONGER_PAUSE_S * sum(k.goes - 1 for k in kept)
        if left <= room // 2:
            return kept
        longer = {
            i: [each for each in options if kept[i].seconds < each.seconds <= kept[i].seconds + left]
            for i, options in enumerate(lengths)
        }
        possible = [i for i, above in longer.items() if above]
        if not possible:
            return kept
        i = min(possible, key=lambda place: kept[place].seconds / pieces[place].share)
        same = (each for each in longer[i] if each.repetitions == kept[i].repetitions)
        kept[i] = next(same, longer[i][0])


def _with_rests(pieces: Sequence[Piece], lengths: Sequence[_Length], seconds: int) -> PracticeDay:
    """Share out what is left: rests first, as alike as whole seconds allow, then pauses."""
    n = len(pieces) - 1
    left = seconds - sum(each.seconds for each in lengths)
    for_rests = min(left, LONGEST_REST_S * n)
    over = left - for_rests
    kept = list(lengths)
    grown = True
    while over and grown:
        grown = False
        for i, each in enumerate(kept):
            costs = each.goes - 1
            if 0 < costs <= over and each.pause_s < max(each.go_s, SHORTEST_PAUSE_S + LONGER_PAUSE_S):
                kept[i] = replace(each, pause_s=each.pause_s + 1)
                over -= costs
                grown = True
    each_s, odd = divmod(for_rests + over if n else 0, max(n, 1))
    rests = [each_s + (i < odd) for i in range(n)] + [0 if n else over + for_rests]
    return PracticeDay(
        tuple(_item(piece, length, rest) for piece, length, rest in zip(pieces, kept, rests, strict=True))
    )


def _item(piece: Piece, length: _Length, rest_s: int) -> PracticeItem:
    return PracticeItem(
        exercise=piece.exercise,
        tempo=piece.tempo,
        repetitions=length.repetitions,
        seconds=float(length.seconds),
        stroke=piece.stage.stroke,
        rest_s=float(rest_s),
        title=piece.title,
        why=piece.why,
        goes=length.goes,
        pause_s=float(length.pause_s if length.goes > 1 else 0),
        block=piece.block,
        purpose=piece.purpose,
    )
