"""Find drops of a stick among everything that may be a hit: flights that shrink by one share.

Conventions: candidates in order of time, arrays of shape (n,): times in seconds, strengths in the spreads
of steady noise (above ``STRONG`` it speaks for itself), levels in dB. A chain's numbers say which blow of
the drop each hit is, from 0; a number left out is a blow that must have been, unheard.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np

from evenhand.arrays import Bools, Floats
from evenhand.progress.bounce.restitution import MOST_KEPT

STRONG = 4.2
LONGEST_FLIGHT_S, SHORTEST_FIRST_S, SHORTEST_S = 0.75, 0.040, 0.017  # 0.75 s: 69 cm high
LEAST_KEPT = 0.28  # of the speed at a blow
_NEAR_SHARE, _NEAR_S = 0.13, 0.002  # how far off the law a blow may come
_TRIED = 6  # candidates tried for the second and third blow
_MOST_MISSED = 2
_WEAK, _FULL = 2.0, 6.0
_MISSED_COST, _BESIDE_COST = 0.8, 1.2  # of a missed one, besides the worth of the blow before it
_LOUDER_DB, _LOOKED_BACK = 6.0, 3  # a blow so much louder than all of the last few is another drop's
_ECHO_S, _ONE_BLOW_S = 0.030, 0.012
_SOFTER_DB = 16.0
_LEAST_GAIN = 7.5
_MOST_AFTER = 30


@dataclass(frozen=True, slots=True)
class Chain:
    """Hits of one drop: indices of candidates and which blow each is; ``after`` are hits off the law."""

    hits: tuple[int, ...]
    numbers: tuple[int, ...]
    gain: float = 0.0
    after: tuple[int, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class _Seen:
    """The candidates, with what each is worth as a hit and whether it speaks for itself."""

    times: Floats
    levels: Floats
    worth: Floats
    clear: Bools


def find_drops(
    times_s: Floats, strength: Floats, level_db: Floats
) -> tuple[tuple[Chain, ...], tuple[int, ...]]:
    """Find the drops, in order of time, and the clear hits that belong to none.

    Parameters
    ----------
    times_s, strength, level_db : shape (n_candidates,), seconds, spreads of steady noise, dB; rising in time

    Returns
    -------
    the drops, and the candidates that belong to none
    """
    seen = _seen(times_s, strength, level_db)
    chains: list[Chain] = []
    stray: list[int] = []
    first = 0
    while first < len(seen.times):
        if not seen.clear[first]:
            first += 1
            continue
        best = max(_chains_from(seen, first), key=lambda chain: chain.gain, default=None)
        if best is None or best.gain < _LEAST_GAIN:
            stray.append(first)
            first += 1
            continue
        best = _with_after(seen, best)
        chains.append(best)
        first = max((*best.hits, *best.after)) + 1
    return _with_lone_blows(seen, chains, stray)


def _seen(times: Floats, strength: Floats, levels: Floats) -> _Seen:
    """Weigh the candidates; one that comes right after a stronger, louder one may be its echo."""
    echo = np.zeros(len(times), dtype=bool)
    for back in range(1, 4):
        apart, weaker = times[back:] - times[:-back], strength[:-back] > strength[back:]
        softer = levels[:-back] > levels[back:]
        echo[back:] |= weaker & ((apart < _ONE_BLOW_S) | ((apart < _ECHO_S) & softer))
    worth = np.clip(strength, _WEAK, _FULL) - _WEAK
    return _Seen(times, levels, np.where(echo, 0.5 * worth, worth), (strength > STRONG) & ~echo)


def _chains_from(seen: _Seen, first: int) -> Iterator[Chain]:
    """Try every likely second and third blow after a first one."""
    start = seen.times[first]
    last = int(np.searchsorted(seen.times, start + LONGEST_FLIGHT_S))
    seconds = [j for j in range(first + 1, last) if seen.times[j] - start > SHORTEST_FIRST_S]
    for second in [j for j in seconds if seen.worth[j] > 0.5][:_TRIED]:
        flight = seen.times[second] - start
        if seen.levels[second] > seen.levels[first] + 1.5 * _LOUDER_DB:
            continue
        tried = 0
        for third in range(second + 1, len(seen.times)):
            kept = (seen.times[third] - seen.times[second]) / flight
            if kept > MOST_KEPT or tried >= _TRIED:
                break
            if kept > LEAST_KEPT:
                tried += 1
                yield _follow(seen, first, second, kept)


def _follow(seen: _Seen, first: int, second: int, kept: float) -> Chain:
    """Follow the law from two blows on; each heard blow sets the flight anew."""
    hits, numbers = [first, second], [0, 1]
    gain = float(seen.worth[first] + seen.worth[second]) - _beside(seen, first, second)
    best = Chain(tuple(hits), tuple(numbers), gain)
    flight, at = float(seen.times[second] - seen.times[first]), float(seen.times[second])
    number, missed, ratios = 1, 0, [math.log(kept)]
    while missed <= _MOST_MISSED and flight * kept > SHORTEST_S:
        flight, number = flight * kept, number + 1
        found = _nearest(seen, hits, at + flight, _NEAR_SHARE * flight + _NEAR_S)
        if found is None:
            at, missed = at + flight, missed + 1
            gain -= _MISSED_COST + 0.8 * float(seen.worth[hits[-1]])
            continue
        hit, cost = found
        gain += float(seen.worth[hit]) - cost - _beside(seen, hits[-1], hit)
        if missed == 0:
            now = float(seen.times[hit]) - at
            ratios.append(math.log(now / flight * kept))
            kept = min(math.exp(float(np.mean(ratios[-6:]))), MOST_KEPT)
            flight = now
        hits.append(hit)
        numbers.append(number)
        at, missed = float(seen.times[hit]), 0
        if gain > best.gain:
            best = Chain(tuple(hits), tuple(numbers), gain)
    return best


def _nearest(seen: _Seen, hits: list[int], due: float, reach: float) -> tuple[int, float] | None:
    """Find the candidate that best stands where a blow is due, and what its distance costs."""
    loudest = seen.levels[hits[-_LOOKED_BACK:]].max() + _LOUDER_DB
    low = max(hits[-1] + 1, int(np.searchsorted(seen.times, due - reach)))
    high = int(np.searchsorted(seen.times, due + reach))
    best, best_worth = None, -math.inf
    for hit in range(low, high):
        if seen.levels[hit] > loudest:
            continue
        cost = 0.5 * (2 * (seen.times[hit] - due) / reach) ** 2
        if seen.worth[hit] - cost > best_worth:
            best, best_worth = (hit, float(cost)), float(seen.worth[hit] - cost)
    return best


def _beside(seen: _Seen, last: int, hit: int) -> float:
    """Return what it costs that clear hits between two blows are left out; more than one may not be."""
    left_out = seen.worth[last + 1 : hit][seen.clear[last + 1 : hit]]
    return math.inf if len(left_out) > 1 else float(_BESIDE_COST * left_out.sum())


def _with_after(seen: _Seen, chain: Chain) -> Chain:
    """Take along clear hits close behind that come sooner than the law: a finger was in the way."""
    last = chain.hits[-1]
    flight = (seen.times[last] - seen.times[chain.hits[-2]]) / max(chain.numbers[-1] - chain.numbers[-2], 1)
    after: list[int] = []
    for hit in range(last + 1, len(seen.times)):
        if seen.times[hit] - seen.times[last] > flight or len(after) >= _MOST_AFTER:
            break
        if seen.levels[hit] > seen.levels[last] + _LOUDER_DB:
            break
        if seen.clear[hit]:
            after.append(hit)
            flight, last = seen.times[hit] - seen.times[last], hit
    return Chain(chain.hits, chain.numbers, chain.gain, tuple(after))


def _together(seen: _Seen, lone: list[int]) -> Iterator[Chain]:
    """Put lone hits that stand close together into one drop, by its first two: no law can be read of them."""
    for _, group in groupby(enumerate(lone), key=lambda item: _first_of(seen, lone, item[0])):
        hits = tuple(hit for _, hit in group)[:2]
        yield Chain(hits, tuple(range(len(hits))))


def _first_of(seen: _Seen, lone: list[int], k: int) -> int:
    """Return which lone hit opens the row of close ones that this one stands in."""
    while k > 0 and seen.times[lone[k]] - seen.times[lone[k - 1]] < LONGEST_FLIGHT_S:
        k -= 1
    return k


def _loud_enough(seen: _Seen, chains: list[Chain]) -> list[Chain]:
    """Leave out what begins far softer than the drops do: the rest of one, or a stir of the stick."""
    if not chains:
        return chains
    usual = float(np.median([seen.levels[chain.hits[0]] for chain in chains]))
    return [chain for chain in chains if seen.levels[chain.hits[0]] > usual - _SOFTER_DB]


def _with_lone_blows(
    seen: _Seen, chains: list[Chain], stray: list[int]
) -> tuple[tuple[Chain, ...], tuple[int, ...]]:
    """Count lone hits about as loud as the drops' first blows as drops that ended at once."""
    chains = _loud_enough(seen, chains)
    if chains:
        usual = float(np.median([seen.levels[chain.hits[0]] for chain in chains]))
    else:
        usual = float(max((seen.levels[hit] for hit in stray), default=0.0))
    ends = [(seen.times[c.hits[0]], seen.times[max((*c.hits, *c.after))]) for c in chains]
    lone = [
        hit
        for hit in stray
        if seen.levels[hit] > usual - _LOUDER_DB
        and all(seen.times[hit] < a - 0.25 or seen.times[hit] > b + 0.15 for a, b in ends)
    ]
    both = [*chains, *_together(seen, lone)]
    both.sort(key=lambda chain: chain.hits[0])
    return tuple(both), tuple(hit for hit in stray if hit not in lone)
