"""Look again, with the take's own sound, at notes that were skipped and at those that hardly show.

Each is due where the plain notes' smooth tempo puts it, and a position's usual distance from there; a grace
note is due as far ahead of its note as the others are. It is found, missed, or hidden: under the ring of
louder ones, where it would not show even if it were as loud as it usually is.

Conventions: times in seconds; note numbers unrolled from 0.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Bools, Floats, Indices, median, robust_sd
from evenhand.hearing.alignment.recovery import Matched, unplayed
from evenhand.hearing.alignment.score import Score, smooth_at, smooth_times
from evenhand.hearing.onsets.attack import TimedHits, highpassed, levels
from evenhand.hearing.onsets.bands import SETTINGS
from evenhand.hearing.onsets.residual import Due, Looked, Looking
from evenhand.take import Samples

_LEAST_SPREAD_S, _MOST_SPREAD_S = 0.003, 0.010
_OFTEN = 3  # times a position is plain before its own deviation counts
_FEWEST, _MOST = 6, 80  # plain hits to learn the take's sound from
_LOUDER = 0.6  # share of them that it is learnt from
_SURE = 0.5  # of a place, to call a note found
_BY_CHANCE = 4.0  # nats that the best of many places gains by chance
_NOWHERE, _CHANCE = 40, 0.85  # places where nothing is due; the share of them that gain by chance
_MANY = 0.25  # notes skipped for each that was heard: it may be another exercise
_USUALLY, _ROUNDS = 0.9, 8  # share of the notes asked for that were played, to begin with
_PLAINLY, _PLAINLY_SURE = 6.0, 0.8  # a place that speaks for itself
_SHOWS = 12.0  # nats that a note gains in the mean, or it is hidden
_SOFTEST = 1e-2  # of the plain ones' energy: where a note's usual loudness is not known
_SAME_S = 0.003  # a hit that was timed so near is the one that was found
_GAP_S, _GAP_SPREAD_S = 0.030, 0.010  # of grace notes, where nothing is known of them
_FEWEST_GAPS = 4


@dataclass(frozen=True, slots=True)
class SecondLook:
    """The notes with what was found more, their times, and those that are hidden, at their likeliest."""

    matched: Matched
    timed: TimedHits
    hidden: Matched


def look_again(
    matched: Matched, timed: TimedHits, score: Score, samples: Samples, rate_hz: int
) -> SecondLook:
    """Look again at the notes that were skipped or hardly show.

    Parameters
    ----------
    matched, timed : the notes in order of time, with their graces
    samples : shape (n,), full scale 1.0
    """
    take = _Take.of(matched, timed, score)
    asked = take.asked()
    graces = take.asked_graces()
    hidden = asked.only(slice(0))
    if take.plain.sum() < _FEWEST or not len(asked) + len(graces):
        return SecondLook(take.matched, timed, hidden)
    looking = Looking(samples, rate_hz, take.learners())
    if len(asked):
        due = take.due(asked)
        looked = looking.look(due)
        if (asked.times_s == 0).sum() > _MANY * len(take.matched):
            looked = replace(looked, gained=looked.gained - _by_chance(looking, due))
        take, hidden = take.with_looked(asked, looked, looking, samples, rate_hz)
    if len(graces):
        graces = take.asked_graces()
        looked = _look_for_graces(looking, take, graces)
        take, more = take.with_looked(graces, looked, looking, samples, rate_hz)
        hidden = hidden.with_more(more)
    return SecondLook(take.matched, take.timed, hidden)


@dataclass(frozen=True, slots=True)
class _Take:
    """The notes of a take: which are plain, and where the others are due by them.

    ``plain``, ``doubtful``: shape (n_matched,). ``usual_s``: how far from the smooth tempo each note of the
    exercise usually stands, shape (n_notes,); ``spread_s``: how far hits scatter about that.
    """

    score: Score
    matched: Matched
    timed: TimedHits
    plain: Bools
    doubtful: Bools
    usual_s: Floats
    spread_s: float

    @classmethod
    def of(cls, matched: Matched, timed: TimedHits, score: Score) -> _Take:
        """Learn from the notes that are plain to hear, and in time."""
        matched = replace(matched, times_s=timed.times_s)
        main = matched.graces == 0
        plain = main & (matched.strength > SETTINGS.strong)
        usual_s, spread_s = np.zeros(len(score)), _MOST_SPREAD_S
        for _ in range(2):
            if plain.sum() < _FEWEST:
                break
            some = matched.only(plain)
            written = score.written(some.numbers)
            off = some.times_s - smooth_times(some.times_s, written, some.numbers, some.stretches)
            position = some.numbers % len(score)
            for one in np.unique(position):
                same = off[position == one]
                usual_s[one] = median(same) if len(same) >= _OFTEN else 0.0
            rest = off - usual_s[position]
            spread_s = float(np.clip(1.2 * robust_sd(rest), _LEAST_SPREAD_S, _MOST_SPREAD_S))
            plain[plain] = np.abs(rest) < 4 * spread_s
        doubtful = main & ~plain & (matched.strength < SETTINGS.strong)
        doubtful &= np.isin(matched.stretches, matched.stretches[plain])
        doubtful |= ~main & (matched.strength < SETTINGS.weak)
        return cls(score, matched, timed, plain, doubtful, usual_s, spread_s)

    def asked(self) -> Matched:
        """Return the notes to look for; those that were skipped have no time yet."""
        main = self.matched.only(self.matched.graces == 0)
        skipped = unplayed(main.numbers, main.stretches)
        numbers, stretches = np.array(skipped, dtype=np.intp).reshape(-1, 2).T
        added = _at_none(numbers, stretches, np.zeros(len(skipped), dtype=np.intp))
        added = added.only(np.isin(stretches, self.matched.stretches[self.plain]))
        both = Matched.joined([self.matched.only(self.doubtful & (self.matched.graces == 0)), added])
        return both.only(np.argsort(both.numbers, kind="stable"))

    def asked_graces(self) -> Matched:
        """Return the grace notes to look for: all of a note that are not plain."""
        known = self.matched.only(~self.doubtful)
        there = set(zip(known.numbers.tolist(), known.graces.tolist(), strict=True))
        mains = known.only(known.graces == 0)
        counts = self.score.graces[mains.numbers % len(self.score)].tolist()
        rows = [
            (number, stretch, rank)
            for number, stretch, count in zip(
                mains.numbers.tolist(), mains.stretches.tolist(), counts, strict=True
            )
            for rank in range(1, count + 1)
            if (number, rank) not in there
        ]
        return _at_none(*np.array(rows, dtype=np.intp).reshape(-1, 3).T)

    def learners(self) -> Due:
        """Return the plainest hits with what comes before and after each."""
        strength = self.matched.strength
        least = np.quantile(strength[self.plain], 1 - _LOUDER)
        chosen = np.flatnonzero(self.plain & (strength >= least))
        chosen = chosen[:: max(1, -(-len(chosen) // _MOST))]
        around = np.concatenate([[-np.inf], self.matched.times_s, [np.inf]])
        times = self.matched.times_s[chosen]
        return Due(times, np.ones(len(times)), around[chosen], around[chosen + 2])

    def due(self, asked: Matched) -> Due:
        """Return when notes are due, and their neighbours, asked for or known."""
        times = np.empty(len(asked))
        some = self.matched.only(self.plain)
        for stretch in np.unique(asked.stretches):
            inside = asked.stretches == stretch
            numbers = asked.numbers[inside]
            times[inside] = smooth_at(
                numbers,
                self.score.written(numbers),
                int(stretch),
                some.times_s,
                self.score.written(some.numbers),
                some.numbers,
                some.stretches,
            )
        times += self.usual_s[asked.numbers % len(self.score)]
        return self.among(asked, times, np.full(len(times), self.spread_s))

    def among(self, asked: Matched, times_s: Floats, spread_s: Floats) -> Due:
        """Return notes as due at some times, and their neighbours, asked for or known."""
        known = self.matched.only(~self.doubtful)
        both = Matched.joined([known, replace(asked, times_s=times_s)])
        order = np.lexsort((-both.graces, both.numbers))
        place = np.argsort(order, kind="stable")[len(known) :]
        around = np.concatenate([[-np.inf], both.times_s[order], [np.inf]])
        return Due(times_s, spread_s, around[place], around[place + 2])

    def with_looked(
        self, asked: Matched, looked: Looked, looking: Looking, samples: Samples, rate_hz: int
    ) -> tuple[_Take, Matched]:
        """Return the take with what was found of the notes asked for, and those that are hidden."""
        there = (_played(looked.gained) > 0.5) & (looked.sure > _SURE)
        hidden = _hidden(looking, looked, there, asked, self.score)
        found, seen = asked.only(there), looked.only(there)
        found = replace(found, times_s=seen.times_s, strength=_strength(seen))
        level_db = levels(highpassed(samples, rate_hz, seen.times_s), np.zeros(len(found)))
        own = TimedHits(seen.times_s, level_db, seen.gained, seen.error_s)
        before = self._timed_before(found)
        own = TimedHits.joined([own, self.timed]).only(
            np.where(before < 0, np.arange(len(found)), before + len(found))
        )
        gone = np.isin(_keys(self.matched), _keys(asked))
        both = Matched.joined([self.matched.only(~gone), replace(found, times_s=own.times_s)])
        times = TimedHits.joined([self.timed.only(~gone), own])
        order = np.argsort(both.times_s, kind="stable")
        nothing = np.zeros(len(found), dtype=bool)
        take = replace(
            self,
            matched=both.only(order),
            timed=times.only(order),
            plain=np.concatenate([self.plain[~gone], nothing])[order],
            doubtful=np.concatenate([self.doubtful[~gone], nothing])[order],
        )
        return take, replace(asked, times_s=looked.times_s).only(hidden)

    def _timed_before(self, found: Matched) -> Indices:
        """Return which hit, timed before, each of those found is; -1 for none."""
        was = {key: i for i, key in enumerate(_keys(self.matched).tolist())}
        at = np.array([was.get(key, -1) for key in _keys(found).tolist()], dtype=np.intp)
        near = np.abs(self.timed.times_s[at] - found.times_s) < _SAME_S
        return np.where((at >= 0) & near, at, -1)


def _look_for_graces(looking: Looking, take: _Take, asked: Matched) -> Looked:
    """Look for grace notes; where few are plain, those that show best say how far ahead all are."""
    main = take.matched.graces == 0
    at = dict(zip(take.matched.numbers[main].tolist(), take.matched.times_s[main].tolist(), strict=True))
    note_s = np.array([at[number] for number in asked.numbers.tolist()])
    plain = take.matched.only(~main & ~take.doubtful)
    gaps = np.array([at.get(number, np.nan) for number in plain.numbers.tolist()]) - plain.times_s
    gap_s, spread_s, known = _usual_gaps(asked, plain.graces, gaps)
    looked = looking.look(take.among(asked, note_s - gap_s, spread_s))
    if known:
        return looked
    shown = (looked.gained > _PLAINLY) & (looked.sure > _PLAINLY_SURE)
    ranks = np.concatenate([plain.graces, asked.graces[shown]])
    gap_s, spread_s, _ = _usual_gaps(asked, ranks, np.concatenate([gaps, (note_s - looked.times_s)[shown]]))
    return looking.look(take.among(asked, note_s - gap_s, spread_s))


def _usual_gaps(asked: Matched, ranks: Indices, gaps_s: Floats) -> tuple[Floats, Floats, bool]:
    """Return how far ahead of its note each grace note is due, how loosely, and whether all that is known."""
    due_s: Floats = np.multiply(asked.graces, _GAP_S, dtype=np.float64)
    spread_s: Floats = np.full(len(asked), _GAP_SPREAD_S)
    known = True
    for rank in np.unique(asked.graces).tolist():
        own = gaps_s[(ranks == rank) & ~np.isnan(gaps_s)]
        if len(own) < _FEWEST_GAPS:
            known = False
            continue
        due_s[asked.graces == rank] = median(own)
        spread = 1.5 * robust_sd(own - median(own))
        spread_s[asked.graces == rank] = np.clip(spread, _LEAST_SPREAD_S, _GAP_SPREAD_S)
    return due_s, spread_s, known


def _at_none(numbers: Indices, stretches: Indices, ranks: Indices) -> Matched:
    """Return notes that have no time yet."""
    nothing = np.zeros(len(numbers))
    return Matched(nothing, numbers, stretches, ranks, nothing)


def _keys(matched: Matched) -> Indices:
    """Return one number for each note and grace note, shape (n,)."""
    return np.asarray(matched.numbers * 8 + matched.graces)


def _by_chance(looking: Looking, due: Due) -> float:
    """Return what is gained beyond the usual where nothing is due: half-way to the hit before, nats."""
    with_before = due.only(np.isfinite(due.before_s))
    some = with_before.only(slice(None, None, max(1, -(-len(with_before) // _NOWHERE))))
    if not len(some):
        return 0.0
    between = replace(some, times_s=(some.times_s + some.before_s) / 2, after_s=some.times_s)
    return max(float(np.quantile(looking.look(between).gained, _CHANCE)) - _BY_CHANCE, 0.0)


def _played(gained: Floats) -> Floats:
    """Return how likely each note was played: the more of those asked for are, the likelier is each.

    Parameters
    ----------
    gained : shape (n,), nats

    Returns
    -------
    shape (n,), 0 to 1
    """
    share, likely = _USUALLY, np.zeros(0)
    for _ in range(_ROUNDS):
        odds = np.exp(np.clip(gained - _BY_CHANCE, -50, 50)) * share / (1 - share)
        likely = odds / (1 + odds)
        share = float((likely.sum() + 2 * _USUALLY) / (len(gained) + 2))
    return likely


def _strength(looked: Looked) -> Floats:
    """Return how plain what was found is, on the scale of novelty."""
    sure = np.clip(looked.sure * -np.expm1(-looked.gained / _PLAINLY), 0.02, 0.98)
    return np.asarray(2.4 + np.log(sure / (1 - sure)) / 2.2)


def _hidden(looking: Looking, looked: Looked, there: Bools, asked: Matched, score: Score) -> Indices:
    """Return which of those not found would not show even if played as usual."""
    position = asked.numbers % len(score) + len(score) * asked.graces
    usual = np.full(len(asked), _SOFTEST * median(looking.loudness.astype(np.float64)))
    accents = score.accents[asked.numbers % len(score)]
    for same in [accents == kind for kind in (False, True)] + [
        position == one for one in np.unique(position)
    ]:
        if (same & there).sum() >= _OFTEN:
            usual[same] = median(looked.loudness[same & there])
    shows = looking.would_gain(usual / looked.tail) > _SHOWS
    return np.flatnonzero(~there & ~shows)
