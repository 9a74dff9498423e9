"""Build the result of listening: hits with their notes, notes that were missed, hits without a note and why.

Conventions: arrays in order of time, seconds; levels in dB re full scale; note numbers unrolled from 0,
repetitions from 1.
Where a take does not fit the exercise, that is a remark.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from evenhand.arrays import Bools, Floats, Indices, median, robust_sd
from evenhand.hearing.alignment.recovery import Matched, unplayed
from evenhand.hearing.alignment.score import Score, smooth_times
from evenhand.hearing.clicks.sound import HeardClick
from evenhand.hearing.onsets.attack import TimedHits
from evenhand.hearing.onsets.bands import distance_s
from evenhand.hearing.onsets.candidates import Candidates
from evenhand.music.exercise import Tempo, bpm_of
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
    columns = timed.times_s, timed.levels_db, sure, timed.errors_s
    rows = zip(*(column.tolist() for column in columns), strict=True)
    return Heard(hits=tuple(Hit(t, level, c, time_se_ms=_known_ms(s)) for t, level, c, s in sorted(rows)))


def _known_ms(seconds: float) -> float | None:
    """Return a standard error in ms; None where none is known."""
    return None if np.isnan(seconds) else 1e3 * seconds


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
    where = times[main], written[main], matched.numbers[main], matched.stretches[main]
    smooth[main] = smooth_times(*where)
    trust = _trust(times[main] - smooth[main], timed.errors_s[main])
    if trust is not None:
        smooth[main] = smooth_times(*where, trust)
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


_SOME_BLUR = 0.1  # of a hit's time, in spreads: less weighs as nothing


def _trust(off_s: Floats, errors_s: Floats) -> Floats | None:
    """Return how far to trust each hit's time, by its error beside how far hits lie off; None: all alike."""
    if not len(off_s):
        return None
    own = max(robust_sd(off_s), 1e-4)
    blur = np.nan_to_num(errors_s) / own
    return np.asarray(1 / (1 + blur**2)) if blur.max() > _SOME_BLUR else None


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
                time_se_ms=_known_ms(float(timed.errors_s[i])),
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


def with_hidden(heard: Heard, score: Score, hidden: Matched) -> Heard:
    """Tell notes that nobody could hear from missed ones, and say how many they are."""
    rows = zip(hidden.numbers.tolist(), (hidden.graces > 0).tolist(), strict=True)
    under = Counter(MissedNote(*score.place_of(number), grace=grace) for number, grace in rows)
    said: dict[bool, list[MissedNote]] = {False: [], True: []}
    for note in heard.missed:
        said[under[note] > 0].append(note)
        under[note] -= 1
    n = len(said[True])
    warnings = (*heard.warnings, Remark("notes hidden", {"n": n})) if n else heard.warnings
    return replace(heard, missed=tuple(said[False]), hidden=tuple(said[True]), warnings=warnings)


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


NOTHING_LIKE_IT = Remark("no note found")

_MOST_UNMATCHED = 0.45  # notes missed or hardly heard, and strokes besides, of all notes
_FAR_OFF, _FEW_UNMATCHED = 0.25, 0.08  # where the tempo is far off, too, less is enough
_LEAST_NOTES = 2
_HARDLY = 0.3  # confidence below which a note is as good as unmatched here
_MOST_SPREAD = 0.18  # robust spread of timing, as a share of the shortest interval
_TEMPO_OFF = 0.18


def exercise_mismatch(score: Score, heard: Heard, *, most_spread: float = _MOST_SPREAD) -> Remark | None:
    """Return a remark where the take does not sound like the exercise.

    ``most_spread`` is how far its hits may stand from the notes, as a share of the shortest interval.
    """
    notes = [hit for hit in heard.hits if not hit.grace]
    missed = sum(not note.grace for note in (*heard.missed, *heard.hidden))
    asked = len(notes) + missed
    if len(notes) < _LEAST_NOTES:
        return NOTHING_LIKE_IT
    faint = sum(hit.confidence < _HARDLY for hit in notes)
    tempo_off = abs((heard.tempo_bpm or score.tempo.bpm) / score.tempo.bpm - 1)
    most = _MOST_UNMATCHED if tempo_off < _FAR_OFF else _FEW_UNMATCHED
    between = sum(hit.reason == "between" for hit in heard.extra)
    if missed + between + faint > most * asked:
        return Remark("notes unmatched", {"missed": missed, "asked": asked, "between": between})
    off = [hit.deviation_ms for hit in notes if hit.deviation_ms is not None]
    spread_ms = robust_sd(np.array(off)) if off else 0.0
    if len(off) >= 8 and spread_ms > 1e3 * most_spread * score.shortest * score.tempo.whole_note_s:
        return Remark("hits off the notes", {"spread_ms": spread_ms, "n": len(off)})
    return None


def other_tempos(tempo: Tempo) -> tuple[Tempo, ...]:
    """Return the tempos a wrong note value would mean: half and double."""
    return tuple(Tempo(tempo.beat, bpm) for bpm in (tempo.bpm / 2, tempo.bpm * 2) if 5.0 <= bpm <= 1000.0)


def other_note_value(asked: Tempo, fits: Tempo) -> Remark:
    """Return the warning that a take is heard at half or double the tempo given."""
    return Remark("another note value", {"asked": str(asked), "fits": str(fits)})


def tempo_warning(tempo: Tempo, heard: Heard) -> tuple[Remark, ...]:
    """Return a warning where the take is far from the tempo asked for."""
    if heard.tempo_bpm is None or abs(heard.tempo_bpm / tempo.bpm - 1) < _TEMPO_OFF:
        return ()
    for ratio in (0.5, 2.0):
        if abs(heard.tempo_bpm / tempo.bpm / ratio - 1) < 0.15:
            return (other_note_value(tempo, Tempo(tempo.beat, tempo.bpm * ratio)),)
    way = "faster" if heard.tempo_bpm > tempo.bpm else "slower"
    by_percent = 100 * abs(heard.tempo_bpm / tempo.bpm - 1)
    return (Remark("another tempo", {"by_percent": by_percent, "way": way, "asked": str(tempo)}),)
