"""A played stretch of a MIDI file -> passages: the bars whose beats keep to a grid; the others are named.

What lies between two notes is written as a drum part is: a note lasts to the next one or to the end of its
beat, and the rest is rests. Conventions: as in ``beats``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from evenhand.music.formats.midi.beats import EARLY, PLAIN_GRIDS, FittedBeat, MidiBar, fit_bar, moved_words
from evenhand.music.formats.midi.events import Clock, Events
from evenhand.music.formats.midi.strokes import MidiStroke
from evenhand.music.formats.passages import Passage, Reading, ReadNote


@dataclass(frozen=True, slots=True)
class FittedBar:
    """A bar with the strokes in it, and what its beats came to."""

    bar: MidiBar
    strokes: tuple[MidiStroke, ...]
    beats: tuple[FittedBeat, ...]

    @property
    def fits(self) -> bool:
        """Tell whether every beat of it keeps to a grid."""
        return all(beat.fits for beat in self.beats)


def passages_by_bars(
    strokes: Sequence[MidiStroke],
    bars: Sequence[MidiBar],
    events: Events,
    reading: Reading,
    *,
    title: str,
    grids: Sequence[Fraction],
) -> list[Passage]:
    """Take the bars that fit, each run of them a passage; say how far notes were moved and what was left out.

    Raises
    ------
    UnreadableScore
        Where no bar fits.
    """
    grids = grids or PLAIN_GRIDS
    first = _fitted(strokes, bars, events, 0.0, grids)
    off_s = -_mean([moved for bar in first for beat in bar.beats if beat.fits for moved in beat.moved_s])
    played = _fitted(strokes, bars, events, off_s, grids)
    taken = [bar for bar in played if bar.fits]
    missed = ", ".join(_misfit(bar) for bar in played if not bar.fits)
    if not taken:
        raise reading.refuse(
            f"its {len(strokes)} notes keep to no grid of note values; bars, with how far the worst beat "
            f"lies off its nearest grid (root mean square): {missed[:400]}",
            "Record it to the program's click, or let that program move the notes to its grid.",
        )
    _say(taken, len(played), off_s, reading)
    if missed:
        how_far = "how far the worst beat lies off its nearest grid (root mean square)"
        reading.warn(f"bars left out, with {how_far}: {missed}")
    reading.warn("how hard notes were struck was left out, but for accents and ghost notes")
    return [_passage(run, title) for run in _runs(taken)]


def _fitted(
    strokes: Sequence[MidiStroke],
    bars: Sequence[MidiBar],
    events: Events,
    off_s: float,
    grids: Sequence[Fraction],
) -> list[FittedBar]:
    """Fit every bar that has notes; all of them lie ``off_s`` after the grid."""
    ticks, clock = 4 * events.ticks_a_quarter, Clock(events)
    out = []
    for bar in bars:
        whole_s = 4e-6 * clock.microseconds_at(bar.start)
        late = bar.start + ticks * (off_s / whole_s - EARLY)
        inside = tuple(each for each in strokes if late <= each.on < late + bar.stop - bar.start)
        onsets = [(each.on - bar.start) / ticks - off_s / whole_s for each in inside]
        if inside:
            out.append(FittedBar(bar, inside, tuple(fit_bar(onsets, bar, whole_s, grids))))
    return out


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else 0.0


def _misfit(played: FittedBar) -> str:
    """Say how far a bar's worst beat lies off: ``12 (24 ms off 1/16)``."""
    worst = max((beat for beat in played.beats if not beat.fits), key=lambda beat: beat.misfit_s)
    close = len(set(worst.places)) < len(worst.places)
    why = "strokes closer than" if close else f"{1000 * worst.misfit_s:.0f} ms off"
    return f"{played.bar.number} ({why} {worst.grid})"


def _say(taken: Sequence[FittedBar], number: int, off_s: float, reading: Reading) -> None:
    """Say how much was taken, on which grids, and by how much notes were moved."""
    beats = [beat for bar in taken for beat in bar.beats]
    moved_s = [each for beat in beats for each in beat.moved_s]
    counted = Counter(beat.grid for beat in beats)
    on = ", ".join(f"{grid} ({count}×)" for grid, count in counted.most_common())
    reading.warn(
        f"{len(taken)} of {number} bars with notes were taken, each beat on the grid that it keeps to: {on}; "
        f"{len(moved_s)} notes were moved {moved_words(moved_s, off_s)}"
    )


def _runs(taken: Sequence[FittedBar]) -> Iterator[list[FittedBar]]:
    """Put bars together that follow each other in one meter."""
    run: list[FittedBar] = []
    for each in taken:
        if run and (each.bar.number != run[-1].bar.number + 1 or each.bar.meter != run[-1].bar.meter):
            yield run
            run = []
        run.append(each)
    yield run


def _passage(run: Sequence[FittedBar], title: str) -> Passage:
    """Write bars down."""
    first, last = run[0].bar.number, run[-1].bar.number
    bars = f"bar {first}" if first == last else f"bars {first} to {last}"
    passage = Passage([], run[0].bar.meter, title=f"{title}, {bars}" if title else bars)
    for played in run:
        passage.notes += _notes(played)
    passage.bars = tuple(number * run[0].bar.meter.bar for number in range(len(run)))
    return passage


def _notes(played: FittedBar) -> Iterator[ReadNote]:
    """Write one bar's notes and rests, cut at its beats."""
    bar, place = played.bar, f"bar {played.bar.number}"
    places = [at for beat in played.beats for at in beat.places]
    strokes = dict(zip(places, played.strokes, strict=True))
    steps = {at: beat.grid for beat in played.beats for at in beat.places}
    edges = [bar.beat * number for number in range(int(bar.meter.bar / bar.beat) + 1)]
    cuts = sorted({*edges, *places})
    for at, after in pairwise(cuts):
        grid = next((steps[other] for other in places if at // bar.beat == other // bar.beat), after - at)
        stroke = strokes.get(at)
        for value in _signs(after - at, grid):
            yield stroke.as_read(value, place) if stroke else ReadNote(value, False, place)  # noqa: FBT003 - a rest
            stroke = None


def _signs(length: Fraction, grid: Fraction) -> list[Fraction]:
    """Cut a length into what single signs hold: itself, else steps of the grid.

    >>> [str(each) for each in _signs(Fraction(3, 16), Fraction(1, 16))]
    ['3/16']
    >>> [str(each) for each in _signs(Fraction(5, 24), Fraction(1, 24))]
    ['1/24', '1/24', '1/24', '1/24', '1/24']
    """
    dotted = length.numerator == 3 and length.denominator & (length.denominator - 1) == 0
    return [length] if length.numerator == 1 or dotted else [grid] * int(length / grid)
