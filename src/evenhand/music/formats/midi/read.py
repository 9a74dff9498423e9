"""Standard MIDI File -> exercises, one a passage; markers part the passages.

Where a program wrote the file, values are read off its ticks. Where it was played, notes are moved to the
grid they keep to best, and by how much is said. Rests are read where most notes sound until the next; a pad's
notes have no length worth reading, and each then lasts until the next.

Ticks -> written values: read off where a program wrote them, else moved to the grid that fits best.

Conventions: times and values are fractions of a whole note from a passage's start, as floats until they are
``Fraction``; an error is how far a note was moved, as a fraction of a whole note.
"""

from __future__ import annotations

import cmath
import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from evenhand.errors import BadTempo
from evenhand.music.book import Entry
from evenhand.music.exercise import Tempo
from evenhand.music.formats.hands import HandsWhereNone
from evenhand.music.formats.midi.beats import MidiBar, bars_of, moved_words, rms
from evenhand.music.formats.midi.events import REPETITION, Clock, Events, read_events
from evenhand.music.formats.midi.played import passages_by_bars
from evenhand.music.formats.midi.strokes import HandNotes, MidiStroke, strokes_of
from evenhand.music.formats.own import exercise_in_midi
from evenhand.music.formats.passages import Passage, Reading, ReadNote, ReadScore, check_length, score_of

GRIDS = tuple(Fraction(1, bottom) for bottom in (4, 8, 12, 16, 20, 24, 28, 32, 48, 64))
WORST_FIT = 0.15  # of the grid, rms; notes that keep to no grid give 0.29 (1 / sqrt(12))
FINEST_ALL_THROUGH = Fraction(1, 28)  # a finer grid takes in too much; then each beat is asked for its own
MOST_OFFSET = 1 / 6  # of the grid; farther off, notes may as well be early ones of the next place
_ODD = (1, 3, 5, 7, 9)
_FINEST = 192
_DENOMINATORS = sorted(
    odd << power for odd in _ODD for power in range(8) if odd << power <= (128 if odd == 1 else _FINEST)
)


@dataclass(frozen=True, slots=True)
class TimeSpan:
    """A note (``index`` of its stroke) or a rest (None) to be written, and where it ends."""

    index: int | None
    end: Fraction  # by the file, from the passage's start


def written_values(spans: Iterable[TimeSpan], tolerance: Fraction) -> list[Fraction] | None:
    """Return each span's value where all can be read off within the tolerance, else None.

    Each begins where the one before it exactly ends, so that roundings do not add up.
    """
    at = Fraction(0)
    values: list[Fraction] = []
    for span in spans:
        value = _simplest(span.end - at, tolerance)
        if value is None:
            return None
        values.append(value)
        at += value
    return values


def _simplest(length: Fraction, tolerance: Fraction) -> Fraction | None:
    """Return the value that a length is, else the plainest near it.

    >>> _simplest(Fraction(69, 1920), Fraction(1, 1920)), _simplest(Fraction(70, 1920), Fraction(1, 1920))
    (Fraction(1, 28), Fraction(7, 192))
    """
    if length > 0 and length.denominator in _DENOMINATORS:
        return length
    for denominator in _DENOMINATORS:
        count = round(length * denominator)
        if count > 0 and abs(Fraction(count, denominator) - length) <= tolerance:
            return Fraction(count, denominator)
    return None


@dataclass(frozen=True, slots=True)
class Fitted:
    """Onsets moved to a grid: ``steps`` counts grid steps from the passage's start.

    ``offset`` is how far after the grid they lie as a whole (a constant of the recording); ``moved`` is what
    each was moved by beside that, and ``fit`` its rms over the grid.
    """

    grid: Fraction
    steps: tuple[int, ...]
    offset: float
    moved: tuple[float, ...]
    fit: float


