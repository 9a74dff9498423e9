"""Follow a train of single strokes through everything that may be a hit, and find the strokes it hides.

The distances of all pairs of clear hits pile up at the time that the train needs to come round: one stroke,
or two where the hands are uneven. Whether another stroke lies in the middle is then seen by laying all
rounds over each other: what is too weak to be a hit once shows in the mean of hundreds. Then a path through
the candidates is chosen that is regular and leaves out as few clear hits as can be (dynamic programming),
with an interval after even strokes and one after odd ones; an interval of two or three beats hides strokes.

Conventions: candidates in order of time, shape (n,): times in seconds, strengths in the spreads of steady
noise; ``curve``, shape (n_frames,), as in ``rates``. Strokes are numbered from 0 by the train's own beat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from evenhand.arrays import Bools, Floats, Ints, Singles, robust_sd

Curve = Singles

FRAME_HZ = 2000
SHORTEST_S, LONGEST_S = 0.038, 1.5  # of a round
_TIMES = 3  # a round's distance piles up once more at twice and three times itself
CLEAR = 2.8
_STEP = 0.012  # of the logarithm of a distance
_WINDOW_S, _HOP_S = 6.0, 2.0
_FIRST_SHARE = 0.72  # of the highest pile: the shortest distance that reaches it is a round
_BINS, _INSIDE = 40, (0.28, 0.72)  # a round in so many parts; where its middle stroke may lie
_OFTEN = 0.25  # of the rounds with a clear hit inside: there is a middle stroke
_LEAST_HEIGHT, _LEAST_BUMP, _LEAST_Z, _SIDE = 0.1, 0.5, 5.0, 6
_LONGEST_HIDING_S = 0.170  # in a longer round a stroke has room to be heard by itself
_SHORTEST_HIDING_S = 0.076  # no two hands play more than 26 strokes a second
_REFLECTED_S = 0.031  # sooner after a hit, walls answer
_FEWEST_ROUNDS = 8


def local_beat(times_s: Floats, strength: Floats, curve: Curve | None) -> Floats:
    """Return the time from stroke to stroke around each candidate, s.

    Parameters
    ----------
    times_s, strength : shape (n_candidates,), seconds and spreads of steady noise, rising in time
    curve : shape (n_frames,), novelty; None where blows are known exactly

    Returns
    -------
    shape (n_candidates,), seconds
    """
    clear = times_s[strength > CLEAR]
    if len(clear) < 4:
        return np.full(
            len(times_s), max(float(np.median(np.diff(times_s))) if len(times_s) > 1 else 0.5, 0.02)
        )
    centres, rounds = _rounds(clear)
    hides = float(np.median(strength[strength > CLEAR])) < _HIDING_STRENGTH
    halved = _has_middle(clear, centres, rounds, curve if hides else None)
    beat = np.interp(times_s, centres, rounds)
    return np.asarray(beat / 2 if halved else beat)


def _rounds(clear: Floats) -> tuple[Floats, Floats]:
    """Return how long a round is, every two seconds."""
    centres = np.arange(clear[0], clear[-1] + _HOP_S, _HOP_S)
    piles = np.array(
        [_pile(clear[(clear >= c - _WINDOW_S / 2) & (clear < c + _WINDOW_S / 2)]) for c in centres]
    )
    whole = piles.sum(axis=0)
    first = _first_peak(whole)
    span = round(0.25 / _STEP)  # a train changes its tempo by a quarter at most while it lasts
    low = max(first - span, 0)
    near = piles + 0.5 * (np.roll(piles, 1, axis=0) + np.roll(piles, -1, axis=0)) if len(piles) > 2 else piles
    weight = np.exp(-0.5 * ((np.arange(len(whole)) - first) * _STEP / 0.12) ** 2)
    best = low + (near * weight)[:, low : first + span + 1].argmax(axis=1)
    return centres, SHORTEST_S * np.exp((best + 0.5) * _STEP)


def _pile(clear: Floats) -> Floats:
    """Pile up the distances of pairs of hits by their logarithm; 1 is what chance would give."""
    edges = np.arange(0, np.log(_TIMES * LONGEST_S / SHORTEST_S) + _STEP, _STEP)
    if len(clear) < 4:
        return np.zeros(len(edges) - 1 - round(np.log(_TIMES) / _STEP))
    apart = (clear[None, :] - clear[:, None])[np.triu_indices(len(clear), 1)]
    apart = apart[(apart > SHORTEST_S) & (apart < _TIMES * LONGEST_S)]
    counted, _ = np.histogram(np.log(apart / SHORTEST_S), edges)
    widths = SHORTEST_S * np.diff(np.exp(edges))
    by_chance = len(clear) ** 2 / max(clear[-1] - clear[0], 0.1) * widths
    kernel = np.array([1.0, 2.0, 3.0, 2.0, 1.0])
    pile = np.convolve(counted, kernel, "same") / np.convolve(by_chance, kernel, "same")
    single = len(edges) - 1 - round(np.log(_TIMES) / _STEP)
    again = [
        pile[k : k + single] for k in (round(float(np.log(times)) / _STEP) for times in range(1, _TIMES + 1))
    ]
    return np.asarray(np.mean(again, axis=0))


def _first_peak(pile: Floats) -> int:
    """Return the shortest distance whose pile is about as high as the highest."""
    peak = (pile[1:-1] >= pile[:-2]) & (pile[1:-1] > pile[2:]) & (pile[1:-1] >= _FIRST_SHARE * pile.max())
    found = np.flatnonzero(peak)
    return int(found[0] + 1 if len(found) else pile.argmax())


def _has_middle(clear: Floats, centres: Floats, rounds: Floats, curve: Curve | None) -> bool:
    """Tell whether another stroke lies within a round."""
    starts, lengths = _whole_rounds(clear, np.interp(clear, centres, rounds))
    if len(starts) < _FEWEST_ROUNDS:
        return False
    first = np.searchsorted(clear, starts + _INSIDE[0] * lengths)
    last = np.searchsorted(clear, starts + _INSIDE[1] * lengths)
    if np.mean(last > first) > _OFTEN:
        return True
    hiding = _SHORTEST_HIDING_S < float(np.median(lengths)) < _LONGEST_HIDING_S
    return curve is not None and hiding and _bump(starts, lengths, curve)


def _whole_rounds(clear: Floats, rounds: Floats) -> tuple[Floats, Floats]:
    """Find hits that another follows a round later."""
    due = clear + rounds
    at = np.clip(np.searchsorted(clear, due), 1, len(clear) - 1)
    nearer = np.where(np.abs(clear[at] - due) < np.abs(clear[at - 1] - due), at, at - 1)
    there = np.abs(clear[nearer] - due) < 0.12 * rounds
    return clear[there], (clear[nearer] - clear)[there]


def _bump(starts: Floats, lengths: Floats, curve: Curve) -> bool:
    """Tell whether the mean of all rounds shows something that begins inside."""
    share = (np.arange(_BINS) + 0.5) / _BINS
    frames = np.round((starts[:, None] + lengths[:, None] * share) * FRAME_HZ).astype(np.intp)
    laid = curve[np.clip(frames, 0, len(curve) - 1)].astype(np.float64)
    mean, error = laid.mean(axis=0), laid.std(axis=0) / np.sqrt(len(laid))
    soonest = max(_INSIDE[0], _REFLECTED_S / float(np.median(lengths)))
    inside = np.flatnonzero((share > soonest) & (share < _INSIDE[1]))
    sides = np.maximum(mean[inside - _SIDE], mean[inside + _SIDE])
    bump = mean[inside] - sides
    stands = (bump > _LEAST_BUMP) & (bump > _LEAST_Z * error[inside]) & (mean[inside] > _LEAST_HEIGHT)
    return bool(stands.any())


MOST_BEATS = 5  # in one interval of a train; a longer one is a stop
_NONE, _FULL = 1.8, 6.0
_HIDDEN_COST, _STOP_COST = 2.0, 9.0
_FIRST_SPREAD, _LEAST_SPREAD, _MOST_SPREAD = 0.24, 0.10, 0.26  # of a beat
_ROUNDS = 3
_OFF_BEAT, _APART, _APART_S = 0.6, 0.25, 0.014  # beats, beats, s: how a hit far off its beat may lie
_FAINT_END_SHARE = 0.6  # of the usual strength
_HIDING_STRENGTH = 6.5  # hits that stand out less may hide others
_REACH_S = 1.5  # on either side, over which the beat is read


@dataclass(frozen=True, slots=True)
class Train:
    """A train: ``hits`` are indices of candidates, ``numbers`` their strokes, ``stops`` where it broke off.

    ``beat_s`` is each hit's local beat; ``offset`` is how much later, in beats, odd strokes come than in
    the middle between their neighbours.
    """

    hits: Ints
    numbers: Ints
    stops: Ints  # indices into ``hits`` of the first hit after each stop
    beat_s: Floats
    offset: float
    hides: bool = False  # whether its hits stand out so little that others may be hidden


def follow_train(times_s: Floats, strength: Floats, curve: Curve | None = None) -> Train:
    """Follow the train of strokes; with fewer than three hits it has none.

    Parameters
    ----------
    times_s, strength : shape (n_candidates,), seconds and spreads of steady noise, rising in time
    curve : shape (n_frames,), novelty; None where blows are known exactly
    """
    if len(times_s) < 3:
        return Train(
            np.arange(len(times_s)),
            np.arange(len(times_s)),
            np.zeros(0, np.int64),
            np.full(len(times_s), 0.5),
            0.0,
        )
    beat = local_beat(times_s, strength, curve)
    train = _path(times_s, strength, beat, 0.0, _FIRST_SPREAD)
    for _ in range(_ROUNDS - 1):
        beat = _beat_again(times_s, train, beat)
        offset, spread = _alternation(times_s, train, beat)
        train = _path(times_s, strength, beat, offset, spread)
    train = _with_off_beat(times_s, strength, _trimmed(train, strength))
    return replace(train, hides=_softer_strength(train, strength) < _HIDING_STRENGTH)


def _beat_again(times_s: Floats, train: Train, beat: Floats) -> Floats:
    """Read the beat again from the strokes' numbers, where there are enough of them."""
    if len(train.hits) < 4:
        return beat
    t, number = times_s[train.hits], train.numbers
    two = number[2:] - number[:-2]
    whole = _unbroken(train, 2) & (two > 0)
    if whole.sum() < 4:
        return beat
    each = ((t[2:] - t[:-2]) / np.maximum(two, 1))[whole]
    at = t[1:-1][whole]
    low, high = np.searchsorted(at, times_s - _REACH_S), np.searchsorted(at, times_s + _REACH_S)
    usual = float(np.median(each))
    return np.array(
        [
            np.median(each[a:b]) if b - a >= 5 else usual
            for a, b in zip(low.tolist(), high.tolist(), strict=True)
        ]
    )


