"""Find what begins to sound in a take, and the click in it; tell the click from a hand, and take it out.

A click is told from a drum by two things no hand can do: it is the same sound
each time, and it comes at intervals that are equal to a fraction of a millisecond.

Conventions: times in seconds from the first sample; gains relative to the click's
own mean sound; ``samples`` shape (n,), full scale 1.0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Bools, Floats, Indices, Singles, median, medians
from evenhand.hearing.clicks.between import with_between
from evenhand.hearing.clicks.locked import find_locked
from evenhand.hearing.clicks.presence import beat_evidence, sounding
from evenhand.hearing.clicks.rows import (
    FEWEST,
    is_the_drum,
    join,
    link,
    opening_pairs,
    pieces_around,
    track_click,
)
from evenhand.hearing.clicks.sound import (
    CUT_S,
    Cutter,
    HeardClick,
    body_at,
    mean_of,
    without_click,
)
from evenhand.hearing.onsets.bands import FRAME_HZ, Novelty, rows
from evenhand.hearing.onsets.candidates import Candidates, find_onsets
from evenhand.take import Progress, Samples, part_of

_STRONG = 2.8  # novelty that speaks for itself
_MOST_CANDIDATES = 240
_SAME_ROW_S = 0.5e-3
_EXACT_S = 0.08e-3  # a click found under the strokes lies this near its line
_LONGEST_COUNT_IN = 10
_LONG_CHAIN = 5  # so many in an even row are no hand's
_THROUGH = 0.5  # share of the beats of the playing at which a click must show through the strokes
_NEAR_S = 0.03  # a candidate this near a click is the click
_OTHER_COLOUR_DB = 4.0  # a click and a drum differ more than this over the bands
_CERTAIN = 25.0  # nats that it does
_AROUND = 4  # clicks to either side that say how loud one is
_CLICK_BEFORE_S, _CLICK_LASTS_S = 0.012, 0.06
_AT_ONCE = 1000  # candidates compared at once: bounds memory
_LONE_S = 0.015
_LEAST_REST = 0.02
_CLICK_BODY_S, _CLICK_TAIL_DB = 0.010, 8.0  # what comes after, so far below, is its own tail
_TAIL_STRENGTH = 6.5  # less new than this, it is a room's answer to the click
_TAIL_REST = 0.6  # of the energy: what taking the click out leaves of its own tail
_ITSELF = 0.5  # gain: where a click is less of its sound than this, a stroke was learnt with it
_BARELY = 0.5  # of the energy: a click alone leaves less
_LACKS = 0.005  # where even the cleanest leave more than this, its sound lacks something
_AS_LITTLE = 1.5  # times what the cleanest leaves
_CLICK_REST = 0.15  # of the energy: less left than this is no stroke


@dataclass(frozen=True, slots=True)
class Sounds:
    """What sounds in a take beside the click, and the click, where there is one.

    ``samples`` shape (n,), the click taken out; ``novelty`` and ``found``: what begins in them.
    """

    samples: Samples
    rate_hz: int
    novelty: Novelty
    found: Candidates
    click: HeardClick | None = None


def find_sounds(
    samples: Samples,
    rate_hz: int,
    *,
    with_click: bool = True,
    beat_s: float | None = None,
    apart_s: Sequence[float] = (),
    progress: Progress | None = None,
) -> Sounds:
    """Find what begins to sound in a take; a click is taken out, and what is left of it is nothing.

    Parameters
    ----------
    samples : shape (n,), mono, full scale 1.0
    with_click : whether a click is looked for; ``beat_s`` and ``apart_s`` as for ``find_click``
    progress : told the share done, 0 to 0.8
    """
    novelty, found = find_onsets(samples, rate_hz, part_of(progress, 0.0, 0.5))
    click = find_click(samples, rate_hz, found, beat_s, apart_s) if with_click else None
    if click is None:
        return Sounds(samples, rate_hz, novelty, found)
    cleaned = without_click(samples, rate_hz, click)
    more = with_between(samples, cleaned, rate_hz, click)
    if more is not None:
        click = more
        cleaned = without_click(samples, rate_hz, click)
    better = _learnt_again(samples, cleaned, rate_hz, click)
    if better is not None:
        click = better
        cleaned = without_click(samples, rate_hz, click)
    novelty, found = find_onsets(cleaned, rate_hz, part_of(progress, 0.5, 0.8))
    found = found.only(~only_click(samples, cleaned, rate_hz, found, click))
    novelty = without_lone_clicks(samples, cleaned, rate_hz, novelty, click)
    return Sounds(cleaned, rate_hz, novelty, found, click)


def _learnt_again(samples: Samples, cleaned: Samples, rate_hz: int, click: HeardClick) -> HeardClick | None:
    """Add to a click's sounds what taking them out leaves where they sound alone; None where that is little.

    A sound that was learnt under strokes may lack a part of itself, which would be heard as a soft hit.
    """
    sounds = click.sounds.copy()
    for kind in range(len(sounds)):
        mine = np.flatnonzero(click.kinds == kind)[:_AT_ONCE]
        was, left = _energies(samples, cleaned, rate_hz, click.times_s[mine])
        share = left / np.maximum(was, 1e-12)
        least = float(share.min(initial=1.0))
        bare = mine[share < _AS_LITTLE * least]
        enough = len(bare) >= 2 or (len(bare) == 1 and bare[0] == 0)  # the first of all may be the only one
        if enough and _LACKS < least < _BARELY:
            rest = mean_of(body_at(cleaned, rate_hz, click.times_s[bare] - click.begins_s), rate_hz)
            sounds[kind, : len(rest)] += rest / median(click.gains[bare])
    return None if np.array_equal(sounds, click.sounds) else replace(click, sounds=sounds)


def only_click(
    samples: Samples, cleaned: Samples, rate_hz: int, found: Candidates, click: HeardClick
) -> Bools:
    """Tell which candidates are but the rest of a click: taking it out took most of them away.

    A click's own tail comes after it, far softer and not clearly new; a stroke that comes late is new.

    Parameters
    ----------
    samples, cleaned : shape (n,), with the click and without

    Returns
    -------
    shape (n_candidates,)
    """
    at = np.searchsorted(click.times_s, found.times_s)
    since = found.times_s - click.times_s[np.maximum(at - 1, 0)]
    until = click.times_s[np.minimum(at, len(click.times_s) - 1)] - found.times_s
    near = np.flatnonzero(
        ((since >= 0) & (since < _CLICK_LASTS_S)) | ((until >= 0) & (until < _CLICK_BEFORE_S))
    )
    tail = (since > _CLICK_BODY_S) & (since < _CLICK_LASTS_S)
    rest = _rest(samples, cleaned, rate_hz, click)
    tail &= found.level_db < click.level_db - _CLICK_TAIL_DB
    out = tail & (found.strength < _TAIL_STRENGTH)
    for part in np.array_split(near, -(-len(near) // _AT_ONCE) or 1):
        was, left = _energies(samples, cleaned, rate_hz, found.times_s[part])
        out[part] |= left < np.where(tail[part], _TAIL_REST, rest) * was
    return out


def without_lone_clicks(
    samples: Samples, cleaned: Samples, rate_hz: int, heard: Novelty, click: HeardClick
) -> Novelty:
    """Return the novelty with silence where a click sounded alone, so that its rest is no faint hit.

    Parameters
    ----------
    samples, cleaned : shape (n,), with the click and without
    """
    strength, sharp = heard.strength.copy(), heard.sharp.copy()
    rest = _rest(samples, cleaned, rate_hz, click)
    for part in np.array_split(click.times_s, -(-len(click.times_s) // _AT_ONCE) or 1):
        was, left = _energies(samples, cleaned, rate_hz, part)
        for time in part[left < rest * was].tolist():
            around = slice(max(0, int((time - _LONE_S) * FRAME_HZ)), int((time + _LONE_S) * FRAME_HZ))
            strength[around] = sharp[around] = 0.0
    return Novelty(strength, sharp)


def _rest(samples: Samples, cleaned: Samples, rate_hz: int, click: HeardClick) -> float:
    """Return the share of the energy that taking the click out leaves where nothing else sounds.

    Read from the third of the clicks that leave least; four times that is no stroke yet.
    """
    was, left = _energies(samples, cleaned, rate_hz, click.times_s[:_AT_ONCE])
    least = np.sort(left / np.maximum(was, 1e-12))[: max(1, len(was) // 3)]
    return float(np.clip(4 * least[len(least) // 2], _LEAST_REST, _CLICK_REST))


def _energies(samples: Samples, cleaned: Samples, rate_hz: int, times_s: Floats) -> tuple[Floats, Floats]:
    """Return the mean square of 12 ms about each time, less its mean, with the click and without."""
    first, length = np.round((times_s - 0.002) * rate_hz).astype(np.intp), int(0.012 * rate_hz)
    was, left = (rows(each, first, length).astype(np.float64).var(axis=1) for each in (samples, cleaned))
    return was, left


def find_click(
    samples: Samples,
    rate_hz: int,
    found: Candidates,
    beat_s: float | None,
    apart_s: Sequence[float] = (),
) -> HeardClick | None:
    """Find a click in a take, or None where there is none to be heard.

    Parameters
    ----------
    samples : shape (n,), mono, full scale 1.0
    found : onset candidates of these
    beat_s : the beat asked for; the click may be up to about 15 % off it. Where it is None (blind), beats
        from 0.2 to 2.2 s are tried
    apart_s : how far apart clicks may be that do not sound at each beat asked for
    """
    heard = _sounding_alone(samples, rate_hz, found, beat_s, apart_s)
    if beat_s is None or (heard is not None and heard.through):
        return heard
    return find_locked(samples, rate_hz, beat_s) or heard


def _sounding_alone(
    samples: Samples, rate_hz: int, found: Candidates, beat_s: float | None, apart_s: Sequence[float]
) -> HeardClick | None:
    """Find a click that sounds alone a few times, as in a count-in or where notes are far apart."""
    strong = found.only(found.strength > _STRONG)
    strong = strong.only(np.arange(min(len(strong), _MOST_CANDIDATES)))
    if len(strong) < FEWEST:
        return None
    cut = Cutter(samples, rate_hz)
    pieces = pieces_around(cut, strong.times_s)
    links = [link(pieces, strong, rate_hz, each) for each in (beat_s, *apart_s)]
    rows = [row for each in links for row in join(each, strong.times_s)]
    pairs = [row for each in (beat_s, *apart_s) for row in opening_pairs(pieces, strong, rate_hz, each)]
    tried: list[HeardClick] = []
    for chain, times in (*rows, *pairs):
        if any(_lies_on(times, other) for other in tried) or is_the_drum(
            pieces, strong.times_s, chain, times, rate_hz
        ):
            continue
        tracked = track_click(cut, times, _beats_along(times, beat_s))
        if tracked is None:
            continue
        judged = _judged(cut, *tracked, strong, chain)
        if judged is not None:
            return judged
        tried.append(tracked[0])
    return None


def _lies_on(times_s: Floats, other: HeardClick) -> bool:
    """Tell whether a row is part of one that was tried."""
    return bool((np.abs(times_s[:, None] - other.times_s).min(axis=1) < _SAME_ROW_S).all())


def _beats_along(times_s: Floats, beat_s: float | None) -> Indices:
    """Return the beat of each of a row's clicks: from each to the next is one, or as many as it lasts."""
    apart_s = median(np.diff(times_s))
    beats = 1 if beat_s is None else max(1, round(apart_s / beat_s))
    return np.asarray(beats * np.round((times_s - times_s[0]) / apart_s), dtype=np.intp)


