"""Align a take with the score: which hit is which note, by a cost model and the cheapest path.

Conventions: candidate times shape (n,), seconds, rising; a state is (candidate, note); costs are in nats
(negative log likelihood). Each state carries a two-part Kalman filter: the smoothed time of its note, and the
seconds a whole note lasts at that moment; so the path follows a player who drifts. Of all ways to reach a
state the cheapest is kept (Viterbi). The model family: Cemgil and Kappen 2003, "Monte Carlo methods for tempo
tracking and rhythm quantization"; Raphael 2002, "A hybrid graphical model for rhythmic parsing".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Bools, Floats, Indices
from evenhand.errors import NothingHeard
from evenhand.hearing.alignment.costs import Begins, CostModel, Span, bounces, cost_model
from evenhand.hearing.alignment.score import Score
from evenhand.hearing.clicks.sound import HeardClick
from evenhand.hearing.onsets.bands import SETTINGS as NOVELTY
from evenhand.hearing.onsets.candidates import Candidates

MOST_STATES = 8_000_000  # hits times notes of the exercise: an hour of a line, some 20 s of work
_NEVER = 1e9
_DUE, _WHOLE, _VAR_W, _CROSS, _VAR_T, _SPREAD, _LOG_SPREAD = range(7)  # what is foreseen of a note
_ROOM = 16  # times the candidates looked back to
_START, _RESTART = -1, -2  # ways that are beginnings


@dataclass(frozen=True, slots=True)
class AlignmentSettings:
    """Costs in nats and spreads; chosen on generated takes."""

    back: int = 6  # how many candidates to look back for the note before
    skip: int = 4  # how many notes on, at most, the next hit may be
    missed: float = 3.5
    accent: float = 2.5  # more where it is an accent among others
    in_a_row: float = -0.5  # more for each further note missed in a row
    stop: float = 10.0
    elsewhere: float = 25.0  # going on anywhere but at the top after a stop
    tempo_spread: float = 0.08  # of the tempo asked for, before anything is heard
    tempo_walk: float = 0.02  # relative, per square root of a beat
    timing_ms: float = 7.0
    timing_share: float = 0.03  # of the shortest written interval
    unfinished: float = 2.5  # for ending in the middle of a repetition, wherever
    on_first: float = 1.0  # for ending on its first note
    before: float = 0.7  # share of the cost of extras for what sounds before the start or in a stop


SETTINGS = AlignmentSettings()
HIDDEN = AlignmentSettings(missed=1.2, in_a_row=0.5, before=0.9, skip=6)


@dataclass(frozen=True, slots=True)
class Alignment:
    """The way taken.

    ``candidates`` and the unrolled note number of each, the stretch of unbroken playing
    it belongs to, the cost of it all, and by which settings.
    """

    candidates: Indices
    notes: Indices
    stretches: Indices
    cost: float
    settings: AlignmentSettings = SETTINGS


class _Trellis:
    """The states so far.

    Costs and what is foreseen from them are kept for the last few candidates only; the way back, in small
    integers, for all. ``columns`` are the notes of each reading, one after the other.
    """

    def __init__(self, n: int, readings: int, columns: int, back: int, skip: int) -> None:
        self.back, self.at = back, back
        room = _ROOM * back  # moved to the front when it is full
        self.cost = np.full((room, skip, columns), _NEVER)
        self.foreseen = np.zeros((7, room, skip, columns))
        self.foreseen[_SPREAD] = 1.0
        self.ways = np.zeros((n, columns), dtype=np.int8)  # which of the ways on; or a beginning
        self.ends = np.empty((2, n, readings))  # cheapest end at each candidate: cost, note
        self.restarts = np.empty((n, 2, readings), dtype=np.intp)  # where a restart at each comes from

    def push(self, cost: Floats, foreseen: Floats) -> None:
        """Let a new candidate's ways on in at the end, and the oldest out."""
        if self.at == len(self.cost):
            self.cost[: self.back] = self.cost[-self.back :]
            self.foreseen[:, : self.back] = self.foreseen[:, -self.back :]
            self.at = self.back
        self.cost[self.at], self.foreseen[:, self.at] = cost, foreseen
        self.at += 1

    def last(self) -> tuple[Floats, Floats]:
        """Return the costs (back * skip, columns) and what is foreseen (7, back * skip, columns)."""
        kept, columns = slice(self.at - self.back, self.at), self.cost.shape[2]
        return self.cost[kept].reshape(-1, columns), self.foreseen[:, kept].reshape(7, -1, columns)


