"""Hear a take: samples and exercise in, what was heard out.

This is the main path, stage by stage. Conventions: ``samples`` shape (n,), mono,
full scale 1.0; times in seconds from the first sample; nothing here reads a file,
a clock or a random number.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

import numpy as np

from evenhand.arrays import Bools, Floats
from evenhand.hearing.alignment.beginning import Begun, KnownStart, begin
from evenhand.hearing.alignment.costs import bounces
from evenhand.hearing.alignment.doubt import beginning_ambiguity
from evenhand.hearing.alignment.follow import CLEAR_STRENGTH
from evenhand.hearing.alignment.recovery import (
    Matched,
    ahead_of_note,
    find_graces,
    graces_among,
    matched_along,
    usual_levels,
)
from evenhand.hearing.alignment.score import Score
from evenhand.hearing.alignment.second_look import look_again
from evenhand.hearing.build_result import (
    NOTHING_LIKE_IT,
    besides_warning,
    build_blind_result,
    build_result,
    exercise_mismatch,
    other_note_value,
    other_tempos,
    reasons,
    tempo_warning,
    with_hidden,
)
from evenhand.hearing.clicks.between import on_its_beats
from evenhand.hearing.clicks.find import Sounds, find_sounds
from evenhand.hearing.clicks.sound import HeardClick
from evenhand.hearing.onsets.attack import TimedHits, time_hits
from evenhand.hearing.onsets.bands import SETTINGS, distance_s
from evenhand.hearing.onsets.candidates import Candidates, echoes
from evenhand.music.bars import click_grid
from evenhand.music.beat import tempo_on
from evenhand.music.click_pattern import EVERY_BEAT, ClickPattern
from evenhand.music.exercise import Exercise, Tempo
from evenhand.take import ExtraHit, ExtraReason, Heard, Progress, Remark, Samples

ClickChoice = Literal["auto", "heard", "none"]
NO_CLICK = Remark("no click found")
_LEAST_GAIN = 2.5  # nats by which the attack's shape must explain the sound of a faint hit
_CLICK_NEAR_S = 0.010
_FEW_UNMATCHED, _CLOSE = 0.1, 0.1  # of the hits; of the interval
_APART_S = 0.012  # nearer than this to a note, it is the note
_GRACE_APART_S = 0.008  # nearer than this it is the note's own rise
_FAINT_STRENGTH = 1.0
_ALIKE_DB, _FAR_SOFTER_DB = 8.0, 20.0  # below the other times the note was played
_RANGE_DB = 42.0  # what lies further below the loud hits is not a hit


def listen(  # noqa: PLR0913 - all that may be known of a take, each by its name
    samples: Samples,
    rate_hz: int,
    *,
    exercise: Exercise | None = None,
    tempo: Tempo | None = None,
    click: ClickChoice = "auto",
    counted: bool = False,
    begins_at_s: float | None = None,
    pattern: ClickPattern = EVERY_BEAT,
    progress: Progress | None = None,
) -> Heard:
    """Hear one take.

    Parameters
    ----------
    samples : shape (n,), mono, full scale 1.0
    rate_hz : samples a second
    exercise, tempo : what was asked of the player; without them the take is heard blind
    click : "auto" looks for a click, "heard" says so where none is found, "none" does not look
    counted : the counting in is known, so that nothing played is one; so it is with a click that
        is said to be heard, and is
    begins_at_s : when the exercise's first note was struck, where that is known
    pattern : at which places in a bar the click is known to sound; the ear finds them by itself, but for
        a click that sounds on the offbeat only
    progress : told the share done, 0 to 1

    Returns
    -------
    Heard
        What was heard, and what could not be told.
    """
    clicked, apart_s = _clicked(exercise, tempo)
    beat_s = None if clicked is None else clicked.beat_s
    sounds = find_sounds(
        samples, rate_hz, with_click=click != "none", beat_s=beat_s, apart_s=apart_s, progress=progress
    )
    if sounds.click is not None:
        sounds, tempo = replace(sounds, click=on_its_beats(sounds.click, pattern)), clicked
    counted = counted or (click == "heard" and sounds.click is not None)
    heard = _hear(sounds, exercise, tempo, KnownStart(counted, begins_at_s))
    if click == "heard" and not heard.clicks_s:
        heard = replace(heard, warnings=(*heard.warnings, NO_CLICK))
    if progress is not None:
        progress(1.0)
    return heard


def _clicked(exercise: Exercise | None, tempo: Tempo | None) -> tuple[Tempo | None, tuple[float, ...]]:
    """Return the tempo on the grid that unequal clicks fall on, and the times between them, s."""
    if exercise is None or tempo is None:
        return tempo, ()
    grid, apart = click_grid(exercise, tempo)
    if grid == tempo.beat:
        return tempo, ()
    return tempo_on(grid, tempo), tuple(float(each) * tempo.whole_note_s for each in apart if each > grid)


def _hear(sounds: Sounds, exercise: Exercise | None, tempo: Tempo | None, known: KnownStart) -> Heard:
    """Hear a take by its exercise at the tempo given, else at half or double that, else blind."""
    if exercise is None or tempo is None:
        return hear_blind(sounds)
    heard = hear_aligned(sounds, Score.of(exercise, tempo), known)
    if heard.unlike is None:
        return heard
    for other in other_tempos(tempo):
        score = Score.of(exercise, other)
        again = hear_aligned(sounds, score, known)
        unmatched = len(again.missed) + sum(hit.reason == "between" for hit in again.extra)
        fits = again.unlike is None and exercise_mismatch(score, again, most_spread=_CLOSE) is None
        if fits and unmatched < _FEW_UNMATCHED * len(again.hits):
            return replace(again, warnings=(*again.warnings, other_note_value(tempo, other)))
    return replace(hear_blind(sounds), unlike=heard.unlike)


def hear_blind(sounds: Sounds) -> Heard:
    """Hear the hits of a take without an exercise to follow."""
    found, click = sounds.found, sounds.click
    strong = found.only((found.strength > SETTINGS.strong) & ~echoes(found))
    timed = time_hits(sounds.samples, sounds.rate_hz, strong.times_s)
    there = timed.fit_gain > _LEAST_GAIN
    if there.any():
        there &= timed.levels_db > np.percentile(timed.levels_db[there], 90) - _RANGE_DB
    heard = build_blind_result(strong.only(there), timed.only(np.flatnonzero(there)))
    return heard if click is None else replace(heard, clicks_s=tuple(click.times_s.tolist()))


def hear_aligned(sounds: Sounds, score: Score, known: KnownStart) -> Heard:
    """Align the take with the exercise, look again where notes are missing, and build the result."""
    begun = begin(score, sounds.found, sounds.click, known)
    if begun is None:
        return Heard(hits=(), unlike=NOTHING_LIKE_IT)
    matched = matched_along(begun.seen, begun.path)
    matched = find_graces(matched, score, sounds.novelty.strength)
    heard = _time_and_build(sounds, score, matched, begun.counted_s)
    heard = with_ambiguity(heard, score, begun, clicked=sounds.click is not None)
    return replace(heard, begins_at_s=known.begins_at_s)


def listen_to_blows(
    times_s: Floats,
    levels_db: Floats,
    *,
    exercise: Exercise | None = None,
    tempo: Tempo | None = None,
    counted: bool = False,
    begins_at_s: float | None = None,
) -> Heard:
    """Hear a take whose blows are known already, as from an electronic pad.

    Parameters
    ----------
    times_s, levels_db : shape (n_blows,), times rising
    exercise, tempo, counted, begins_at_s : as for ``listen``
    """
    n = len(times_s)
    blows = Candidates(
        np.asarray(times_s, dtype=np.float64),
        np.full(n, 9.0),
        np.asarray(levels_db, dtype=np.float64),
        np.zeros((n, 1)),
    )
    exact = TimedHits(blows.times_s, blows.level_db, np.full(n, 99.0), np.full(n, np.nan))
    if exercise is None or tempo is None:
        return build_blind_result(blows, exact)
    score = Score.of(exercise, tempo)
    begun = begin(score, blows, None, KnownStart(counted, begins_at_s))
    if begun is None:
        return Heard(hits=(), unlike=NOTHING_LIKE_IT)
    seen = np.flatnonzero(np.isin(blows.times_s, begun.seen.times_s))
    picked = seen[begun.path.candidates]
    matched, used = graces_among(matched_along(begun.seen, begun.path), score, blows.times_s, picked)
    loose = np.setdiff1d(np.arange(n), used)
    why = reasons(blows.times_s[loose], matched.times_s[0], matched.times_s[-1], begun.counted_s)
    levels = blows.level_db[loose].tolist()
    extra = tuple(ExtraHit(*each) for each in zip(blows.times_s[loose].tolist(), levels, why, strict=True))
    heard = build_result(score, matched, exact.only(used), extra, None)
    return replace(with_ambiguity(heard, score, begun), begins_at_s=begins_at_s)


def with_ambiguity(heard: Heard, score: Score, begun: Begun, *, clicked: bool = False) -> Heard:
    """Add what cannot be told for sure, and what was given no note."""
    beginning = beginning_ambiguity(score, begun.costs, begun.path, begun.rival, clicked=clicked)
    counting = () if begun.remark is None else (begun.remark,)
    more = (*tempo_warning(score.tempo, heard), *beginning.warnings, *counting, *besides_warning(heard.extra))
    return replace(
        heard,
        ambiguity=beginning.ambiguity,
        unlike=exercise_mismatch(score, heard),
        warnings=(*heard.warnings, *more),
    )


def _time_and_build(sounds: Sounds, score: Score, matched: Matched, counted_s: Floats) -> Heard:
    """Time the notes and what was played besides, and build the result."""
    found, click = sounds.found, sounds.click
    loose = found.only(_left_over(found, matched) & ~bounces(found, score))
    rough = np.concatenate([matched.times_s, loose.times_s])
    order = np.argsort(rough, kind="stable")
    timed = time_hits(sounds.samples, sounds.rate_hz, rough[order], _near_click(rough[order], click))
    back = np.argsort(order, kind="stable")
    notes = timed.only(back[: len(matched.times_s)])
    again = look_again(matched, notes, score, sounds.samples, sounds.rate_hz)
    matched, notes = again.matched, again.timed
    others = timed.only(back[len(rough) - len(loose) :])
    there = _believable(score, matched, notes)
    apart = np.flatnonzero(distance_s(others.times_s, notes.times_s[there]) > _APART_S)  # not a note
    loose, others = loose.only(apart), others.only(apart)
    why = reasons(loose.times_s, matched.times_s[0], matched.times_s[-1], counted_s)
    extra = sorted(
        [*_extra(others, why, notes), *_too_soft(notes, matched, there)], key=lambda hit: hit.time_s
    )
    there_at = np.flatnonzero(there)
    heard = build_result(score, matched.only(there), notes.only(there_at), tuple(extra), click)
    return with_hidden(heard, score, again.hidden)


def _near_click(times_s: Floats, click: HeardClick | None) -> Bools:
    """Tell which times lie so near a click that what is left of it could be taken for the hit's rise."""
    if click is None or len(click.times_s) == 0:
        return np.zeros(len(times_s), dtype=bool)
    return np.asarray(distance_s(times_s, click.times_s) < _CLICK_NEAR_S)