def fitted(onsets: Sequence[float]) -> Fitted | None:
    """Return the grid that onsets keep to best, no two on one place; None where every grid is too coarse.

    A grid twice as fine halves no error, so that the coarsest of those that fit comes out.
    """
    found: Fitted | None = None
    for grid in GRIDS:
        step = float(grid)
        offset = _offset(onsets, step)
        steps = tuple(round((onset - offset) / step) for onset in onsets)
        if any(after <= before for before, after in pairwise(steps)):
            continue
        offset = sum(onset - at * step for at, onset in zip(steps, onsets, strict=True)) / len(steps)
        moved = tuple(at * step - (onset - offset) for at, onset in zip(steps, onsets, strict=True))
        fit = rms(moved) / step
        if found is None or fit < found.fit:
            found = Fitted(grid, steps, offset, moved, fit)
    return found


def _offset(onsets: Sequence[float], step: float) -> float:
    """Return about where onsets lie in the grid: their circular mean, or 0 where that is too far to tell."""
    turns = sum((cmath.exp(2j * math.pi * onset / step) for onset in onsets), 0j)
    offset = cmath.phase(turns) / (2 * math.pi) * step
    return offset if abs(offset) <= MOST_OFFSET * step else 0.0


EARLY = 8  # a note this small a part of a quarter ahead of a bar line is the bar's first, played early
TOLERANCE_TICKS = Fraction(1)  # each end of a stretch of time is rounded by up to half a tick
_BOTH_HANDS_SAME = HandNotes()


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A passage to be: from which tick to which, and what it is called."""

    start: int
    stop: int
    title: str
    strokes: list[MidiStroke]
    last: bool


def read_midi_score(
    content: bytes,
    *,
    name: str = "score",
    hand_notes: HandNotes = _BOTH_HANDS_SAME,
    hands: HandsWhereNone = "refuse",
    grids: Sequence[Fraction] = (),
    bars: tuple[int, int] | None = None,
) -> ReadScore:
    """Read the exercises of a MIDI file.

    Parameters
    ----------
    content : bytes
        The file.
    hand_notes : HandNotes
        The notes that the right and the left hand play, where they play different ones.
    hands : "refuse", "alternate", "doubles", "lead" or "right"
        What becomes of notes that no hand is known for.
    grids : sequence of Fraction
        Note values to whose grid notes are moved, beat by beat; else those that fit, where that is needed.
    bars : (int, int), optional
        The first and the last bar that are wanted, counted from 1 at the file's beginning.

    Raises
    ------
    UnreadableScore
        Where it is broken, has no drum's notes, or they keep to no grid.
    """
    reading = Reading(name)
    events = read_events(content, reading)
    title = next((each for each in events.names if each), "")
    strokes = strokes_of(events, reading, hand_notes)
    if not (grids or bars) and (own := exercise_in_midi(events)):
        return ReadScore((Entry(own, title),), _tempo(events, strokes), proposed=(0,))
    tempo = _tempo(events, strokes)
    measures = bars_of(events, reading)
    if bars:
        strokes = _only(bars, measures, events, strokes, reading)
    passages: list[Passage] = []
    for stretch in _stretches(events, strokes):
        inside = measures[_bar_at(measures, stretch.start) : _bar_at(measures, stretch.stop - 1) + 1]
        written = None if grids else _passage(stretch, inside, events, reading)
        called = ", ".join(each for each in (title, stretch.title) if each)
        passages += (
            [written]
            if written
            else passages_by_bars(stretch.strokes, inside, events, reading, title=called, grids=grids)
        )
    several = "" if any(each.title.startswith(title) for each in passages) else title
    return score_of(passages, reading, title=several, hands=hands, tempo=tempo)


def _bar_at(bars: list[MidiBar], tick: int) -> int:
    return bisect_right(bars, tick, key=lambda bar: bar.start) - 1


def _only(
    bars: tuple[int, int],
    measures: list[MidiBar],
    events: Events,
    strokes: list[MidiStroke],
    reading: Reading,
) -> list[MidiStroke]:
    """Keep what is in the bars that are wanted, and part the file where they begin."""
    within = [bar for bar in measures if bars[0] <= bar.number <= bars[1]]
    start, stop = (within[0].start, within[-1].stop) if within else (0, 0)
    early = events.ticks_a_quarter // EARLY
    kept = [stroke for stroke in strokes if start <= stroke.on + early < stop]
    if not kept:
        raise reading.refuse("no notes in the bars that were asked for", "Ask for others with --bars.")
    names = [text for tick, text in events.markers if tick <= start][-1:] or [""]
    events.markers = [(start, names[0]), *(each for each in events.markers if start < each[0] < stop)]
    events.end = min(events.end, stop)
    for stroke in kept:
        stroke.off = min(stroke.off, stop)
    return kept


def _stretches(events: Events, strokes: list[MidiStroke]) -> list[_Stretch]:
    """Part the file at its markers; before the first, it begins with the bar of the first note."""
    names = {tick: "" if text.startswith(REPETITION) else text for tick, text in reversed(events.markers)}
    first = strokes[0].on
    opened = max((tick for tick in names if tick <= first), default=None)
    if opened is None:
        opened = _bar_start(events, first + events.ticks_a_quarter // EARLY)
        names[opened] = ""
    starts = sorted(tick for tick in names if tick >= opened)
    end = max(events.end, *(stroke.off for stroke in strokes))
    found = []
    ons = [stroke.on for stroke in strokes]
    for start, stop in pairwise((*starts, max(end, starts[-1]) + 1)):
        inside = strokes[bisect_left(ons, start) if start > opened else 0 : bisect_left(ons, stop)]
        if inside:
            found.append(_Stretch(start, min(stop, end), names[start], inside, last=stop > end))
    return found


def _bar_start(events: Events, tick: int) -> int:
    """Return where the bar begins that a tick is in; without a meter, a bar of four quarters."""
    from_tick, beats, unit = next((each for each in reversed(events.meters) if each[0] <= tick), (0, 4, 4))
    bar = Fraction(4 * events.ticks_a_quarter * beats, unit) or Fraction(1)
    return from_tick + int((tick - from_tick) // bar * bar)


def _passage(stretch: _Stretch, bars: list[MidiBar], events: Events, reading: Reading) -> Passage | None:
    """Write one stretch down, read off or moved to one grid; None where it keeps to none all through."""
    whole = 4 * events.ticks_a_quarter
    spans = _spans(stretch, whole) if events.own or _rings_mostly(stretch) else _spans_to_next(stretch, whole)
    values = written_values(spans, TOLERANCE_TICKS / whole)
    if values is None or not (events.own or _plausible(values)):
        moved = _moved(stretch, events, reading)
        if moved is None:
            return None
        spans, values = moved
    passage = Passage([], title=stretch.title)
    at = Fraction(0)
    for span, value in zip(spans, values, strict=True):
        place = f"beat {int(at * 4) + 1}"
        check_length(value, place, reading)
        passage.notes.append(
            ReadNote(value, False, place)  # noqa: FBT003 - a rest
            if span.index is None
            else stretch.strokes[span.index].as_read(value, place)
        )
        at += value
    _set_meters(passage, stretch, bars, events, reading)
    return passage


def _plausible(values: list[Fraction]) -> bool:
    """Tell values that were written from ones that happened: few, that come again."""
    return len(set(values)) <= 2 + len(values) / 4


def _rings(stroke: MidiStroke, end: int) -> bool:
    """Tell whether a note sounds until the next, or until the graces of the next."""
    return stroke.off >= (end if stroke.cut is None else stroke.cut) - 1


def _rings_mostly(stretch: _Stretch) -> bool:
    """Tell whether the notes' lengths mean something: half of them sound until the next."""
    ringing = sum(_rings(stroke, after.on) for stroke, after in pairwise(stretch.strokes))
    return 2 * ringing >= len(stretch.strokes) - 1 > 0