def _judged(
    cut: Cutter, heard: HeardClick, sounds: Singles, strong: Candidates, chain: Indices
) -> HeardClick | None:
    """Judge whether an even row of like sounds is a click and not a hand; and at which beats it sounds."""
    heard = _on_bare_line(cut, heard, sounds)
    last = int((len(cut.samples) / cut.rate_hz - CUT_S - heard.first_s) / heard.beat_s)
    every = np.arange(heard.beats[0], max(last, heard.beats[-1]) + 1)
    marks_s = heard.first_s - heard.begins_s + every * heard.beat_s
    evidence = beat_evidence(cut, marks_s, sounds)
    bare = evidence.alone.sum() >= FEWEST  # else nothing but the line tells it from a drum's strokes
    there = sounding(evidence.nats) if bare else every <= heard.beats[-1]
    if _sounds_through(heard, strong.times_s, every[there], evidence.nats[there] * bare):
        if not bare and median(evidence.gains[there]) < _ITSELF:
            return None
        second = sounding(np.where(there, evidence.second, 0.0), 0) if len(sounds) > 1 else ~there
        return _filled(heard, every[there], evidence.gains[there], evidence.alone[there], second[there])
    if len(chain) < FEWEST:
        return None
    counted = _contiguous(heard, float(strong.times_s[chain[0]]))
    return counted if _is_count_in(counted, strong, chain) else None


