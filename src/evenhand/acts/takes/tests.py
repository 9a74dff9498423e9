"""Hear the two tests of a hand: a stick that is dropped and left alone, and a minute of single strokes.

Both are given as JSON (docs/bounce.md, docs/minute.md). How loud a recording is at each moment says whether
something could have been overheard.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, cast

import numpy as np

import evenhand
from evenhand.acts.documents import DIGITS, Json, json_of, plain
from evenhand.arrays import Floats, Singles
from evenhand.errors import NothingHeard, WrongOptions
from evenhand.hearing.onsets.bands import FRAME_HZ, band_energies
from evenhand.music.exercise import Hand
from evenhand.progress.bounce.drops import STRONG, Chain, find_drops
from evenhand.progress.bounce.judge import (
    LASTS_S,
    STEP_S,
    BlowsOfDrop,
    LoudnessCurve,
    PadFloor,
    compare,
    judge_drop,
)
from evenhand.progress.bounce.restitution import FEWEST_BLOWS, HeardBounce
from evenhand.progress.minute.rates import (
    RECORD_PER_S,
    RECORD_STROKES,
    Counted,
    HeardMinute,
    TimedStrokes,
    alternation_ms,
    count_strokes,
    interval_ms,
    interval_sd_ms,
    level_difference_db,
    rate_over_time,
    second_hand_late_ms,
    tiring,
)
from evenhand.progress.minute.train import follow_train
from evenhand.report.words.remarks import all_remarks, remark_words
from evenhand.take import SNARE_NOTES, MidiTake, OpensTakes, Progress, Remark, SoundTake

PIECE_S = 120
SILENCE = 1e-14


def loudness_of(take: SoundTake) -> LoudnessCurve:
    """Follow the loudness of a take from 100 Hz up, piece by piece, so that memory does not grow with it."""
    step, lasts = round(STEP_S * FRAME_HZ), round(LASTS_S * FRAME_HZ)
    power = [_power(piece, take.rate_hz) for _, piece in take.blocks(PIECE_S * take.rate_hz)]
    total = np.cumsum(np.concatenate([[0.0], *power]))
    first = np.arange(0, max(len(total) - 1, 1), step)
    last = np.minimum(first + lasts, len(total) - 1)
    mean = (total[last] - total[first]) / np.maximum(last - first, 1)
    return LoudnessCurve(10 * np.log10(mean + SILENCE))


def _power(piece: Singles, rate_hz: int) -> Floats:
    """Return the energy of all bands together, every half millisecond."""
    return cast("Floats", band_energies(piece, rate_hz).sum(axis=0, dtype=np.float64))


SURE_GAIN = 2.5  # nats by which the attack's shape must explain a hit that does not speak for itself
SHOWN_STARTS = 12


def hear_bounce(
    path: Path,
    labels: Sequence[str] = (),
    *,
    opens: OpensTakes,
    midi_notes: Sequence[int] = SNARE_NOTES,
    progress: Progress | None = None,
) -> HeardBounce:
    """Hear every drop of a take. ``labels`` say the grip or the hand of each, in order; or are left out."""
    take = opens(path, midi_notes=midi_notes, progress=progress)
    if isinstance(take, MidiTake):
        blows, stray, loudness = _in_midi(take)
    else:
        blows, stray, loudness = _in_sound(take)
    if not any(len(each.times_s) >= FEWEST_BLOWS for each in blows):
        do = "Drop the stick on a pad, leave it alone until it rests, and record again."
        raise NothingHeard(got=f"{path.name}: there is no stick in it that bounces on by itself", do=do)
    _check_labels(labels, blows)
    return _judged(blows, stray, loudness, labels, take, path.name)


def _judged(
    blows: Sequence[BlowsOfDrop],
    stray_s: Floats,
    loudness: LoudnessCurve | PadFloor,
    labels: Sequence[str],
    take: SoundTake | MidiTake,
    name: str,
) -> HeardBounce:
    """Judge the drops, and compare them by their labels."""
    named: Sequence[str | None] = labels or [None] * len(blows)
    drops = tuple(judge_drop(each, loudness, label) for each, label in zip(blows, named, strict=True))
    summed, pairs, longest = compare(drops)
    return HeardBounce(
        input=take.facts,
        drops=drops,
        labels=summed,
        comparisons=pairs,
        longest=longest,
        name=name,
        version=evenhand.__version__,
        stray_s=tuple(stray_s.tolist()),
        warnings=take.facts.warnings,
    )


def _in_sound(take: SoundTake) -> tuple[list[BlowsOfDrop], Floats, LoudnessCurve | PadFloor]:
    """Find the drops in sound, and follow its loudness."""
    blows, stray_s, _ = drops_in_sound(take)
    return blows, stray_s, loudness_of(take)


def drops_in_sound(
    take: SoundTake, *, with_click: bool = False
) -> tuple[list[BlowsOfDrop], Floats, Mapping[float, float]]:
    """Find the drops in sound; every hit is then timed by the shape of its attack.

    Returns
    -------
    the drops; the times of clear hits that belong to none, shape (n,), seconds; the level of each time, dB
    """
    from evenhand.hearing.clicks.find import find_sounds
    from evenhand.hearing.onsets.attack import time_hits

    sounds = find_sounds(take.samples, take.rate_hz, with_click=with_click)
    found = sounds.found
    timed = time_hits(sounds.samples, sounds.rate_hz, found.times_s)
    chains, stray = find_drops(found.times_s, found.strength, timed.levels_db)
    sure = (timed.fit_gain > SURE_GAIN) | (found.strength > STRONG)
    exact = np.where(sure, timed.times_s, np.nan)
    blows = [_timed(chain, exact) for chain in chains]
    levels_db = dict(zip(timed.times_s.tolist(), timed.levels_db.tolist(), strict=True))
    return [each for each in blows if len(each.times_s)], found.times_s[list(stray)], levels_db


def _in_midi(take: MidiTake) -> tuple[list[BlowsOfDrop], Floats, LoudnessCurve | PadFloor]:
    """Find the drops among the blows of an electronic pad."""
    chains, stray = find_drops(take.times_s, np.full(len(take.times_s), 9.0), take.levels_db)
    blows = [
        replace(_timed(chain, take.times_s), levels_db=take.levels_db[list(chain.hits)]) for chain in chains
    ]
    floor = PadFloor(float(take.levels_db.min(initial=0.0)))
    return blows, take.times_s[list(stray)], floor


def _timed(chain: Chain, exact_s: Floats) -> BlowsOfDrop:
    """Take a chain's exact times; what turned out to be no hit is left out, and its number with it."""
    times, numbers = exact_s[list(chain.hits)], np.array(chain.numbers, dtype=np.int64)
    there = ~np.isnan(times)
    times, numbers = times[there], numbers[there]
    rising = np.append(True, np.diff(times) > 0)
    after = exact_s[list(chain.after)]
    return BlowsOfDrop(times[rising], numbers[rising], after[~np.isnan(after)])


