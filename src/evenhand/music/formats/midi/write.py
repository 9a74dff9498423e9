"""Exercise -> a Standard MIDI File, format 0, for other programs to play.

MIDI knows no hands: both play the same drum, and each note's letter stands beside it as a lyric (``R``,
``>L``, ``R~``; ``l`` at a grace), which programs show and the import reads back. Graces are notes of
their own, ``GRACE_GAP_S`` apart ahead of their note. The same exercise gives the same bytes.

Conventions: 480 ticks a quarter note; written times are rounded to the nearest tick from the start, so
nothing adds up.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from evenhand.errors import WrongOptions
from evenhand.music.exercise import GRACE_GAP_S, Exercise, Meter, Note, Tempo
from evenhand.music.formats.midi.events import REPETITION, WRITTEN_BY
from evenhand.music.formats.velocities import SNARE, drum_note_of, velocities_of, velocity_of
from evenhand.music.loudness import dynamics_db
from evenhand.music.text import note_text, print_exercise

TICKS_A_QUARTER = 480
TICKS_A_WHOLE = 4 * TICKS_A_QUARTER
DRUMS = 9  # the tenth channel, counted from 0
WITHOUT_TEMPO = Tempo(Fraction(1, 4), 120.0)  # what Standard MIDI Files are played at where nothing is said
SLOWEST_US = 0xFFFFFF  # microseconds a quarter note that a tempo event can hold
MOST_BLOWS = 1_000_000
LONGEST_TITLE = 80

TEXT_MARK = "exercise: "  # before the text of an exercise that MIDI does not say in full
_NOTE_OFF, _NOTE_ON = 0x80, 0x90
_TEXT, _TRACK_NAME, _LYRIC, _MARKER, _TEMPO, _METER, _END = 0x01, 0x03, 0x05, 0x06, 0x51, 0x58, 0x2F
_FIRST, _OFF, _WORD, _ON = range(4)  # in which order events of one tick stand


@dataclass(frozen=True, slots=True)
class _Sounding:
    """One blow to be written, in ticks."""

    on: int
    off: int
    velocity: int
    label: str
    note: int


def to_midi(
    exercise: Exercise,
    *,
    tempo: Tempo | None = None,
    repetitions: int = 1,
    note: int = SNARE,
    title: str = "",
) -> bytes:
    """Write an exercise as a Standard MIDI File.

    Parameters
    ----------
    exercise : Exercise
        With at least one note, all values above 0. Where it begins with a grace an empty bar stands first.
    tempo : Tempo, optional
        Without one none is written; programs then play 120 quarter notes a minute.
    repetitions : int
        How often it is written out, each but the only one opened by a marker.
    note : int
        The MIDI note of the drum, 0 to 127.

    Raises
    ------
    WrongOptions
        Where the tempo is none that MIDI can hold, or it becomes too long.
    """
    _check(exercise, repetitions, note)
    microseconds = _microseconds(tempo) if tempo else None
    first = next(each for each in exercise.notes if not each.is_rest)
    bar = exercise.meter.bar if exercise.meter else Fraction(1)
    lead = bar if first.graces and first is exercise.notes[0] else Fraction(0)
    events = [(0, _FIRST, _meta(_TEXT, WRITTEN_BY.encode()))]
    if exercise.marks:
        events.append((0, _FIRST, _meta(_TEXT, f"{TEXT_MARK}{print_exercise(exercise)}".encode())))
    if title:
        events.append((0, _FIRST, _meta(_TRACK_NAME, title[:LONGEST_TITLE].encode())))
    if microseconds is not None:
        events.append((0, _FIRST, _meta(_TEMPO, microseconds.to_bytes(3, "big"))))
    events += _meters(exercise, lead, repetitions)
    if repetitions > 1:
        for k in range(repetitions):
            marker = _meta(_MARKER, f"{REPETITION} {k + 1}".encode())
            events.append((_ticks(lead + exercise.length * k), _FIRST, marker))
    for blow in _blows(exercise, lead, repetitions, tempo or WITHOUT_TEMPO, note):
        events += _events(blow)
    return _file(events, _ticks(lead + exercise.length * repetitions))


def _check(exercise: Exercise, repetitions: int, note: int) -> None:
    blows = repetitions * sum(1 + len(each.graces) for each in exercise.notes)
    if repetitions < 1 or blows > MOST_BLOWS:
        most = MOST_BLOWS * repetitions // max(blows, 1)
        raise WrongOptions(got=f"{repetitions} repetitions", must_be=f"1 to {max(most, 1)} for this exercise")
    if not 0 <= note <= 127:
        raise WrongOptions(got=f"MIDI note {note}", must_be="0 to 127")


def _microseconds(tempo: Tempo) -> int:
    """Return the length of a quarter note as MIDI says it."""
    microseconds = round(tempo.whole_note_s / 4 * 1e6)
    if not 1 <= microseconds <= SLOWEST_US:
        slowest = 60e6 / SLOWEST_US
        raise WrongOptions(
            got=f"the tempo {tempo}",
            must_be=f"for MIDI at least {slowest:.2f} quarter notes a minute, and at most 60 million",
        )
    return microseconds


def _meters(exercise: Exercise, lead: Fraction, repetitions: int) -> Iterator[tuple[int, int, bytes]]:
    """Write the meters; again at each repetition where they change or that begins inside a bar."""
    changes = [(at, meter) for at, _, meter in exercise.sections if meter is not None]
    kept = [(at, meter) for k, (at, meter) in enumerate(changes) if k == 0 or meter != changes[k - 1][1]]
    if not kept:
        return
    bar = kept[0][1].bar
    even = (exercise.length / bar).denominator == 1 and exercise.keeps_meter
    yield 0, _FIRST, _meter_event(kept[0][1])
    for k in range(1 if even else repetitions):
        for at, meter in kept:
            start = lead + exercise.length * k + exercise.starts[at]
            if start > lead:
                yield _ticks(start), _FIRST, _meter_event(meter)


def _meter_event(meter: Meter) -> bytes:
    clocks = min(max(round(24 * 4 / meter.unit), 1), 255)
    return _meta(_METER, bytes([meter.beats, meter.unit.bit_length() - 1, clocks, 8]))


def _blows(
    exercise: Exercise, lead: Fraction, repetitions: int, tempo: Tempo, drum: int
) -> Iterator[_Sounding]:
    """Place every blow; a note before graces is cut short by them, a held one lasts on."""
    gap = max(round(GRACE_GAP_S / tempo.whole_note_s * TICKS_A_WHOLE), 1)
    loud, soft = velocities_of(exercise), dynamics_db(exercise)
    before: _Sounding | None = None
    room_from = 0  # from where there is room for graces: the note before, or the rest before
    for k in range(repetitions):
        for at, (note, start) in enumerate(zip(exercise.notes, exercise.starts, strict=True)):
            on, off = (_ticks(lead + exercise.length * k + time) for time in (start, start + note.value))
            if note.held and before:
                before = replace(before, off=off)
            if not note.is_rest:
                count = len(note.graces)
                near = min(gap, max((on - room_from) // (count + 1), 1))
                if before:
                    yield replace(before, off=min(before.off, on - near * count))
                sounds = drum_note_of(note, drum)
                for index, hand in enumerate(note.graces):
                    first = on - near * (count - index)
                    yield _Sounding(first, first + near, velocity_of("grace", soft[at]), hand.lower(), sounds)
                before = _Sounding(on, off, loud[at], _label(note), sounds)
            room_from = on
    if before:
        yield before


def _label(note: Note) -> str:
    return note_text(replace(note, graces=(), tied=False))


def _events(blow: _Sounding) -> Iterator[tuple[int, int, bytes]]:
    yield blow.on, _WORD, _meta(_LYRIC, blow.label.encode())
    yield blow.on, _ON, bytes([_NOTE_ON | DRUMS, blow.note, blow.velocity])
    yield blow.off, _OFF, bytes([_NOTE_OFF | DRUMS, blow.note, 64])


def _ticks(time: Fraction) -> int:
    return round(time * TICKS_A_WHOLE)


def _file(events: list[tuple[int, int, bytes]], end: int) -> bytes:
    """Put events in order of time, each after so many ticks, into one track."""
    track, at = bytearray(), 0
    for tick, _, event in sorted(events, key=lambda each: each[:2]):
        track += _number(tick - at) + event
        at = tick
    track += _number(max(end - at, 0)) + _meta(_END, b"")
    header = struct.pack(">4sIHHH", b"MThd", 6, 0, 1, TICKS_A_QUARTER)
    return header + struct.pack(">4sI", b"MTrk", len(track)) + bytes(track)


def _meta(kind: int, data: bytes) -> bytes:
    return bytes([0xFF, kind]) + _number(len(data)) + data


def _number(value: int) -> bytes:
    """Write a number of seven bits a byte, the last without the top bit.

    >>> _number(480).hex()
    '8360'
    """
    out = bytes([value & 0x7F])
    while value := value >> 7:
        out = bytes([0x80 | value & 0x7F]) + out
    return out
