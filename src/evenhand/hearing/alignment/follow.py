"""Align a take with the score: which hit is which note, by a cost model and the cheapest path.

Conventions: candidate times shape (n,), seconds, rising; a state is (candidate, note); costs are in nats
(negative log likelihood). Each state carries a two-part Kalman filter: the smoothed time of its note, and the
seconds a whole note lasts at that moment; so the path follows a player who drifts. Of all ways to reach a
state the cheapest is kept (Viterbi). The model family: Cemgil and Kappen 2003, "Monte Carlo methods for tempo
tracking and rhythm quantization"; Raphael 2002, "A hybrid graphical model for rhythmic parsing".
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Floats, Indices
from evenhand.errors import NothingHeard
from evenhand.hearing.alignment.costs import CostModel, Span, bounces, cost_model
from evenhand.hearing.alignment.score import Score
from evenhand.hearing.clicks.sound import HeardClick
from evenhand.hearing.onsets.bands import SETTINGS as NOVELTY
from evenhand.hearing.onsets.candidates import Candidates, echoes

MOST_STATES = 8_000_000  # hits times notes of the exercise: an hour of a line, some 20 s of work
_NEVER = 1e9
_START, _RESTART = 0, -1  # ways back that are beginnings


@dataclass(frozen=True, slots=True)
class AlignmentSettings:
    """Costs in nats and spreads; chosen on generated takes."""

    back: int = 6  # how many candidates to look back for the note before
    skip: int = 4  # how many notes on, at most, the next hit may be
    missed: float = 3.5
    in_a_row: float = 1.5  # more for each further note missed in a row
    stop: float = 10.0
    elsewhere: float = 25.0  # going on anywhere but at the top after a stop
    tempo_spread: float = 0.08  # of the tempo asked for, before anything is heard
    tempo_walk: float = 0.02  # relative, per square root of a beat
    timing_ms: float = 7.0
    timing_share: float = 0.03  # of the shortest written interval
    unfinished: float = 2.5  # for ending in the middle of a repetition (less on its first note)
    before: float = 0.7  # share of the cost of extras for what sounds before the start or in a stop


SETTINGS = AlignmentSettings()
HIDDEN = AlignmentSettings(missed=1.2, in_a_row=0.5, before=0.9, skip=6)


@dataclass(frozen=True, slots=True)
class Alignment:
    """The way taken.

    ``candidates`` and the unrolled note number of each, the stretch of unbroken playing
    it belongs to, and the cost of it all.
    """

    candidates: Indices
    notes: Indices
    stretches: Indices
    cost: float


class _Trellis:
    """The states so far.

    Costs and filters are kept for the last few candidates only; the way back, in small
    integers, for all.
    """

    def __init__(self, n: int, m: int, back: int) -> None:
        self.cost = np.full((back, m), _NEVER)
        self.filters = np.zeros((5, back, m))  # time, whole note, and their covariance
        self.came_from = np.zeros((n, m), dtype=np.int8)  # candidates back; or a beginning
        self.steps = np.zeros((n, m), dtype=np.int8)
        self.ends = np.empty((n, 2))  # cheapest end at each candidate: cost, note
        self.restarts = np.full((n, 2), -1, dtype=np.intp)  # where a restart at each candidate comes from

    def push(self, cost: Floats, filters: Floats) -> None:
        """Let a new candidate's states in at the end, and the oldest out."""
        self.cost[:-1] = self.cost[1:]
        self.cost[-1] = cost
        self.filters[:, :-1] = self.filters[:, 1:]
        self.filters[:, -1] = filters


