"""Values, meters, bar lines, pickups and repeats.

A repeat is played out: its notes stand as often as they are played, and a ``Repeat`` says where they were
written once.
"""

from __future__ import annotations

from fractions import Fraction

from evenhand.music.exercise import DYNAMICS, MAX_NOTES, MOST_METER_BEATS, SWELLS, Repeat, Tuplet, meter_of
from evenhand.music.reading.walk import (
    DIGITS,
    LONGEST_VALUE,
    MAX_DENOMINATOR,
    OpenRepeat,
    Reader,
    read_fraction,
    read_number,
    read_word,
)

MOST_TIMES = 99


def read_value_or_meter(reader: Reader) -> None:
    """Read a note value, or a meter where one may stand: first, and right after a bar line."""
    start = reader.at
    tops, bottom, colon = read_fraction(reader)
    if not colon and reader.value_at is None and _meter_may_stand(reader):
        _read_meter(reader, tops, bottom, start)
        return
    said = f"{'+'.join(str(top) for top in tops)}/{bottom}"
    if not colon:
        right = f"{said}: with a colon for a note value (a meter stands first, or right after a bar line)"
        reader.fail(f"{said} without a colon", right, start)
    value = Fraction(sum(tops), bottom)
    if value.denominator != bottom or len(tops) > 1:
        right = f"{value.numerator}/{value.denominator}: in lowest terms (a meter takes no colon)"
        reader.fail(f"{said}:", right, start)
    if bottom > MAX_DENOMINATOR or value > LONGEST_VALUE:
        right = f"a note value from 1/{MAX_DENOMINATOR}: to {LONGEST_VALUE}/1:"
        reader.fail(f"{said}:", right, start)
    if reader.value_at is not None:
        reader.fail(f"{said}:", "a note in the run before it", start)
    reader.value, reader.value_at = value, start


def _meter_may_stand(reader: Reader) -> bool:
    if not reader.notes:
        return reader.meter is None
    return not reader.bar_length and all(at != len(reader.notes) for at, _ in reader.meters)


def _read_meter(reader: Reader, tops: tuple[int, ...], bottom: int, start: int) -> None:
    meter = meter_of(sum(tops), bottom, tops if len(tops) > 1 else ())
    if meter is None:
        right = f"a meter such as 4/4 or 6/8 (1 to {MOST_METER_BEATS} beats of 1/1 to 1/64)"
        reader.fail(f"{'+'.join(str(top) for top in tops)}/{bottom}", right, start)
    if reader.notes:
        reader.meters.append((len(reader.notes), meter))
    else:
        reader.first_meter = meter
    reader.meter, reader.full_bar = meter, meter.bar


def read_said(reader: Reader) -> None:
    """Read a word: a dynamic, a swell, a pickup, or that counts stand below the line."""
    start = reader.at
    word = read_word(reader)
    if word in {"pickup", "count"}:
        if reader.notes:
            reader.fail(f"'{word}' after a note", "before the first note, behind the meter", start)
        reader.counted |= word == "count"
        reader.pickup = reader.in_pickup = reader.pickup or word == "pickup"
        return
    for dynamic in DYNAMICS:
        if word == dynamic:
            if reader.dynamic:
                reader.fail(f"'{word}' right after '{reader.dynamic}'", "a note between them", start)
            reader.dynamic = dynamic
    for swell in SWELLS:
        if word == swell:
            if reader.swell:
                reader.fail(f"'{word}' right after '{reader.swell}'", "a note between them", start)
            reader.swell = swell
    reader.mark_at = start


def read_bar_line(reader: Reader) -> None:
    """Check the bar that ends here. A bar line before the first note or after a repeat sign says nothing."""
    if reader.text.startswith("|:", reader.at):
        _open_repeat(reader)
        return
    if not reader.fresh:
        if not reader.bar_length:
            reader.fail("a bar line right after another", f"a note in bar {len(reader.bar_lines) + 1}")
        if reader.full_bar is None and not reader.in_pickup:
            reader.full_bar = reader.bar_length
        end_bar(reader)
        reader.bar_lines.append(len(reader.notes))
    reader.at += 1


def end_bar(reader: Reader, start: int | None = None) -> None:
    """Check that a bar may end here: full where its length is known, shorter where it is a pickup."""
    if reader.tuplet or reader.ghosts_at is not None:
        open_sign, close = ("{ }", "'}'") if reader.tuplet else ("( )", "')'")
        reader.fail(f"a bar line inside {open_sign}", f"{close} before it", start)
    length, full, bar = reader.bar_length, reader.full_bar, len(reader.bar_lines) + 1
    reader.bar_length = Fraction(0)
    if reader.in_pickup:
        if full is not None and length >= full:
            found = f"a bar line where the pickup holds {_length(reader, length)}"
            reader.fail(found, f"where it holds less than {_length(reader, full)}", start)
        reader.in_pickup = not length
        return
    if full is not None and length not in {full, 0}:
        measured_by = f"meter {reader.meter}" if reader.meter else "unlike bar 1"
        found = f"a bar line where bar {bar} holds {_length(reader, length)}, {measured_by}"
        reader.fail(found, f"where it holds {_length(reader, full)}", start)