def _check_labels(labels: Sequence[str], blows: Sequence[BlowsOfDrop]) -> None:
    """Refuse labels that are not one for each drop."""
    if labels and len(labels) != len(blows):
        starts = ", ".join(f"{each.times_s[0]:.1f}" for each in blows[:SHOWN_STARTS])
        more = " ..." if len(blows) > SHOWN_STARTS else ""
        drops = f"one for each drop heard: {len(blows)}, beginning at {starts}{more} s"
        raise WrongOptions(got=f"{len(labels)} grips or hands", must_be=drops)


def bounce_text(heard: HeardBounce) -> str:
    """Write the drops of a take as JSON text (docs/bounce.md)."""
    return json_of(bounce_json(heard))


def bounce_json(heard: HeardBounce) -> Json:
    """Turn the drops of a take into plain dicts, lists and numbers."""
    document = plain(heard)
    for drop, written in zip(heard.drops, document["drops"], strict=True):
        written["why"] = remark_words(drop.why)
    for pair in document["comparisons"]:
        pair["restitution_difference"] = pair.pop("difference")
    return document


ClickIn = Literal["heard", "none"]

FEWEST_STROKES = 4
SHORTEST_S, LONGEST_S = 2.0, 3600.0
END_BEATS = 2.5  # a take that ends so near the asked time lasts as long as asked
BEYOND_RECORD = Remark("beyond the record", {"strokes": RECORD_STROKES, "per_s": RECORD_PER_S})


@dataclass(frozen=True, slots=True)
class MinuteRequest:
    """How many seconds are counted from the first stroke on, whether a click sounds, and which hand began."""

    seconds: float = 60.0
    click: ClickIn = "none"
    first_hand: Hand | None = None

    def __post_init__(self) -> None:
        if not SHORTEST_S <= self.seconds <= LONGEST_S:
            must_be = f"{SHORTEST_S:g} to {LONGEST_S:g}"
            raise WrongOptions(got=f"{self.seconds:g} seconds to count", must_be=must_be)


def hear_minute(
    path: Path,
    asked: MinuteRequest,
    *,
    opens: OpensTakes,
    midi_notes: Sequence[int] = SNARE_NOTES,
    progress: Progress | None = None,
) -> HeardMinute:
    """Open a take and count the strokes of its first minute of playing."""
    take = opens(path, midi_notes=midi_notes, progress=progress)
    strokes, due_s = _minute_in_midi(take) if isinstance(take, MidiTake) else _minute_in_sound(take, asked)
    if len(strokes.times_s) < FEWEST_STROKES:
        do = "Play single strokes for a minute near to the microphone, and record again."
        raise NothingHeard(got=f"{path.name}: there is no steady run of strokes in it", do=do)
    return _summed(strokes, due_s, asked, take, path.name)