def _spans_to_next(stretch: _Stretch, whole: int) -> list[TimeSpan]:
    """Let every note last until the next, the last one as long as the one before it."""
    ons = [stroke.on for stroke in stretch.strokes]
    end = stretch.stop if not stretch.last else ons[-1] + (ons[-1] - ons[-2] if ons[1:] else whole // 4)
    spans = [TimeSpan(None, Fraction(ons[0] - stretch.start, whole))] if ons[0] > stretch.start else []
    edges = enumerate([*ons[1:], end])
    return spans + [TimeSpan(index, Fraction(at - stretch.start, whole)) for index, at in edges]


def _spans(stretch: _Stretch, whole: int) -> list[TimeSpan]:
    """Part a stretch into notes and rests by where notes begin and end."""
    spans: list[TimeSpan] = []
    ends = [stroke.on for stroke in stretch.strokes[1:]] + [stretch.stop]
    if stretch.strokes[0].on > stretch.start:
        spans.append(TimeSpan(None, Fraction(stretch.strokes[0].on - stretch.start, whole)))
    for index, (stroke, end) in enumerate(zip(stretch.strokes, ends, strict=True)):
        off = end if _rings(stroke, end) else stroke.off
        spans.append(TimeSpan(index, Fraction(off - stretch.start, whole)))
        if off < end:
            spans.append(TimeSpan(None, Fraction(end - stretch.start, whole)))
    return spans


def _moved(
    stretch: _Stretch, events: Events, reading: Reading
) -> tuple[list[TimeSpan], list[Fraction]] | None:
    """Move what was played to the grid that fits best, each lasting until the next; None where none does."""
    whole = 4 * events.ticks_a_quarter
    found = fitted([(stroke.on - stretch.start) / whole for stroke in stretch.strokes])
    if found is None or found.fit > WORST_FIT or found.grid < FINEST_ALL_THROUGH:
        return None
    _say_moved(found, stretch, events, reading)
    steps = [*found.steps, found.steps[-1] + _last_steps(stretch, found.steps, found.grid, whole)]
    spans = [] if steps[0] == 0 else [TimeSpan(None, steps[0] * found.grid)]
    spans += [TimeSpan(index, step * found.grid) for index, step in enumerate(steps[1:])]
    edges = steps if steps[0] == 0 else [0, *steps]
    return spans, [(after - before) * found.grid for before, after in pairwise(edges)]


def _last_steps(stretch: _Stretch, steps: tuple[int, ...], grid: Fraction, whole: int) -> int:
    """Say how long the last note lasts: to the next marker, else as long as the one before it."""
    if not stretch.last:
        return max(round(Fraction(stretch.stop - stretch.start, whole) / grid) - steps[-1], 1)
    return steps[-1] - steps[-2] if len(steps) > 1 else max(int(Fraction(1, 4) / grid), 1)


def _say_moved(found: Fitted, stretch: _Stretch, events: Events, reading: Reading) -> None:
    clock = Clock(events)
    whole_s = [4e-6 * clock.microseconds_at(stroke.on) for stroke in stretch.strokes]
    moved_s = [by * seconds for by, seconds in zip(found.moved, whole_s, strict=True)]
    reading.warn(
        f"{len(moved_s)} notes were moved to a grid of {found.grid.numerator}/{found.grid.denominator}: "
        f"{moved_words(moved_s, found.offset * whole_s[0])}"
    )


def _set_meters(
    passage: Passage, stretch: _Stretch, bars: list[MidiBar], events: Events, reading: Reading
) -> None:
    """Give a passage its meters and bars, where a meter is said and a bar begins where the passage does."""
    if not events.meters or events.meters[0][0] > stretch.start:
        return
    if bars[0].start != stretch.start:
        reading.warn("a passage whose bars its meter does not fit was taken over without it")
        return
    starts = [Fraction(bar.start - stretch.start, 4 * events.ticks_a_quarter) for bar in bars]
    passage.meter, passage.bars = bars[0].meter, tuple(starts)
    changes = zip(starts[1:], pairwise(bars), strict=True)
    passage.meters = tuple((at, bar.meter) for at, (before, bar) in changes if bar.meter != before.meter)


def _tempo(events: Events, strokes: list[MidiStroke]) -> Tempo | None:
    """Return the tempo that the first note is played at, if one is written."""
    if not events.tempos:
        return None
    with suppress(BadTempo):
        return Tempo(Fraction(1, 4), round(60e6 / Clock(events).microseconds_at(strokes[0].on), 2))
    return None