def _length(reader: Reader, length: Fraction) -> str:
    """Say a length in the meter's unit where that comes out even: 6/8, not 3/4."""
    if reader.meter and (length * reader.meter.unit).denominator == 1:
        return f"{length * reader.meter.unit}/{reader.meter.unit}"
    return f"{length.numerator}/{length.denominator}"


def _at_sign(reader: Reader) -> None:
    """End a bar at a repeat sign, which is a bar line itself: one beside it says nothing."""
    end_bar(reader, reader.at)
    if reader.notes and reader.bar_lines[-1:] == [len(reader.notes)]:
        reader.bar_lines.pop()
    reader.fresh = True


def _open_repeat(reader: Reader) -> None:
    if reader.repeat:
        reader.fail("'|:' inside a repeat", "':|' first: repeats do not stand inside one another")
    _at_sign(reader)
    reader.repeat = OpenRepeat(reader.at, len(reader.notes))
    reader.at += 2


def close_repeat(reader: Reader) -> None:
    """Read ``:|``, or ``:|x3`` where it is played three times; or the end of an ending."""
    start, repeat = reader.at, reader.repeat
    if repeat is None or (repeat.endings and repeat.ending_at is None):
        reader.fail("':|'", "'|:' before it, as in |: RLRR :|")
    first = repeat.at if repeat.ending_at is None else repeat.ending_at
    if first == len(reader.notes):
        reader.fail("':|'", "a note before it")
    _at_sign(reader)
    reader.at += 2
    if repeat.ending_at is not None:
        repeat.endings.append(len(reader.notes) - repeat.ending_at)
        repeat.ending_at = None
        return
    times = _read_times(reader, start)
    body = len(reader.notes) - repeat.at
    for _ in range(times - 1):
        _play_again(reader, repeat.at, body, start)
    reader.repeats.append(Repeat(repeat.at, body, times))
    reader.repeat = None


def _read_times(reader: Reader, start: int) -> int:
    if not reader.took("x"):
        return 2
    times = read_number(reader, MOST_TIMES, wanted="a number after ':|x', as in :|x3")
    if not 2 <= times <= MOST_TIMES:
        reader.fail(f":|x{times}", f"2 to {MOST_TIMES} times", start)
    return times


def open_ending(reader: Reader) -> None:
    """Read ``[1`` or a later ending; from the second on the repeat's notes are played again first."""
    start, repeat = reader.at, reader.repeat
    reader.at += 1
    number = read_number(reader, MOST_TIMES) if reader.here in DIGITS else 0
    if repeat is None:
        reader.fail(f"'[{number or ''}'", "inside a repeat, as in |: RLRR [1 LRLL :| [2 LRLR ]", start)
    wanted = len(repeat.endings) + 1
    if number != wanted or repeat.ending_at is not None:
        right = f"[{wanted}" if repeat.ending_at is None else f"':|' or ']' after ending {wanted}"
        reader.fail(f"'[{number or ''}'", right, start)
    if number == 1:
        repeat.body = len(reader.notes) - repeat.at
        if not repeat.body:
            reader.fail("'[1'", "a note after '|:' and before it", start)
        after, reader.at = reader.at, start
        _at_sign(reader)
        reader.at = after
    else:
        _play_again(reader, repeat.at, repeat.body or 0, start)
        reader.meter = reader.meter_at(len(reader.notes) - 1)
        reader.full_bar = reader.meter.bar if reader.meter else reader.full_bar
    repeat.ending_at = len(reader.notes)


def close_ending(reader: Reader) -> None:
    """Read ``]``, which ends the last ending."""
    repeat = reader.repeat
    if repeat is None or repeat.ending_at is None or not repeat.endings:
        reader.fail("']'", "after the last ending, as in |: RLRR [1 LRLL :| [2 LRLR ]")
    if repeat.ending_at == len(reader.notes):
        reader.fail("']'", "a note before it")
    _at_sign(reader)
    reader.at += reader.here == "]"
    endings = (*repeat.endings, len(reader.notes) - repeat.ending_at)
    reader.repeats.append(Repeat(repeat.at, repeat.body or 0, len(endings), endings))
    reader.repeat = None


def _play_again(reader: Reader, first: int, body: int, start: int) -> None:
    """Play a repeat's notes once more, with all that stands at them."""
    stop, at = first + body, len(reader.notes)
    by = at - first
    if at + body > MAX_NOTES:
        reader.fail(f"note {MAX_NOTES + 1:,} (as played)", f"at most {MAX_NOTES:,} notes and rests", start)
    opens, holds = reader.meter_at(first), reader.meter_at(at - 1)
    inside = [(place + by, meter) for place, meter in reader.meters if first < place < stop]
    if opens != holds:
        if opens is None:
            reader.fail("a meter that begins inside a repeat", "a meter before '|:', too", start)
        reader.meters.append((at, opens))
    reader.meters += inside
    reader.bar_lines += [line + by for line in reader.bar_lines if first < line < stop]
    reader.slashed += [(a + by, b + by) for a, b in reader.slashed if first <= a < stop]
    reader.tuplets += [
        Tuplet(each.start + by, each.stop + by, each.num, each.base)
        for each in reader.tuplets
        if first <= each.start < stop
    ]
    reader.notes += reader.notes[first:stop]