def _minute_in_sound(take: SoundTake, asked: MinuteRequest) -> tuple[TimedStrokes, Floats]:
    """Find the train of strokes in sound, and time the hits it goes by."""
    from evenhand.hearing.clicks.find import find_sounds
    from evenhand.hearing.onsets.attack import time_hits

    sounds = find_sounds(take.samples, take.rate_hz, with_click=asked.click == "heard")
    curve = sounds.novelty.strength
    train = follow_train(sounds.found.times_s, sounds.found.strength, curve)
    counted = count_strokes(sounds.found.times_s, train, curve)
    timed = time_hits(sounds.samples, take.rate_hz, counted.times_s[counted.heard])
    return _exact(counted, timed.times_s, timed.levels_db), counted.due_s


def _minute_in_midi(take: MidiTake) -> tuple[TimedStrokes, Floats]:
    """Follow the blows of an electronic pad."""
    train = follow_train(take.times_s, np.full(len(take.times_s), 9.0))
    counted = count_strokes(take.times_s, train, None)
    return _exact(counted, take.times_s[train.hits], take.levels_db[train.hits]), counted.due_s


def _exact(counted: Counted, times_s: Floats, levels_db: Floats) -> TimedStrokes:
    """Put the exact times and levels of what was heard in their places."""
    times, levels = counted.times_s.copy(), np.full(len(counted.times_s), np.nan)
    times[counted.heard], levels[counted.heard] = times_s, levels_db
    order = np.argsort(times, kind="stable")
    numbers = counted.numbers[order]
    numbers = numbers - (numbers[0] if len(numbers) else 0)
    return TimedStrokes(times[order], numbers, counted.heard[order], levels[order])


def _summed(
    strokes: TimedStrokes, due_s: Floats, asked: MinuteRequest, take: SoundTake | MidiTake, name: str
) -> HeardMinute:
    """Cut the asked time out of the train and sum it up."""
    start = float(strokes.times_s[0])
    inside = strokes.times_s < start + asked.seconds
    cut = strokes.only(inside)
    span, count = float(cut.times_s[-1]) - start, len(cut.times_s)
    beat = span / max(count - 1, 1)
    whole = bool((~inside).any()) or span > asked.seconds - END_BEATS * beat
    seconds = asked.seconds if whole else span
    per_minute = 60.0 * (count / asked.seconds if whole else 1 / beat)
    at, rate = rate_over_time(cut)
    left_out = due_s[(due_s > start) & (due_s < start + seconds)]
    stops = int((np.diff(cut.times_s) > 5 * beat).sum())
    doubts = _warnings(count, seconds, whole=whole, asked_s=asked.seconds)
    return HeardMinute(
        input=take.facts,
        asked_s=asked.seconds,
        start_s=start,
        strokes=count,
        hidden=int((~cut.heard).sum()),
        left_out_s=tuple(left_out.tolist()),
        seconds=seconds,
        per_minute=per_minute,
        whole=whole,
        stops=stops,
        rate_per_s=tuple(zip(at.tolist(), rate.tolist(), strict=True)),
        tiring_per_minute=tiring(cut),
        interval_ms=interval_ms(cut),
        interval_sd_ms=interval_sd_ms(cut),
        alternation_ms=alternation_ms(cut),
        second_hand_late_ms=second_hand_late_ms(cut),
        level_difference_db=level_difference_db(cut),
        first_hand=asked.first_hand,
        name=name,
        version=evenhand.__version__,
        warnings=(*take.facts.warnings, *all_remarks(doubts)),
    )


def _warnings(count: int, seconds: float, *, whole: bool, asked_s: float) -> tuple[Remark, ...]:
    """Say what stands in the way of taking the count at its word."""
    out = []
    if not whole:
        out.append(Remark("shorter than asked", {"seconds": seconds, "asked_s": asked_s}))
    if seconds > 0 and (count - 1) / seconds > RECORD_PER_S:
        out.append(BEYOND_RECORD)
    return tuple(out)


def minute_text(heard: HeardMinute) -> str:
    """Write the strokes of a take as JSON text."""
    return json_of(minute_json(heard))


def minute_json(heard: HeardMinute) -> Json:
    """Turn what was heard into plain dicts, lists and numbers."""
    document = plain(heard, {**DIGITS, "per_minute": 2, "rate_per_s": 4, "tiring_per_minute": 5})
    document["asked_seconds"] = document.pop("asked_s")
    return document