def _believable(score: Score, matched: Matched, notes: TimedHits) -> Bools:
    """Tell which hits found where a note was due are hits indeed.

    A faint one must be explained by the attack's shape, or be about as loud as the other
    times its note was played; and none may be far softer than these.
    """
    shown = (matched.strength > CLEAR_STRENGTH) | (notes.fit_gain > _LEAST_GAIN)
    which = matched.numbers % len(score) + len(score) * matched.graces
    softer = usual_levels(which, notes.levels_db, shown) - notes.levels_db
    alike = (matched.strength > _FAINT_STRENGTH) & (softer < _ALIKE_DB)
    grace = matched.graces > 0
    apart = grace & (ahead_of_note(matched, notes.times_s) > _GRACE_APART_S)
    return np.asarray((shown | alike) & np.where(grace, apart, softer < _FAR_SOFTER_DB))


def _extra(others: TimedHits, why: list[ExtraReason], notes: TimedHits) -> Iterator[ExtraHit]:
    """Tell the hits besides the notes; one that hardly sounds beside them is too soft."""
    least_db = np.percentile(notes.levels_db, 90) - _RANGE_DB
    rows = zip(others.times_s.tolist(), others.levels_db.tolist(), others.fit_gain.tolist(), why, strict=True)
    for time_s, level_db, gain, reason in rows:
        if gain > _LEAST_GAIN:
            yield ExtraHit(time_s, level_db, reason if level_db > least_db else "too soft")


def _too_soft(notes: TimedHits, matched: Matched, there: Bools) -> Iterator[ExtraHit]:
    """Tell what sounds clearly where a note is due, and is far too soft to be it."""
    gone = np.flatnonzero(~there & (matched.strength > SETTINGS.strong))
    for i in gone.tolist():
        yield ExtraHit(float(notes.times_s[i]), float(notes.levels_db[i]), "too soft")


def _left_over(found: Candidates, matched: Matched) -> Bools:
    """Tell which candidates are blows that no note accounts for."""
    away = distance_s(found.times_s, matched.times_s)
    return np.asarray((found.strength > SETTINGS.strong) & (away > _APART_S) & ~echoes(found))
