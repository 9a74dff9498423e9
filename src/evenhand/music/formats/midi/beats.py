"""What was played, bar by bar: each beat is moved to the grid of note values that it keeps to.

A beat fits where its notes lie within 18 ms and 0.2 of a step of a grid (root mean square), no two on one
place. A bar is taken where all its beats fit. Of grids that fit the plainest is taken, unless a finer one
is nearer by 2 ms for each step down the list.

Conventions: onsets are in whole notes from the bar's start, as floats; places are the same as ``Fraction``.
Bars are counted from 1 at the file's beginning, in 4/4 until a meter is said (Standard MIDI Files 1.0).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from evenhand.music.exercise import Meter, meter_of
from evenhand.music.formats.midi.events import Events
from evenhand.music.formats.passages import MOST_NOTES, Reading

PLAIN_GRIDS = tuple(Fraction(1, bottom) for bottom in (4, 8, 16, 12, 24, 32))  # the plainest first
MOST_MISFIT_S = 0.018  # root mean square of a beat
WORST_FIT = 0.2  # of a grid's step, rms; notes that keep to no grid give 0.29 (1 / sqrt(12))
DEARER_S = 0.002  # a grid further down the list must be nearer by this much for each step down
EARLY = 1 / 64  # of a whole note: this far ahead of a beat a note is that beat's


@dataclass(frozen=True, slots=True)
class MidiBar:
    """A bar: its number from 1, its ticks, its meter."""

    number: int
    start: int
    stop: int
    meter: Meter

    @property
    def beat(self) -> Fraction:
        """The length of its beats: the meter's unit, three of them where eighths are counted in threes."""
        unit = Fraction(1, self.meter.unit)
        return 3 * unit if self.meter.compound else unit


@dataclass(frozen=True, slots=True)
class FittedBeat:
    """A beat's notes on a grid: ``moved_s`` is what each was moved by; ``fits`` says whether that will do."""

    grid: Fraction
    places: tuple[Fraction, ...]
    moved_s: tuple[float, ...]
    fits: bool

    @property
    def misfit_s(self) -> float:
        """The root mean square of what its notes were moved by."""
        return rms(self.moved_s)


def rms(values: Sequence[float]) -> float:
    """Return the root mean square, 0 of nothing."""
    return math.sqrt(sum(each * each for each in values) / max(len(values), 1))


def moved_words(moved_s: Sequence[float], off_s: float) -> str:
    """Say by how much notes were moved, beside what all of them lie off the grid by.

    >>> moved_words([0.003, -0.004], 0.01)
    'by 3.5 ms (root mean square), 4.0 ms at most, beside +10.0 ms by which all lie off it'
    """
    most_ms = 1000 * max(map(abs, moved_s))
    return (
        f"by {1000 * rms(moved_s):.1f} ms (root mean square), {most_ms:.1f} ms at most, "
        f"beside {1000 * off_s:+.1f} ms by which all lie off it"
    )


def bars_of(events: Events, reading: Reading) -> list[MidiBar]:
    """Return the bars from the file's beginning to the last note's, as many as a file may have notes."""
    end = max((note.on for note in events.notes), default=0) + 1
    ticks = events.ticks_a_quarter * 4
    changes = {0: Meter(4, 4)} | {
        tick: meter_of(beats, unit) or Meter(4, 4) for tick, beats, unit in events.meters
    }
    bars: list[MidiBar] = []
    starts = [tick for tick in changes if tick < end]
    for start, stop in zip(starts, (*starts[1:], end), strict=True):
        length = max(int(ticks * changes[start].bar), 1)
        for at in range(start, stop, length):
            if len(bars) == MOST_NOTES:
                reading.warn(f"bars were counted to the {MOST_NOTES:,}th, and none after it")
                return bars
            last = at + length if stop == end else min(at + length, stop)
            bars.append(MidiBar(len(bars) + 1, at, last, changes[start]))
    return bars


def fit_bar(
    onsets: Sequence[float], bar: MidiBar, whole_s: float, grids: Sequence[Fraction]
) -> list[FittedBeat]:
    """Move a bar's notes to grids, beat by beat; ``whole_s`` is how long a whole note lasts there."""
    return [
        _fit_beat(inside, start, bar.beat, whole_s, grids) for start, inside in _beats(onsets, bar) if inside
    ]


def _beats(onsets: Sequence[float], bar: MidiBar) -> Iterator[tuple[Fraction, list[float]]]:
    """Part a bar's notes by its beats."""
    start = Fraction(0)
    while start < bar.meter.bar:
        first, stop = float(start) - EARLY, float(start + bar.beat) - EARLY
        yield start, [each for each in onsets if first <= each < stop]
        start += bar.beat


def _fit_beat(
    onsets: list[float], start: Fraction, beat: Fraction, whole_s: float, grids: Sequence[Fraction]
) -> FittedBeat:
    """Choose the grid of one beat: of those that fit the plainest, else the nearest."""
    within = [grid for grid in grids if (beat / grid).denominator == 1]
    tried = [_on_grid(onsets, start, beat, whole_s, grid) for grid in within]
    fitting = [(each.misfit_s + DEARER_S * rank, rank) for rank, each in enumerate(tried) if each.fits]
    if fitting:
        return tried[min(fitting)[1]]
    apart = [each for each in tried if len(set(each.places)) == len(each.places)] or tried[-1:]
    nearest = min(apart, key=lambda each: each.misfit_s / float(each.grid), default=None)
    return nearest or FittedBeat(beat, (), (), fits=False)


def _on_grid(
    onsets: list[float], start: Fraction, beat: Fraction, whole_s: float, grid: Fraction
) -> FittedBeat:
    """Move one beat's notes to one grid."""
    steps = [max(round((onset - float(start)) / float(grid)), 0) for onset in onsets]
    places = tuple(start + step * grid for step in steps)
    moved_s = tuple((float(place) - onset) * whole_s for place, onset in zip(places, onsets, strict=True))
    found = FittedBeat(grid, places, moved_s, fits=False)
    apart = all(before < after for before, after in pairwise(steps)) and steps[-1] * grid < beat
    near = found.misfit_s <= min(MOST_MISFIT_S, WORST_FIT * float(grid) * whole_s)
    return FittedBeat(grid, places, moved_s, fits=apart and near)