def _unbroken(train: Train, steps: int) -> Bools:
    """Tell of each run of so many steps whether no stop is in it."""
    broken = np.zeros(len(train.hits), dtype=bool)
    broken[train.stops] = True
    total = np.cumsum(broken)
    return np.asarray(total[steps:] == total[:-steps])


def _alternation(times_s: Floats, train: Train, beat: Floats) -> tuple[float, float]:
    """Return how late odd strokes come, in beats, and how far intervals spread about that."""
    t = times_s[train.hits]
    single = (np.diff(train.numbers) == 1) & _unbroken(train, 1)
    if single.sum() < 8:
        return 0.0, _FIRST_SPREAD
    part = np.diff(t)[single] / beat[train.hits][:-1][single] - 1.0
    odd = train.numbers[:-1][single] % 2 == 1
    if odd.sum() < 4 or (~odd).sum() < 4:
        return 0.0, _FIRST_SPREAD
    offset = float(np.median(part[~odd]) - np.median(part[odd])) / 2
    rest = part - np.where(odd, -offset, offset)
    spread = robust_sd(rest) * 1.3
    return offset, min(max(spread, _LEAST_SPREAD), _MOST_SPREAD)


@dataclass(slots=True)
class _Search:
    """The best way to each candidate as an even and as an odd stroke, shape (n, 2), and where from.

    ``back`` (n, 2, 3): from which candidate, of which parity, in how many beats (0: after a stop).
    """

    worth: Floats
    best: Floats
    back: Ints
    offset: float
    spread: float

    def step(self, i: int, j: int, beats: float) -> None:
        """Try the step from one candidate to another as one beat or more."""
        for parity in (0, 1):
            for count in range(max(1, int(beats - 0.9)), min(MOST_BEATS, int(beats + 0.95)) + 1):
                end = (parity + count) % 2
                off = (beats - count - self.offset * (end - parity)) / self.spread
                cost = 0.5 * off**2 + _HIDDEN_COST * (count - 1)
                total = self.best[i, parity] + self.worth[j] - cost
                if total > self.best[j, end]:
                    self.best[j, end] = total
                    self.back[j, end] = i, parity, count

    def after_stop(self, j: int, ended: tuple[float, int, int]) -> None:
        """Try to begin again after the best path that has come to a stop."""
        if ended[0] > _STOP_COST:
            self.best[j] = self.worth[j] + ended[0] - _STOP_COST
            self.back[j] = ended[1], ended[2], 0


