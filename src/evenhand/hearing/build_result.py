"""Build the result of listening: hits with their notes, notes that were missed, hits without a note and why.

Conventions: arrays in order of time, seconds; levels in dB re full scale; note numbers unrolled from 0,
repetitions from 1.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from evenhand.arrays import Bools, Floats, Indices, median, robust_sd
from evenhand.hearing.alignment.recovery import Matched, unplayed
from evenhand.hearing.alignment.score import Score, smooth_times
from evenhand.hearing.clicks.sound import HeardClick
from evenhand.hearing.onsets.attack import TimedHits
from evenhand.hearing.onsets.bands import distance_s
from evenhand.hearing.onsets.candidates import Candidates
from evenhand.music.exercise import bpm_of
from evenhand.take import ExtraHit, ExtraReason, Heard, Hit, MissedNote, Remark


def confidence(strength: Floats, off_s: Floats, spread_s: float) -> Floats:
    """Return how surely each is the hit it is taken for, 0 to 1.

    A logistic of how far it stands out of the noise, and of how far it lies from where it was due.

    Parameters
    ----------
    strength : shape (n_hits,), in spreads of steady noise
    off_s : shape (n_hits,), distance from where each was due, seconds
    spread_s : how far hits usually lie from there

    Returns
    -------
    shape (n_hits,)
    """
    stands_out = 1 / (1 + np.exp(-(strength - 2.4) * 2.2))
    due = np.exp(-0.5 * np.maximum(np.abs(off_s) / max(spread_s, 1e-4) - 3, 0) ** 2)
    return np.clip(stands_out * (0.2 + 0.8 * due), 0.01, 0.999)


def build_blind_result(found: Candidates, timed: TimedHits) -> Heard:
    """Return the hits of a take whose exercise is not known."""
    sure = confidence(found.strength, np.zeros(len(found)), 1.0)
    rows = zip(timed.times_s.tolist(), timed.levels_db.tolist(), sure.tolist(), strict=True)
    return Heard(hits=tuple(Hit(time_s=t, level_db=level, confidence=c) for t, level, c in sorted(rows)))


def build_result(
    score: Score,
    matched: Matched,
    timed: TimedHits,
    extra: tuple[ExtraHit, ...],
    click: HeardClick | None,
) -> Heard:
    """Return the hits of a take that was aligned with its exercise."""
    main = matched.graces == 0
    written = score.written(matched.numbers)
    times = timed.times_s
    smooth = np.full(len(times), np.nan)
    smooth[main] = smooth_times(times[main], written[main], matched.numbers[main], matched.stretches[main])
    deviation = (times - smooth) * 1e3
    asynchrony = _asynchrony_ms(score, times, written, matched, main, click)
    spread = 1e-3 * robust_sd(deviation[main]) if main.any() else 1.0
    sure = confidence(matched.strength, np.where(main, deviation * 1e-3, 0.0), max(spread, 0.004))
    return Heard(
        hits=_hits(score, matched, timed, deviation, asynchrony, sure),
        missed=_missed(score, matched),
        extra=extra,
        clicks_s=tuple(click.times_s.tolist()) if click else (),
        clock="click" if click and click.through else "smooth",
        tempo_bpm=_tempo_bpm(score, times[main], written[main], matched.stretches[main]),
    )


def _hits(
    score: Score,
    matched: Matched,
    timed: TimedHits,
    deviation: Floats,
    asynchrony: Floats,
    sure: Floats,
) -> tuple[Hit, ...]:
    notes, written = score.exercise.notes, score.written(matched.numbers)
    out = []
    for i, number in enumerate(matched.numbers.tolist()):
        repetition, position = score.place_of(number)
        rank = int(matched.graces[i])
        note = notes[position]
        out.append(
            Hit(
                time_s=float(timed.times_s[i]),
                level_db=float(timed.levels_db[i]),
                confidence=float(sure[i]),
                hand=note.graces[-rank] if rank else note.hand,
                repetition=repetition,
                position=position,
                grace=rank > 0,
                asynchrony_ms=None if np.isnan(asynchrony[i]) else float(asynchrony[i]),
                deviation_ms=None if np.isnan(deviation[i]) else float(deviation[i]),
                stretch=int(matched.stretches[i]),
                written=float(written[i]),
            )
        )
    return tuple(sorted(out, key=lambda hit: hit.time_s))


def _missed(score: Score, matched: Matched) -> tuple[MissedNote, ...]:
    """Return the notes between the first and the last of each stretch that were not heard."""
    main = matched.graces == 0
    skipped = unplayed(matched.numbers[main], matched.stretches[main])
    out = [MissedNote(*score.place_of(number)) for number, _ in skipped]
    heard_graces = Counter(matched.numbers[~main].tolist())
    for number in matched.numbers[main].tolist():
        missing = int(score.graces[number % len(score)]) - heard_graces[number]
        out += [MissedNote(*score.place_of(number), grace=True)] * missing
    return tuple(sorted(out, key=lambda note: (note.repetition, note.position)))


def _tempo_bpm(score: Score, times: Floats, written: Floats, stretches: Indices) -> float | None:
    """Return the take's tempo, in the beat of the tempo given, from the slope of time over written time."""
    top = bottom = 0.0
    for stretch in np.unique(stretches):
        inside = stretches == stretch
        if inside.sum() < 2:
            continue
        w = written[inside] - written[inside].mean()
        top += float(w @ (times[inside] - times[inside].mean()))
        bottom += float(w @ w)
    if bottom <= 0 or top <= 0:
        return None
    return bpm_of(top / bottom, score.beat)


def _asynchrony_ms(
    score: Score,
    times: Floats,
    written: Floats,
    matched: Matched,
    main: Bools,
    click: HeardClick | None,
) -> Floats:
    """Return how far each note stands from the click of its beat; NaN where no click sounds through."""
    out = np.full(len(times), np.nan)
    if click is None or not click.through:
        return out
    beats = written / score.beat
    clicks = (times - click.first_s) / click.beat_s
    for stretch in np.unique(matched.stretches):
        inside = main & (matched.stretches == stretch)
        if not inside.any():
            continue
        whole = np.round(median(clicks[inside] - beats[inside]))
        out[inside] = (times[inside] - click.first_s - (beats[inside] + whole) * click.beat_s) * 1e3
    return out


MANY = 2  # more than these are said in a warning
_SAME_S = 0.012  # a blow counted in, before and after its time is refined


def reasons(times_s: Floats, first_s: float, last_s: float, counted_s: Floats) -> list[ExtraReason]:
    """Return why each hit has no note, by when it comes: ``first_s`` and ``last_s`` are the notes' ends.

    Parameters
    ----------
    times_s : shape (n_hits,), seconds
    first_s, last_s : the first and the last note's times
    counted_s : shape (n_counted,), blows taken for a count-in, rising
    """
    counted = (
        distance_s(times_s, counted_s) < _SAME_S if len(counted_s) else np.zeros(len(times_s), dtype=bool)
    )
    out: list[ExtraReason] = []
    for at, counts in zip(times_s.tolist(), counted.tolist(), strict=True):
        if counts:
            out.append("count-in")
        elif at < first_s:
            out.append("before the start")
        else:
            out.append("after" if at > last_s else "between")
    return out


def besides_warning(extra: Sequence[ExtraHit]) -> tuple[Remark, ...]:
    """Return a warning where more than two hits were given no note."""
    if len(extra) <= MANY:
        return ()
    counts: Counter[str] = Counter(hit.reason for hit in extra)
    return (Remark("hits without a note", {"n": len(extra), **counts}),)