class _Aligner:
    """Goes through the candidates one by one; ``step`` extends all ways by one candidate.

    It follows some readings at once, which differ in costs: their notes stand one after the other in the last
    axis of every array, and no way leads from one reading's to another's.
    """

    def __init__(
        self,
        score: Score,
        readings: Sequence[CostModel],
        settings: AlignmentSettings,
        ends: Floats | None = None,
    ) -> None:
        m, n_readings, n = len(score), len(readings), len(readings[0].times_s)
        self.settings, self.shape = settings, (n_readings, m)
        self.times_s = readings[0].times_s
        self.match = np.concatenate([costs.match_cost for costs in readings], axis=1)
        self.start = np.concatenate([costs.start_cost for costs in readings], axis=1)
        self.whole_s = score.tempo.whole_note_s
        self.skip = min(settings.skip, m) if m > 1 else settings.skip
        source, ahead = _ways_on(score, self.skip)
        self.source = np.concatenate([source + m * i for i in range(n_readings)], axis=1)
        self.ahead = np.tile(ahead, n_readings)
        timing_s = np.hypot(settings.timing_ms * 1e-3, settings.timing_share * score.shortest * self.whole_s)
        self.noise = float(timing_s) ** 2
        self.miss = np.tile(_missing(score, self.skip, settings), n_readings)
        self.extras = np.zeros((n + 1, n_readings))
        np.cumsum([costs.extra_cost for costs in readings], axis=1, out=self.extras[1:].T)
        since = np.arange(n)[:, None] + 1 + np.arange(-settings.back, 0)
        self.left_out = (self.extras[:-1, None] - self.extras[np.maximum(since, 0)])[:, :, None, :, None]
        self.columns = np.arange(n_readings * m)
        note_of = self.columns % m
        self.walk = (settings.tempo_walk * self.whole_s) ** 2 / score.beat * self.ahead
        self.first_var = (settings.tempo_spread * self.whole_s) ** 2
        self.anywhere = settings.stop + np.where(note_of == 0, 0.0, settings.elsewhere)
        self.unfinished = np.tile(end_costs(score, settings) if ends is None else ends, n_readings)
        self.trellis = _Trellis(n, n_readings, n_readings * m, settings.back, self.skip)
        self.which = np.arange(n_readings)
        self.restart, self.restart_whole_s = np.full(n_readings, np.inf), np.full(n_readings, self.whole_s)
        self.restart_from = np.full((2, n_readings), -1, dtype=np.intp)

    def step(self, k: int) -> None:
        """Extend every way by candidate k, as every note it may be."""
        best, cost, went_on = self._on(k)
        before = self.settings.before * self.extras[k]
        begin = self.start[k] + self._by_note(before)
        again = self._by_note(self.restart + before) + self.anywhere
        opened = np.minimum(begin, again)
        go_on, from_start = cost < opened, begin <= again
        filters = went_on if go_on.all() else np.where(go_on, went_on, self._beginning(k, from_start))
        state_cost = np.minimum(cost, opened) + self.match[k]
        self.trellis.ways[k] = np.where(go_on, best, from_start + _RESTART)
        self.trellis.push(state_cost.take(self.source) + self.miss, self._foreseen(filters))
        self._note_ends(k, state_cost, filters)

    def _by_note(self, of_reading: Floats) -> Floats:
        """Return a figure of each reading (n_readings,) for each of its notes (n_readings * m,)."""
        return of_reading if len(of_reading) == 1 else np.repeat(of_reading, self.shape[1])

    def _beginning(self, k: int, from_start: Bools) -> Floats:
        """Return the filters of what begins at candidate k, at the tempo asked or at that before the stop."""
        out = np.empty((5, len(from_start)))
        out[0] = self.times_s[k]
        out[1] = np.where(from_start, self.whole_s, self._by_note(self.restart_whole_s))
        out[2:] = np.array([self.noise, 0.0, self.first_var])[:, None]
        return out

    def _foreseen(self, filters: Floats) -> Floats:
        """Return what the filters after a candidate say of each note that may be next, (7, skip, columns).

        When it is due, the variance of how far from there it may be heard; the logarithm of that over the
        least it can be; and, to go on from there: the whole note, and time's and tempo's covariance.
        """
        time, whole, var_t, cov, var_w = filters.take(self.source, axis=1)
        out = np.empty((7, *time.shape))
        out[_WHOLE] = whole
        out[_DUE] = time + self.ahead * whole
        out[_VAR_W] = var_w + self.walk
        out[_CROSS] = cov + self.ahead * out[_VAR_W]
        out[_VAR_T] = var_t + self.ahead * (cov + out[_CROSS])
        out[_SPREAD] = out[_VAR_T] + self.noise
        out[_LOG_SPREAD] = 0.5 * np.log(out[_SPREAD] / self.noise)
        return out

    def _on(self, k: int) -> tuple[Indices, Floats, Floats]:
        """Find the cheapest way on to each note from the candidates before, and its filter after."""
        cost, foreseen = self.trellis.last()
        off = self.times_s[k] - foreseen[_DUE]
        ways = np.log1p(off * off / (4 * foreseen[_SPREAD]))
        ways *= 2.5
        ways += foreseen[_LOG_SPREAD]
        ways += cost
        ways.reshape(self.settings.back, -1, *self.shape)[:] += self.left_out[k]
        best = ways.argmin(axis=0)
        at = best * len(self.columns) + self.columns
        due, whole, var_w, cross, var_t, spread, _ = foreseen.reshape(7, -1).take(at, axis=1)
        gain_t, gain_w = var_t / spread, cross / spread
        most = 3 * np.sqrt(spread)
        at_off = np.minimum(np.maximum(off.take(at), -most), most)
        after = np.empty((5, len(at)))
        after[0] = due + gain_t * at_off
        after[1] = whole + gain_w * at_off
        after[2] = var_t * (1 - gain_t)
        after[3] = cross * (1 - gain_t)
        after[4] = var_w - gain_w * cross
        return best, ways.take(at), after

    def _note_ends(self, k: int, state_cost: Floats, filters: Floats) -> None:
        """Keep the cheapest place to stop at so far, and what it would cost to end here."""
        self.trellis.restarts[k] = self.restart_from
        costs = state_cost.reshape(self.shape)
        note = costs.argmin(axis=1)
        left = costs[self.which, note] - self.settings.before * self.extras[k + 1]
        better = left < self.restart
        if better.any():
            self.restart = np.where(better, left, self.restart)
            self.restart_from[0, better], self.restart_from[1, better] = k, note[better]
            whole_s = filters[1].reshape(self.shape)[self.which, note]
            self.restart_whole_s = np.where(better, whole_s, self.restart_whole_s)
        ending = (state_cost + self.unfinished).reshape(self.shape)
        note = ending.argmin(axis=1)
        self.trellis.ends[0, k], self.trellis.ends[1, k] = ending[self.which, note], note


