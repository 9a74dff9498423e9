"""The cost model of score alignment: what each candidate costs as each note, as no note, and as the first.

Conventions: costs in nats (negative log likelihood), lower is better; arrays shape (n_candidates,) or
(n_candidates, n_notes), candidates rising in time. Chosen on generated takes.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from evenhand.arrays import ArrayTable, Bools, Floats
from evenhand.hearing.alignment.score import Score
from evenhand.hearing.clicks.sound import HeardClick
from evenhand.hearing.onsets.bands import SETTINGS, distance_s
from evenhand.hearing.onsets.candidates import Candidates, before_another, echoes, strangeness
from evenhand.music.bars import count_in_length

_GRACE_S = 0.090
_BOUNCE_S, _BOUNCE_RISE_DB = 0.045, 3.0
_FAINTLY = 2.2
_LEVEL_SPREAD_DB = 3.0  # of accents, and of the others
_ONE_BLOW_S = 0.014  # candidates nearer than this may be one blow
_NO_GRACE = 1.0  # nats, for a flam or drag with nothing ahead of it
_JUST_BEFORE, _FAR_SOFTER_DB = 4.0, 20.0  # nats; what is so much softer is no like stroke
_GHOST_SHARE = 0.5  # of what a faint candidate costs: a ghost note is meant to be soft
_STRANGE = 4.0  # nats, for taking a sound quite unlike the usual hits for a note
_OFF_BEAT = 0.6  # nats a note, at most, for standing off the click
_BEGUN_ELSEWHERE = 3.5  # nats, for beginning anywhere but at the top
_START_MS, _START_SHARE = 30.0, 0.06  # how far from a beat the first note may come: in ms, and of the beat
_NOT_COUNTED, _BEFORE_THE_COUNT = 3.0, 2.0  # nats, for beginning elsewhere than counted in; before it is out
_MOST_BY_CLICK = 4.5  # nats: one in ninety clicks is none
_AT_A_CLICK_S = 0.012
_NEVER = 1e5

Span = tuple[float, float]  # from when to when, seconds
Begins = tuple[float, int]  # when, and with which note


@dataclass(frozen=True, slots=True)
class CostModel(ArrayTable):
    """What the candidates say apart from their times.

    ``extra_cost`` (n,): leaving this candidate out as no note. ``match_cost``
    (n, n_notes): taking it for this note. ``start_cost`` (n, n_notes): beginning here.
    """

    times_s: Floats
    extra_cost: Floats
    match_cost: Floats
    start_cost: Floats


def cost_model(
    found: Candidates,
    score: Score,
    click: HeardClick | None,
    *,
    trusted: Span | None = None,
    begun: Begins | None = None,
) -> CostModel:
    """Turn what is known of the candidates into costs; the options are those of ``best_alignment``."""
    strange = strangeness(found)
    if click is not None:  # what is left of a click colours the hit on top of it
        strange = np.where(distance_s(found.times_s, click.times_s) < _AT_A_CLICK_S, 0.0, strange)
    if trusted is not None:
        strange = np.where((found.times_s >= trusted[0]) & (found.times_s < trusted[1]), 0.0, strange)
    extra = extra_costs(found, score, strange)
    match = match_costs(found, score, strange)
    start = elsewhere_costs(score, counted=click is not None) + just_before_costs(found, score, strange)
    if click is not None:
        start = start + start_costs(found, score, click)
        match = match + beat_costs(found, score, click)
    if begun is not None:
        start = np.full_like(start, _NEVER)
        at_s, note = begun
        start[np.abs(found.times_s - at_s).argmin() if len(found) else slice(0), note] = 0.0
    return CostModel(found.times_s, extra, match, start)


def bounces(found: Candidates, score: Score) -> Bools:
    """Tell which, shape (n,), are the stick bouncing on in a buzz: close behind a blow, and no louder."""
    out = np.zeros(len(found), dtype=bool)
    if not score.buzzes.any() or score.shortest * score.tempo.whole_note_s < 2 * _BOUNCE_S:
        return out
    t, level = found.times_s, found.level_db
    clear = found.strength > SETTINGS.clear
    for back in range(1, 3):
        apart = t[back:] - t[:-back]
        near = (apart < _BOUNCE_S) & (apart > _ONE_BLOW_S) & clear[:-back]
        out[back:] |= near & (level[back:] - level[:-back] < _BOUNCE_RISE_DB)
    return out


def extra_costs(found: Candidates, score: Score, strange: Floats) -> Floats:
    """Return what it costs to leave each candidate out as no note of the exercise.

    Parameters
    ----------
    strange : shape (n_candidates,), as from ``strangeness``

    Returns
    -------
    shape (n_candidates,), nats
    """
    cost = np.clip((found.strength - 2.0) * 1.6, 0.05, 6.0)
    cost = np.where(echoes(found), np.minimum(cost, 0.8), cost)
    cost = cost * (1 - 0.85 * strange)
    cost = np.where(bounces(found, score), np.minimum(cost, 0.15), cost)
    if score.graces.any():
        cost = np.where(before_another(found), np.minimum(cost, 0.3), cost)
    return cost


def match_costs(found: Candidates, score: Score, strange: Floats) -> Floats:
    """Return what it costs to take each candidate for each note.

    Parameters
    ----------
    strange : shape (n_candidates,), as from ``strangeness``

    Returns
    -------
    shape (n_candidates, n_notes), nats
    """
    weak = np.clip((3.6 - found.strength) * 1.6, 0, 3.0)
    weak = weak + np.where(echoes(found), 2.0, 0.0) + _STRANGE * strange
    weak = weak + np.where(bounces(found, score), 3.0, 0.0)
    if score.graces.any():
        weak = weak + np.where(before_another(found), 3.0, 0.0)
    cost = weak[:, None] * np.where(score.ghosts, _GHOST_SHARE, 1.0)[None, :]
    if score.graces.any():
        bare = np.append(True, np.diff(found.times_s) > _GRACE_S)
        cost += _NO_GRACE * (bare[:, None] & (score.graces > 0)[None, :])
    if score.accents.any() and not score.accents.all():
        loud = _loudness(found, score)
        cost += np.where(score.accents[None, :], np.clip(-loud, 0, 3)[:, None], np.clip(loud, 0, 3)[:, None])
    return cost


def _loudness(found: Candidates, score: Score) -> Floats:
    """Return how far each candidate leans to the accents (above 0) or to the others, in nats.

    Two normal distributions of one spread: the further apart loud and soft, the more each hit says.
    """
    level = found.level_db[found.strength > SETTINGS.strong]
    if len(level) < 4:
        return np.zeros(len(found))
    share = float(score.accents.mean())
    high = np.percentile(level, 100 * (1 - share / 2))
    low = np.percentile(level, 100 * (1 - share) / 2)
    if high - low < 3:
        return np.zeros(len(found))
    return (high - low) * (found.level_db - (high + low) / 2) / _LEVEL_SPREAD_DB**2


def elsewhere_costs(score: Score, *, counted: bool) -> Floats:
    """Return what it costs to begin with each note: the top or any other, shape (n_notes,).

    Who was counted in and is late misses a note or two.
    """
    cost = np.full(len(score), _BEGUN_ELSEWHERE + np.log(max(1, len(score) - 1)))
    if counted:
        cost[:3] = _BEGUN_ELSEWHERE
    cost[0] = 0.0
    return cost


def start_costs(found: Candidates, score: Score, click: HeardClick) -> Floats:
    """Return what it costs to begin with each candidate and note, given where the click puts the top.

    A click that is a count-in puts it a beat after its last; one that goes on, a usual count after its first.
    Who begins late still begins in time.

    Returns
    -------
    shape (n_candidates, n_notes), nats
    """
    top_s = found.times_s[:, None] - score.starts[None, :] * click.beat_s / score.beat
    if click.through:
        beats = (top_s - click.times_s[0]) / click.beat_s
        counted = np.isin(np.round(beats), [0, *counts(score)])
    else:
        beats = (top_s - click.times_s[-1]) / click.beat_s
        counted = np.round(beats) == 1
    early = np.where(beats < 0.5, _BEFORE_THE_COUNT, 0.0) if not click.through else 0.0
    off_s = (beats - np.round(beats)) * click.beat_s
    off_s[found.times_s < click.times_s[0] - 0.5 * click.beat_s] = (
        click.beat_s
    )  # it was not there to begin by
    spread_s = np.hypot(_START_MS * 1e-3, _START_SHARE * click.beat_s)
    told = 0.5 * (off_s / spread_s) ** 2 + np.where(counted, 0.0, _NOT_COUNTED)
    return np.asarray(np.minimum(told, _MOST_BY_CLICK) + np.where(counted, 0.0, early))


def counts(score: Score) -> set[int]:
    """Return how many beats are counted in, as a rule: two, four or eight, a bar or two (common practice)."""
    meter = score.exercise.meter
    bar = 0 if meter is None else meter.bar / Fraction(score.tempo.beat)
    usual = count_in_length(score.exercise, score.tempo) / Fraction(score.tempo.beat)
    bars = {int(bar), 2 * int(bar)} if bar and bar == int(bar) and 2 <= bar <= 8 else set()
    return {2, 4, 8, *bars, *({int(usual)} if usual == int(usual) else ())}


def beat_costs(found: Candidates, score: Score, click: HeardClick) -> Floats:
    """Return what it costs to take a candidate for a note that the click puts elsewhere in the beat.

    Returns
    -------
    shape (n_candidates, n_notes), nats
    """
    if not click.through:
        return np.zeros((len(found), len(score)))
    beats = (found.times_s - click.first_s) / click.beat_s
    off = beats[:, None] - (score.starts / score.beat)[None, :]
    off = (off - np.round(off)) * click.beat_s
    spread = max(0.03, 0.1 * click.beat_s)
    return np.minimum(0.5 * (off / spread) ** 2, _OFF_BEAT)


def just_before_costs(found: Candidates, score: Score, strange: Floats) -> Floats:
    """Return what it costs to begin where a like stroke came just one note before: it was played, too.

    Parameters
    ----------
    strange : shape (n_candidates,), as from ``strangeness``

    Returns
    -------
    shape (n_candidates, n_notes), nats
    """
    out = np.zeros((len(found), len(score)))
    whole_s = score.tempo.whole_note_s
    ahead = np.diff(np.append(score.starts[-1] - score.length, score.starts)) * whole_s
    worth = np.where(found.strength > _FAINTLY, np.clip((found.strength - _FAINTLY) / 1.5, 0.3, 1.0), 0.0)
    worth = worth * (1 - strange)
    if score.graces.any():
        worth = np.where(before_another(found), 0.0, worth)
    level = found.level_db
    alike = [level[: len(level) - back] > level[back:] - _FAR_SOFTER_DB for back in range(4)]
    for note, gap_s in enumerate(ahead.tolist()):
        for back in range(1, 4):
            apart = found.times_s[back:] - found.times_s[:-back]
            near = (apart > 0.65 * gap_s) & (apart < 1.35 * gap_s) & alike[back]
            out[back:, note] = np.maximum(out[back:, note], _JUST_BEFORE * near * worth[:-back])
    return out
