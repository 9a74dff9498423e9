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
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from evenhand.errors import BadTempo
from evenhand.music.book import Entry
from evenhand.music.exercise import MAX_NOTES, Meter, Tempo, meter_of
from evenhand.music.formats.hands import HandsWhereNone
from evenhand.music.formats.midi.events import REPETITION, Clock, Events, read_events
from evenhand.music.formats.midi.strokes import HandNotes, MidiStroke, strokes_of
from evenhand.music.formats.own import exercise_in_midi
from evenhand.music.formats.passages import Passage, Reading, ReadNote, ReadScore, check_length, score_of

GRIDS = tuple(Fraction(1, bottom) for bottom in (4, 8, 12, 16, 20, 24, 28, 32, 48, 64))
WORST_FIT = 0.15  # of the grid, rms; notes that keep to no grid give 0.29 (1 / sqrt(12))
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
        fit = math.sqrt(sum(each * each for each in moved) / len(moved)) / step
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
) -> ReadScore:
    """Read the exercises of a MIDI file.

    Parameters
    ----------
    content : bytes
        The file.
    hand_notes : HandNotes
        The notes that the right and the left hand play, where they play different ones.
    hands : "refuse", "alternate" or "right"
        What becomes of notes that no hand is known for.

    Raises
    ------
    UnreadableScore
        Where it is broken, has no drum's notes, or they keep to no grid.
    """
    reading = Reading(name)
    events = read_events(content, reading)
    title = next((each for each in events.names if each), "")
    own = exercise_in_midi(events)
    strokes = strokes_of(events, reading, hand_notes)
    if own:
        return ReadScore((Entry(own, title),), _tempo(events, strokes), proposed=(0,))
    passages = [_passage(stretch, events, reading) for stretch in _stretches(events, strokes)]
    return score_of(passages, reading, title=title, hands=hands, tempo=_tempo(events, strokes))


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


def _passage(stretch: _Stretch, events: Events, reading: Reading) -> Passage:
    """Write one stretch down, read off or moved to a grid."""
    whole = 4 * events.ticks_a_quarter
    spans = _spans(stretch, whole) if events.own or _rings_mostly(stretch) else _spans_to_next(stretch, whole)
    values = written_values(spans, TOLERANCE_TICKS / whole)
    if values is None or not (events.own or _plausible(values)):
        spans, values = _moved(stretch, events, reading)
    passage = Passage([], _meter(stretch, events, reading), title=stretch.title)
    at = Fraction(0)
    for span, value in zip(spans, values, strict=True):
        place = f"beat {int(at * 4) + 1}"
        check_length(value, place, reading)
        passage.notes.append(
            _read_note(None if span.index is None else stretch.strokes[span.index], value, place)
        )
        at += value
    passage.bars = _bars(passage)
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


def _moved(stretch: _Stretch, events: Events, reading: Reading) -> tuple[list[TimeSpan], list[Fraction]]:
    """Move what was played to the grid that fits best, each note lasting until the next."""
    whole = 4 * events.ticks_a_quarter
    found = fitted([(stroke.on - stretch.start) / whole for stroke in stretch.strokes])
    if found is None or found.fit > WORST_FIT:
        raise reading.refuse(
            f"its {len(stretch.strokes)} notes keep to no grid of note values",
            "Record it to the program's click, or let that program move the notes to its grid.",
        )
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
    whole_ms = [4 * clock.microseconds_at(stroke.on) / 1000 for stroke in stretch.strokes]
    moved_ms = [abs(by) * ms for by, ms in zip(found.moved, whole_ms, strict=True)]
    rms = math.sqrt(sum(each * each for each in moved_ms) / len(moved_ms))
    reading.warn(
        f"{len(moved_ms)} notes were moved to a grid of {found.grid.numerator}/{found.grid.denominator}: "
        f"by {rms:.1f} ms (root mean square), {max(moved_ms):.1f} ms at most, "
        f"beside {found.offset * whole_ms[0]:+.1f} ms by which all lie off it"
    )


def _read_note(stroke: MidiStroke | None, value: Fraction, place: str) -> ReadNote:
    if stroke is None:
        return ReadNote(value, False, place)  # noqa: FBT003 - a rest
    graces = list(stroke.graces)
    return ReadNote(value, True, place, stroke.hand, stroke.signs, graces)  # noqa: FBT003 - struck


def _meter(stretch: _Stretch, events: Events, reading: Reading) -> Meter | None:
    """Return the meter in force, if it is one all through and a bar of it begins where the passage does."""
    first, stop = (bisect_left(events.meters, (at, 0, 0)) for at in (stretch.start + 1, stretch.stop))
    inside = {each[1:] for each in events.meters[first:stop]}
    if not first:
        return None
    from_tick, beats, unit = events.meters[first - 1]
    meter = meter_of(beats, unit)
    bar = Fraction(4 * events.ticks_a_quarter * beats, unit)
    if inside - {(beats, unit)} or meter is None or ((stretch.start - from_tick) / bar).denominator != 1:
        reading.warn("a passage whose bars its meter does not fit was taken over without it")
        return None
    return meter


def _bars(passage: Passage) -> tuple[Fraction, ...]:
    """Return where the meter's bars begin, as far as notes begin there."""
    if passage.meter is None:
        return ()
    bars: list[Fraction] = []
    at = due = Fraction(0)
    for note in passage.notes[: MAX_NOTES + 1]:
        if at > due:
            break
        if at == due:
            bars.append(at)
            due += passage.meter.bar
        at += note.value
    return tuple(bars)


def _tempo(events: Events, strokes: list[MidiStroke]) -> Tempo | None:
    """Return the tempo that the first note is played at, if one is written."""
    if not events.tempos:
        return None
    with suppress(BadTempo):
        return Tempo(Fraction(1, 4), round(60e6 / Clock(events).microseconds_at(strokes[0].on), 2))
    return None