def _on_bare_line(cut: Cutter, heard: HeardClick, sounds: Singles) -> HeardClick:
    """Return a click with its line drawn through those that sound alone."""
    alone = beat_evidence(cut, heard.times_s - heard.begins_s, sounds).alone
    if alone.sum() < FEWEST or alone.all():
        return heard
    beat_s, first_s = np.polyfit(heard.beats[alone], heard.times_s[alone], 1).tolist()
    return replace(heard, first_s=first_s, beat_s=beat_s)


def _sounds_through(heard: HeardClick, strong_s: Floats, there: Indices, nats: Floats) -> bool:
    """Tell whether a click shows, exact to its line, at enough of its beats in what was played besides.

    Parameters
    ----------
    there, nats : shape (n_beats,), the beats at which it is said to sound, and what says so
    """
    played = strong_s[~_near(strong_s, heard.times_s)]
    grid = heard.first_s + heard.beats * heard.beat_s
    exact = np.abs(heard.times_s - grid) < _EXACT_S
    if len(played) < 2:  # all that was played lies on the click
        return bool(exact.sum() >= _LONGEST_COUNT_IN and exact.mean() > _THROUGH)
    begun = played[min(2, len(played) - 1)]
    later = heard.first_s + there * heard.beat_s > begun
    shown = np.isin(there[later], heard.beats[exact]).sum()
    enough = shown >= _THROUGH * later.sum() or nats[later].sum() > _CERTAIN
    return bool(shown >= 2 and enough and exact.sum() >= _LONG_CHAIN)