def align(score: Score, costs: CostModel, *, settings: AlignmentSettings = SETTINGS) -> Alignment | None:
    """Find the cheapest way through the exercise that the candidates allow.

    Returns None where there is no candidate.
    """
    return None if len(costs.times_s) == 0 else align_each(score, [costs], settings=settings)[0]


def align_each(
    score: Score,
    readings: Sequence[CostModel],
    *,
    settings: AlignmentSettings = SETTINGS,
    ends: Floats | None = None,
) -> list[Alignment]:
    """Find the cheapest way by each of some readings of the same candidates, one or more; quicker at once.

    ``ends`` (n_notes,) is what it costs to end with each note, where that is not as in ``end_costs``.
    """
    follower = _Aligner(score, readings, settings, ends)
    for k in range(len(follower.times_s)):
        follower.step(k)
    return [_trace(follower, which) for which in range(len(readings))]


def check_size(hits: int, notes: int) -> None:
    """Refuse what has more states than can be followed in good time.

    Raises
    ------
    NothingHeard
        Saying how many.
    """
    if hits * notes > MOST_STATES:
        raise NothingHeard(
            got=f"{hits:,} hits against {notes:,} notes of an exercise: too much to follow",
            do="Give a shorter part, or an exercise of fewer notes",
        )


def _ways_on(score: Score, skip: int) -> tuple[Indices, Floats]:
    """Return, for each step and note, the note before it and the written time between."""
    m = len(score)
    number = np.arange(m)[None, :] + m * skip
    steps = np.arange(1, skip + 1)[:, None]
    before = number - steps
    ahead = score.written(number) - score.written(before)
    return before % m, ahead


def end_costs(score: Score, settings: AlignmentSettings) -> Floats:
    """Return what it costs to end with each note, shape (n_notes,); where in the middle is chance."""
    cost = np.full(len(score), settings.unfinished + np.log(max(1, len(score) - 1)))
    cost[0], cost[-1] = settings.on_first, 0.0
    return cost


def _missing(score: Score, skip: int, settings: AlignmentSettings) -> Floats:
    """Return what it costs to have missed the notes between a note and the one before, shape (skip, n_notes).

    An accent is the last to go unheard.
    """
    m = len(score)
    each = np.full(m, settings.missed)
    if not score.accents.all():
        each[score.accents] += settings.accent
    out = np.zeros((skip, m))
    for gone in range(1, skip):
        out[gone] = out[gone - 1] + np.roll(each, gone) + settings.in_a_row * (gone > 1)
    return out