def _path(times_s: Floats, strength: Floats, beat: Floats, offset: float, spread: float) -> Train:
    """Choose the best path, each candidate being an even or an odd stroke."""
    worth = np.clip(strength, _NONE, _FULL) - _NONE
    n = len(times_s)
    search = _Search(
        worth, np.stack([worth, worth], axis=1), np.full((n, 2, 3), -1, dtype=np.int64), offset, spread
    )
    ended, closed = (-math.inf, -1, 0), 0
    for j in range(n):
        while closed < j and times_s[closed] < times_s[j] - (MOST_BEATS + 0.6) * beat[j]:
            ended = max(ended, *((float(search.best[closed, p]), closed, p) for p in (0, 1)))
            closed += 1
        search.after_stop(j, ended)
        for i in range(closed, j):
            search.step(i, j, float((times_s[j] - times_s[i]) / beat[j]))
    return _read(beat, search)


def _softer_strength(train: Train, strength: Floats) -> float:
    """Return how much hits usually stand out, of the hand that stands out less."""
    own, odd = strength[train.hits], train.numbers % 2 == 1
    return min(float(np.median(own[hand])) if hand.any() else math.inf for hand in (odd, ~odd))


def _with_off_beat(times_s: Floats, strength: Floats, train: Train) -> Train:
    """Take in clear hits so far off the beat that the path left them out, one for each stroke due."""
    due_s, numbers, gap = due(times_s, train)
    clear = strength > _FAINT_END_SHARE * float(np.median(strength[train.hits]))
    clear[train.hits] = False
    more: dict[int, int] = {}
    for at, number, k in zip(due_s.tolist(), numbers.tolist(), gap.tolist(), strict=True):
        beat = float(train.beat_s[k])
        around = times_s[train.hits[k - 1 : k + 1]]
        apart = max(_APART_S, _APART * beat)
        room = (times_s > around[0] + apart) & (times_s < around[1] - apart)
        found = np.flatnonzero(clear & room & (np.abs(times_s - at) < _OFF_BEAT * beat))
        if len(found):
            more[int(found[strength[found].argmax()])] = number
    if not more:
        return train
    hits = np.concatenate([train.hits, np.array(list(more), dtype=np.int64)])
    order = np.argsort(hits, kind="stable")
    every = np.concatenate([train.numbers, np.array(list(more.values()), dtype=np.int64)])[order]
    beat_s = np.interp(times_s[hits[order]], times_s[train.hits], train.beat_s)
    stops = np.searchsorted(hits[order], train.hits[train.stops])
    return replace(train, hits=hits[order], numbers=every, stops=stops.astype(np.int64), beat_s=beat_s)


