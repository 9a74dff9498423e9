"""Hear a stick that is dropped and left alone: how much of its speed it keeps at each blow.

Heard drops as JSON (docs/bounce.md).

How loud a recording is at each moment, for what asks whether something could have been overheard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import cast

import numpy as np

import evenhand
from evenhand.acts.documents import Json, json_of, plain
from evenhand.arrays import Floats, Singles
from evenhand.errors import NothingHeard, WrongOptions
from evenhand.hearing.onsets.bands import FRAME_HZ, band_energies
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
from evenhand.progress.bounce.restitution import (
    FEWEST_BLOWS,
    HeardBounce,
)
from evenhand.report.words.remarks import remark_words
from evenhand.take import SNARE_NOTES, MidiTake, OpensTakes, Progress, SoundTake

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
    """Find the drops in sound; every hit is then timed by the shape of its attack."""
    from evenhand.hearing.onsets.attack import time_hits
    from evenhand.hearing.onsets.candidates import find_onsets

    _, found = find_onsets(take.samples, take.rate_hz)
    timed = time_hits(take.samples, take.rate_hz, found.times_s)
    chains, stray = find_drops(found.times_s, found.strength, timed.levels_db)
    sure = (timed.fit_gain > SURE_GAIN) | (found.strength > STRONG)
    exact = np.where(sure, timed.times_s, np.nan)
    blows = [_timed(chain, exact) for chain in chains]
    return [each for each in blows if len(each.times_s)], found.times_s[list(stray)], loudness_of(take)


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