def _trace(follower: _Aligner, which: int) -> Alignment:
    """Walk one reading's cheapest way back from the end, and number the notes."""
    trellis, m = follower.trellis, follower.shape[1]
    extras = follower.extras[:, which]
    cost_here = trellis.ends[0, :, which] + follower.settings.before * (extras[-1] - extras[1:])
    k = int(cost_here.argmin())
    cost = float(cost_here[k])
    j = int(trellis.ends[1, k, which])
    found: list[tuple[int, int, int, bool]] = []  # candidate, note, steps on, opens a stretch
    while k >= 0:
        way = int(trellis.ways[k, which * m + j])
        back, step = divmod(way, follower.skip)
        found.append((k, j, step + 1, way < 0))
        if way == _START:
            break
        if way == _RESTART:
            k, j = trellis.restarts[k, :, which].tolist()
        else:
            k, j = k - (trellis.back - back), (j - step - 1) % m
    found.reverse()
    notes, stretches = [], []
    number, stretch = 0, -1
    for _, note, step, opens in found:
        if opens:
            stretch += 1
            number = note if stretch == 0 else (number // m + 1) * m + note
        else:
            number += step
        notes.append(number)
        stretches.append(stretch)
    picked = np.array([f[0] for f in found], dtype=np.intp)
    numbers, parts = np.array(notes, dtype=np.intp), np.array(stretches, dtype=np.intp)
    return Alignment(picked, numbers, parts, cost, follower.settings)


CLEAR_STRENGTH = NOVELTY.clear
_NEARLY_ALL, _FEW_WANTING, _MANY_WANTING = 0.9, 0.04, 0.08
_MOST_BACK = 24
_ENOUGH = 0.85  # of what asks to be a note taken for one


def best_alignment(
    score: Score,
    found: Candidates,
    click: HeardClick | None,
    trusted: Span | None = None,
    *,
    begun: Begins | None = None,
) -> tuple[Alignment, Candidates, CostModel] | None:
    """Align the take; look at faint candidates only where the clear ones leave notes missed.

    Soft notes can lie hidden under the sound of loud ones all through a take; then a
    note that is not heard says little, and where much that was heard is left over, more
    notes are allowed to be unheard. ``trusted`` is when the sound says nothing of whether it is
    playing; ``begun`` is the blow that the playing is known to begin with, and its note.
    """
    check_size(len(found), len(score))
    found = found.only(~bounces(found, score))
    if begun is not None:
        found = found.only(found.times_s >= begun[0])
    clear = found.only(found.strength > CLEAR_STRENGTH)
    costs = cost_model(clear, score, click, trusted=trusted, begun=begun)
    path = align(score, costs)
    if path is not None and matched_ratio(path, costs) > _NEARLY_ALL and missed_ratio(path) < _FEW_WANTING:
        return path, clear, costs
    costs = cost_model(found, score, click, trusted=trusted, begun=begun)
    settings = replace(SETTINGS, back=look_back(found, score))
    path = align(score, costs, settings=settings)
    if path is None:
        return None
    if matched_ratio(path, costs) < _ENOUGH or missed_ratio(path) > _MANY_WANTING:
        gain = 1.1 if score.graces.any() else 1.04
        lenient = align(score, costs, settings=replace(HIDDEN, back=settings.back))
        if lenient is not None and matched_ratio(lenient, costs) > gain * matched_ratio(path, costs):
            path = lenient
    return path, found, costs


def look_back(found: Candidates, score: Score) -> int:
    """Return how many candidates may lie between a note and the next: more where there is much noise."""
    longest_s = 1.2 * float(score.steps.max()) * score.tempo.whole_note_s
    within = np.searchsorted(found.times_s, found.times_s + longest_s) - np.arange(len(found))
    most = int(np.percentile(within, 90)) if len(found) else 0
    return int(np.clip(most + 1, SETTINGS.back, _MOST_BACK))


def missed_ratio(path: Alignment) -> float:
    """Return the share of notes between the first and the last of each stretch that have no hit."""
    skipped = np.diff(path.notes)[np.diff(path.stretches) == 0] - 1
    return float(skipped.sum() / max(1, len(path.notes)))


def matched_ratio(path: Alignment, costs: CostModel) -> float:
    """Return how much of what asks to be a note is taken for one: talk asks little, a clear blow much."""
    return float(costs.extra_cost[path.candidates].sum() / max(1e-9, costs.extra_cost.sum()))