class _Aligner:
    """Goes through the candidates one by one; ``step`` extends all ways by one candidate."""

    def __init__(self, score: Score, costs: CostModel, settings: AlignmentSettings) -> None:
        m = len(score)
        self.costs, self.settings = costs, settings
        self.whole_s = score.tempo.whole_note_s
        self.skip = min(settings.skip, m) if m > 1 else settings.skip
        self.source, self.ahead = _ways_on(score, self.skip)
        timing_s = np.hypot(settings.timing_ms * 1e-3, settings.timing_share * score.shortest * self.whole_s)
        self.noise = float(timing_s) ** 2
        gone = np.arange(self.skip)
        self.miss = (settings.missed * gone + settings.in_a_row * np.maximum(gone - 1, 0))[:, None]
        self.extras = np.append(0.0, np.cumsum(costs.extra_cost))
        self.note_of = np.arange(m)
        self.ahead_of = np.broadcast_to(self.ahead, (settings.back, self.skip, m)).reshape(-1, m)
        self.walk = (settings.tempo_walk * self.whole_s) ** 2 / score.beat * self.ahead_of
        self.first_var = (settings.tempo_spread * self.whole_s) ** 2
        self.anywhere = np.where(self.note_of == 0, 0.0, settings.elsewhere)
        middle = np.where(self.note_of == 0, 0.4, 1.0)
        self.unfinished = settings.unfinished * np.where(self.note_of == m - 1, 0.0, middle)
        self.trellis = _Trellis(len(costs.times_s), m, settings.back)
        self.restart, self.restart_from, self.restart_whole_s = np.inf, (-1, 0), self.whole_s

    def step(self, k: int) -> None:
        """Extend every way by candidate k, as every note it may be."""
        best, cost, went_on = self._on(k)
        before = self.settings.before * self.extras[k]
        begin = self.costs.start_cost[k] + before
        again = self.restart + before + self.settings.stop + self.anywhere
        opened = np.minimum(begin, again)
        go_on, from_start = cost < opened, begin <= again
        beginning = np.empty((5, len(self.note_of)))
        beginning[0] = self.costs.times_s[k]
        beginning[1] = np.where(from_start, self.whole_s, self.restart_whole_s)
        beginning[2:] = np.array([self.noise, 0.0, self.first_var])[:, None]
        filters = np.where(go_on, went_on, beginning)
        state_cost = np.where(go_on, cost, opened) + self.costs.match_cost[k]
        trellis = self.trellis
        trellis.push(state_cost, filters)
        back = self.settings.back - best // self.skip
        trellis.came_from[k] = np.where(go_on, back, np.where(from_start, _START, _RESTART))
        trellis.steps[k] = best % self.skip + 1
        self._note_ends(k, state_cost, filters)

    def _on(self, k: int) -> tuple[Indices, Floats, Floats]:
        """Find the cheapest way on to each note from the candidates before, and its filter after."""
        trellis, ahead_of = self.trellis, self.ahead_of
        m = len(self.note_of)
        now = self.costs.times_s[k]
        time, whole, var_t, cov, var_w = trellis.filters[:, :, self.source].reshape(5, -1, m)
        var_w = var_w + self.walk
        cross = cov + ahead_of * var_w
        ahead_var = var_t + ahead_of * (cov + cross)
        spread = ahead_var + self.noise
        off = now - time - ahead_of * whole
        gone_by = self.extras[k] - self.extras[np.maximum(k + 1 + np.arange(-self.settings.back, 0), 0)]
        ways = 2.5 * np.log1p(off * off / (4 * spread)) + 0.5 * np.log(spread / self.noise)
        ways += (trellis.cost[:, self.source] + gone_by[:, None, None] + self.miss).reshape(-1, m)
        best = ways.argmin(axis=0)
        note = self.note_of
        cost, on = ways[best, note], ahead_of[best, note]
        at_spread, at_cross, at_ahead = spread[best, note], cross[best, note], ahead_var[best, note]
        gain_t, gain_w = at_ahead / at_spread, at_cross / at_spread
        most = 3 * np.sqrt(at_spread)
        at_off = np.minimum(np.maximum(off[best, note], -most), most)
        after = np.empty((5, m))
        at_whole = whole[best, note]
        after[0] = time[best, note] + on * at_whole + gain_t * at_off
        after[1] = at_whole + gain_w * at_off
        after[2] = at_ahead * (1 - gain_t)
        after[3] = at_cross * (1 - gain_t)
        after[4] = var_w[best, note] - gain_w * at_cross
        return best, cost, after

    def _note_ends(self, k: int, state_cost: Floats, filters: Floats) -> None:
        """Keep the cheapest place to stop at so far, and what it would cost to end here."""
        self.trellis.restarts[k] = self.restart_from
        left = state_cost - self.settings.before * self.extras[k + 1]
        j = int(left.argmin())
        if left[j] < self.restart:
            self.restart, self.restart_from = float(left[j]), (k, j)
            self.restart_whole_s = float(filters[1, j])
        ending = state_cost + self.unfinished
        j = int(ending.argmin())
        self.trellis.ends[k] = ending[j], j