def _is_count_in(counted: HeardClick, strong: Candidates, chain: Indices) -> bool:
    """Tell whether an unbroken row of clicks is a count-in: nothing in between, and no drum's colour."""
    if len(counted.times_s) < FEWEST + 1:
        return False
    first_s, last_s = counted.times_s[0] - _NEAR_S, counted.times_s[-1] + _NEAR_S
    others = strong.colour[strong.times_s > last_s]
    if len(others) == 0:
        return True
    inside = (strong.times_s > first_s) & (strong.times_s < last_s)
    if (inside & ~_near(strong.times_s, counted.times_s)).any():
        return False
    apart = medians(strong.colour[chain]) - medians(others)
    return float(np.sqrt((apart**2).mean())) > _OTHER_COLOUR_DB


def _near(times_s: Floats, clicks_s: Floats) -> Bools:
    """Tell which times lie at a click."""
    return np.asarray(np.abs(times_s[:, None] - clicks_s[None, :]).min(axis=1) < _NEAR_S)


def _filled(heard: HeardClick, every: Indices, gains: Floats, alone: Bools, second: Bools) -> HeardClick:
    """Put a click at every beat where it sounds, under strokes, too, as loud as those around that are alone.

    Parameters
    ----------
    every, gains, alone, second : shape (n_beats,), the beats, and of each how loud its click seems,
        whether it sounds alone, and whether it is the second sound
    """
    out = np.full(len(every), median(heard.gains))
    for kind in (second, ~second):
        known = kind & alone
        if known.any():
            out[kind] = np.interp(every[kind], every[known], _steadied(gains[known]))
    times_s = heard.first_s + every.astype(np.float64) * heard.beat_s
    return replace(heard, times_s=times_s, gains=out, kinds=second.astype(np.intp), through=True)


def _steadied(gains: Floats) -> Floats:
    """Return the median gain of a few clicks around each."""
    if len(gains) <= 2 * _AROUND:
        return np.full(len(gains), median(gains))
    around = np.pad(gains, _AROUND, mode="symmetric")
    return medians(np.lib.stride_tricks.sliding_window_view(around, 2 * _AROUND + 1).T)


def _contiguous(heard: HeardClick, at_s: float) -> HeardClick:
    """Return the unbroken run of clicks around a time."""
    run = np.cumsum(np.append(0, np.diff(heard.beats) > 1))
    keep = run == run[np.abs(heard.times_s - at_s).argmin()]
    return replace(heard, times_s=heard.times_s[keep], gains=heard.gains[keep], kinds=heard.kinds[keep])