def _trimmed(train: Train, strength: Floats) -> Train:
    """Leave off a first or last hit that stands apart and is faint: a stir, or the beginning of the file."""
    own = strength[train.hits]
    faint = own < _FAINT_END_SHARE * float(np.median(own))
    stir = own < _FAINT_END_SHARE * float(np.percentile(own, 5))
    first, last = 0, len(train.hits) - 1
    apart = np.diff(train.numbers) > 1
    while first < last and (stir[first] or (faint[first] and apart[first])):
        first += 1
    while last > first and (stir[last] or (faint[last] and apart[last - 1])):
        last -= 1
    kept = slice(first, last + 1)
    stops = train.stops[(train.stops > first) & (train.stops <= last)] - first
    return replace(
        train, hits=train.hits[kept], numbers=train.numbers[kept], stops=stops, beat_s=train.beat_s[kept]
    )


def _read(beat: Floats, search: _Search) -> Train:
    """Read the best path from its end."""
    at, parity = divmod(int(search.best.argmax()), 2)
    back = search.back
    hits, steps = [at], []
    while back[at, parity, 0] >= 0:
        before, parity_before, count = back[at, parity].tolist()
        steps.append(count)
        hits.append(before)
        at, parity = before, parity_before
    hits.reverse()
    steps.reverse()
    numbers, stops = [parity], []
    for k, count in enumerate(steps, start=1):
        if count == 0:
            stops.append(k)
        numbers.append(numbers[-1] + (count or MOST_BEATS + 1))
    picked = np.array(hits, dtype=np.int64)
    return Train(picked, np.array(numbers, np.int64), np.array(stops, np.int64), beat[picked], search.offset)


def due(times_s: Floats, train: Train) -> tuple[Floats, Ints, Ints]:
    """Return when strokes were due that no hit stands for, their numbers, and in which gap each is.

    Parameters
    ----------
    times_s : shape (n_candidates,), seconds

    Returns
    -------
    seconds, numbers, and the hit each gap ends with; each shape (n_due,)
    """
    out: list[tuple[float, int, int]] = []
    t, stops = times_s[train.hits], set(train.stops.tolist())
    for k in range(1, len(train.hits)):
        first, last = int(train.numbers[k - 1]), int(train.numbers[k])
        if k in stops or last - first < 2:
            continue
        own, other = train.offset * (first % 2), train.offset * (last % 2)
        for number in range(first + 1, last):
            share = (number - first + train.offset * (number % 2) - own) / (last - first + other - own)
            out.append((float(t[k - 1] + (t[k] - t[k - 1]) * share), number, k))
    table = np.array(out, dtype=np.float64).reshape(len(out), 3)
    return table[:, 0], table[:, 1].astype(np.int64), table[:, 2].astype(np.int64)