def align(score: Score, costs: CostModel, *, settings: AlignmentSettings = SETTINGS) -> Alignment | None:
    """Find the cheapest way through the exercise that the candidates allow.

    Returns None where there is no candidate.
    """
    if len(costs.times_s) == 0:
        return None
    follower = _Aligner(score, costs, settings)
    for k in range(len(costs.times_s)):
        follower.step(k)
    return _trace(follower.trellis, follower.extras, len(score), settings)


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


def _trace(trellis: _Trellis, extras: Floats, m: int, settings: AlignmentSettings) -> Alignment:
    """Walk the cheapest way back from the end, and number the notes."""
    after = settings.before * (extras[-1] - extras[1:])
    k = int((trellis.ends[:, 0] + after).argmin())
    cost = float(trellis.ends[k, 0] + after[k])
    j = int(trellis.ends[k, 1])
    found: list[tuple[int, int, int, bool]] = []  # candidate, note, steps on, opens a stretch
    while k >= 0:
        before = int(trellis.came_from[k, j])
        step = int(trellis.steps[k, j])
        found.append((k, j, step, before <= 0))
        if before == _START:
            break
        if before == _RESTART:
            k, j = int(trellis.restarts[k, 0]), int(trellis.restarts[k, 1])
        else:
            k, j = k - before, (j - step) % m
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
    return Alignment(picked, np.array(notes, dtype=np.intp), np.array(stretches, dtype=np.intp), cost)


CLEAR_STRENGTH = NOVELTY.clear
_NEARLY_ALL, _FEW_WANTING, _MANY_WANTING = 0.9, 0.04, 0.08
_MOST_BACK = 24
_ENOUGH = 0.85  # of the clear candidates taken for notes


def best_alignment(
    score: Score,
    found: Candidates,
    click: HeardClick | None,
    trusted: Span | None = None,
    *,
    from_s: float | None = None,
) -> tuple[Alignment, Candidates, CostModel] | None:
    """Align the take; look at faint candidates only where the clear ones leave notes missed.

    Soft notes can lie hidden under the sound of loud ones all through a take; then a
    note that is not heard says little, and where much that was heard is left over, more
    notes are allowed to be unheard. ``trusted`` is when the sound says nothing of whether it is
    playing; ``from_s`` is the blow that the exercise is known to begin with.
    """
    check_size(len(found), len(score))
    found = found.only(~bounces(found, score))
    if from_s is not None:
        found = found.only(found.times_s >= from_s)
    clear = found.only(found.strength > CLEAR_STRENGTH)
    costs = cost_model(clear, score, click, trusted=trusted, from_s=from_s)
    path = align(score, costs)
    if path is not None and matched_ratio(path, clear) > _NEARLY_ALL and missed_ratio(path) < _FEW_WANTING:
        return path, clear, costs
    costs = cost_model(found, score, click, trusted=trusted, from_s=from_s)
    settings = replace(SETTINGS, back=look_back(found, score))
    path = align(score, costs, settings=settings)
    if path is None:
        return None
    if matched_ratio(path, found) < _ENOUGH or missed_ratio(path) > _MANY_WANTING:
        gain = 1.1 if score.graces.any() else 1.04
        lenient = align(score, costs, settings=replace(HIDDEN, back=settings.back))
        if lenient is not None and matched_ratio(lenient, found) > gain * matched_ratio(path, found):
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


def matched_ratio(path: Alignment, found: Candidates) -> float:
    """Return the share of the clear candidates that are taken for notes."""
    clear = found.strength > CLEAR_STRENGTH
    return float(clear[path.candidates].sum() / max(1, (clear & ~echoes(found)).sum()))
