"""Find what a click does between its beats: softer clicks that divide them, or the same sound on the offbeat.

Once a click's line is known, its halves, thirds and quarters are few places. The click's own sound may come
again there; or another, as exact as the click: then phases agree from beat to beat, under strokes, too. Of
all rows the loudest is the beat; where two are as loud, the one that begins first, as a count-in does.

Conventions: times in seconds from the first sample; ``samples`` shape (n,), full scale 1.0, those clicks
taken out that are known; rows shape (n_clicks,).
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from evenhand.arrays import Bools, Floats, Indices, Singles, median
from evenhand.hearing.clicks.locked import agreement, sound_under_strokes
from evenhand.hearing.clicks.presence import BeatEvidence, beat_evidence, sounding
from evenhand.hearing.clicks.sound import (
    CUT_BEFORE_S,
    CUT_S,
    MATCH_S,
    Cutter,
    HeardClick,
    as_recorded,
    begins_s,
    highpassed,
    mean_sound,
    without_click,
)
from evenhand.music.click_pattern import ClickPattern
from evenhand.take import Samples

_THIRDS, _QUARTERS = (1 / 3, 2 / 3), (1 / 4, 3 / 4)
_OFFBEAT = 1 / 2
_PARTS = (_OFFBEAT, *_THIRDS, *_QUARTERS)  # of a beat
_APART_S, _ON_LINE = 0.005, 0.02  # beats
_FEWEST_ALIKE, _FEWEST_OTHER = 3, 8  # clicks of the known sound; of another
_FEWEST_FIRST = 4  # clicks of another on beats
_LEAST = 15.0  # nats that say so, of all of them
_EACH_ALIKE, _EACH_OTHER = 4.0, 1.5  # and of each, where its sound was known and where not
_LOUDER_DB, _SOONER = 1.5, 0.75  # beats
_SOFTEST_DB = 20.0  # under the click
_RISE_S, _RISE = 0.001, 6.0  # of the power


class _Row(NamedTuple):
    """Clicks of one place in the beat: ``part`` of a beat on, when and how loud each, which sound."""

    part: float
    times_s: Floats
    gains: Floats
    kinds: Indices
    sounds: Singles
    level_db: float


def with_between(samples: Samples, cleaned: Samples, rate_hz: int, click: HeardClick) -> HeardClick | None:
    """Return a click with what sounds between its beats; None where that is nothing.

    Parameters
    ----------
    samples, cleaned : shape (n,), with the click that was found, and without
    """
    cut = Cutter(cleaned, rate_hz)
    sounds = highpassed(click.sounds, rate_hz)
    found: list[_Row] = []
    for part in _PARTS:
        if part in _QUARTERS and any(row.part in _THIRDS for row in found):
            break
        row = _row(cut, click, sounds, part)
        if row is not None:
            found.append(row)
    heard = click
    if found:
        found = [_whole(click), *found]
        if len(sounds) == 1:
            found = _by_bare_sound(Cutter(samples, rate_hz), click, found)
        heard = _together(click, found)
        cut = Cutter(without_click(samples, rate_hz, heard), rate_hz)
    rest = _other_beats(cut, heard) if heard.through else None
    if rest is not None:
        return _together(heard, [_whole(heard), rest])
    return heard if found else None


def on_its_beats(click: HeardClick, pattern: ClickPattern) -> HeardClick:
    """Return a click that is known to sound on the offbeat only with its line on the beats.

    Where a count-in sounds on the beats, the line is there already.
    """
    parts = (click.times_s - click.first_s) / click.beat_s
    if pattern.sounds != "offbeats" or np.abs(parts - np.round(parts)).max() > _ON_LINE:
        return click
    return replace(click, first_s=click.first_s - float(pattern.swing) * click.beat_s)


def _whole(click: HeardClick) -> _Row:
    """Return all of a click as one row, on its beats."""
    return _Row(0.0, click.times_s, click.gains, click.kinds, click.sounds, click.level_db)


def _by_bare_sound(cut: Cutter, click: HeardClick, rows: list[_Row]) -> list[_Row]:
    """Learn a sound anew that comes again at another part of the beat, where it may be bare of strokes."""
    again = [row for row in rows[1:] if row.sounds is click.sounds]
    if not again:
        return rows
    sound = mean_sound(cut, np.concatenate([row.times_s for row in again]) - click.begins_s)
    recorded = as_recorded(sound, cut.rate_hz)[None, :]
    return [
        row._replace(sounds=recorded, gains=np.ones(len(row.gains))) if row.sounds is click.sounds else row
        for row in rows
    ]


def _other_beats(cut: Cutter, click: HeardClick) -> _Row | None:
    """Return the beats between that have no click yet, if those share another sound, as the first of bars."""
    every = np.arange(int((click.times_s[0] - click.first_s) / click.beat_s) - 1, click.beats[-1] + 1)
    due_s: Floats = click.first_s + every.astype(np.float64) * click.beat_s
    due_s = due_s[
        (np.abs(due_s[:, None] - click.times_s).min(axis=1) > _APART_S) & (due_s > CUT_BEFORE_S * 2)
    ]
    return None if len(due_s) < _FEWEST_FIRST else _other_row(cut, click, due_s - click.begins_s, 0.0)


def _row(cut: Cutter, click: HeardClick, sounds: Singles, part: float) -> _Row | None:
    """Return the clicks at one part of the beat: on the offbeat of the known sounds, or of another."""
    last_s = len(cut.samples) / cut.rate_hz - CUT_S
    every = np.arange(
        int(-click.first_s / click.beat_s) - 1, int((last_s - click.first_s) / click.beat_s - part) + 1
    )
    marks_s: Floats = click.first_s - click.begins_s + (every.astype(np.float64) + part) * click.beat_s
    marks_s = marks_s[marks_s > CUT_BEFORE_S + 0.001]
    if len(marks_s) < _FEWEST_ALIKE:
        return None
    evidence = beat_evidence(cut, marks_s, sounds) if part == _OFFBEAT else None
    there = sounding(evidence.nats) if evidence is not None else np.zeros(len(marks_s), dtype=bool)
    if evidence is not None and _is_sure(evidence, there, _FEWEST_ALIKE, _EACH_ALIKE):
        kinds = (
            (evidence.second[there] > 0).astype(np.intp)
            if len(sounds) > 1
            else np.zeros(there.sum(), np.intp)
        )
        gains = _gains(evidence, there)
        return _Row(part, marks_s[there] + click.begins_s, gains, kinds, click.sounds, click.level_db)
    return _other_row(cut, click, marks_s, part) if click.through and len(marks_s) >= _FEWEST_OTHER else None


def _is_sure(evidence: BeatEvidence, there: Bools, fewest: int, each: float) -> bool:
    """Tell whether enough clicks are said to sound, and all together surely."""
    nats = evidence.nats[there]
    return bool(len(nats) >= fewest and nats.sum() > max(_LEAST, each * len(nats)))


def _gains(evidence: BeatEvidence, there: Bools) -> Floats:
    """Return how loud the clicks of a row are: as those that sound alone, where some do."""
    alone = there & evidence.alone
    return np.full(there.sum(), median(evidence.gains[alone if alone.any() else there]))


def _other_row(cut: Cutter, click: HeardClick, marks_s: Floats, part: float) -> _Row | None:
    """Return the clicks of a sound of its own at one part of the beat, if phases agree there."""
    if not agreement(cut.samples, cut.rate_hz, marks_s):
        return None
    there = np.ones(len(marks_s), dtype=bool)
    for _ in range(2):
        sound = sound_under_strokes(cut, marks_s[there])[None, :]
        evidence = beat_evidence(cut, marks_s, sound)
        there = sounding(evidence.nats)
        if not _is_sure(evidence, there, _FEWEST_OTHER if part else _FEWEST_FIRST, _EACH_OTHER):
            return None
    off_s = begins_s(sound[0], cut.rate_hz) - click.begins_s
    on_beats = beat_evidence(cut, click.times_s - click.begins_s + off_s, sound)
    if median(on_beats.nats) > 0:  # what plays on the beats, too, is the drum
        return None
    marks_s = marks_s[there] + off_s  # so that it begins as long after its mark as the click does
    sound = sound_under_strokes(cut, marks_s)[None, :]
    level = float((sound[0, : int(MATCH_S * cut.rate_hz)] ** 2).mean())
    level_db = 10 * np.log10(level + 1e-14)
    if level_db < click.level_db - _SOFTEST_DB or not _begins(sound[0], cut.rate_hz):
        return None  # what is left of the click, or its echo
    recorded = np.array([as_recorded(sound[0], cut.rate_hz)])
    final = beat_evidence(cut, marks_s, sound)
    kinds, gains = np.zeros(len(marks_s), dtype=np.intp), _gains(final, np.ones(len(marks_s), dtype=bool))
    return _Row(part, marks_s + click.begins_s, gains, kinds, recorded, 10 * np.log10(level + 1e-14))


def _begins(sound: Singles, rate_hz: int) -> bool:
    """Tell whether a sound begins at its mark, as a click does, and is not there before, as an echo is."""
    at, step = int((CUT_BEFORE_S - _RISE_S) * rate_hz), int(_RISE_S * rate_hz)
    before, after = sound[:at], sound[at + step : at + 4 * step]
    return float((after**2).mean()) > _RISE * float((before**2).mean())


def _together(click: HeardClick, rows: list[_Row]) -> HeardClick:
    """Put rows together, and choose the beat."""
    beat = rows[0]
    for row in rows[1:]:
        louder_db = row.level_db - beat.level_db
        sooner = (beat.times_s[0] - row.times_s[0]) / click.beat_s > _SOONER
        if louder_db > _LOUDER_DB or (sooner and louder_db > -_LOUDER_DB):
            beat = row
    shift = np.cumsum([0, *(len(row.sounds) for row in rows[:-1])])
    times_s = np.concatenate([row.times_s for row in rows])
    order = np.argsort(times_s, kind="stable")
    return replace(
        click,
        times_s=times_s[order],
        gains=np.concatenate([row.gains for row in rows])[order],
        kinds=np.concatenate([row.kinds + by for row, by in zip(rows, shift.tolist(), strict=True)])[order],
        sounds=np.concatenate([row.sounds for row in rows]),
        first_s=click.first_s + beat.part * click.beat_s,
        level_db=beat.level_db,
        through=click.through or len(times_s) >= len(click.times_s) + _FEWEST_OTHER,
    )
