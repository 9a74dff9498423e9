"""What a take sounds like now and did not before: two readings of one recording, in words.

Conventions: hits are the same where they lie within 10 ms of each other; times in seconds, moves in ms.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from statistics import median

from evenhand.measuring.values import HeardTake
from evenhand.report.words.figures import count, plain
from evenhand.report.words.findings import finding_words
from evenhand.take import Heard, Hit

_SAME_HIT_S = 0.010
_MOVED_MS = 0.05  # hits that moved less are where they were
_AGAINST = {
    "click": "the click",
    "smooth": "the take's own smooth tempo",
    None: "nothing, for it was heard blind",
}


def changed_words(before: HeardTake, now: HeardTake) -> list[str]:
    """Say what changed between two hearings of one recording, the most important first; one sentence each."""
    ears = f"Heard by ear {now.heard.ear}; before, by {_ear(before.heard)}."
    said = [*_hits(before.heard, now.heard), *_clock(before.heard, now.heard), *_findings(before, now)]
    return [ears, *(said or ["Nothing changed that a teacher would see."])]


def _ear(heard: Heard) -> str:
    """Name the ear that heard a take."""
    return "one that had no number" if heard.ear is None else f"ear {heard.ear}"


def _hits(before: Heard, now: Heard) -> Iterator[str]:
    """Say which hits came and went, which are other notes, and how far the others moved."""
    pairs = list(_pairs(before.hits, now.hits))
    notes = f"{len(before.hits)} before, {len(now.hits)} now"
    if new := len(now.hits) - len(pairs):
        yield f"{count(new, 'stroke')} heard now and not before ({notes})."
    if gone := len(before.hits) - len(pairs):
        yield f"{count(gone, 'stroke')} heard before and not now ({notes})."
    hands = sum(old.hand != new_.hand for old, new_ in pairs)
    if hands:
        yield f"{count(hands, 'hit')} of {len(pairs)} given to the other hand."
    places = sum((a.repetition, a.position, a.hand) != (b.repetition, b.position, b.hand) for a, b in pairs)
    if places > hands:
        yield f"{count(places - hands, 'hit')} of {len(pairs)} taken for another note of the same hand."
    moves = [abs(b.time_s - a.time_s) * 1e3 for a, b in pairs]
    if moves and max(moves) > _MOVED_MS:
        far = f"{plain(median(moves), 2)} ms at the median and {plain(max(moves), 2)} ms at most"
        yield f"The times of {count(len(moves), 'hit')} moved by {far}."
    if len(before.missed) != len(now.missed):
        yield f"{count(len(now.missed), 'note')} said to be missed, {len(before.missed)} before."
    if len(before.clicks_s) != len(now.clicks_s):
        yield f"{count(len(now.clicks_s), 'click')} heard, {len(before.clicks_s)} before."


def _pairs(before: tuple[Hit, ...], now: tuple[Hit, ...]) -> Iterator[tuple[Hit, Hit]]:
    """Give the hits that both heard, each once; both in order of time."""
    times_s = [hit.time_s for hit in now]
    free = 0
    for hit in before:
        at = max(bisect_left(times_s, hit.time_s - _SAME_HIT_S), free)
        near = [k for k in range(at, min(at + 4, len(now))) if abs(times_s[k] - hit.time_s) < _SAME_HIT_S]
        if near:
            best = min(near, key=lambda k: abs(times_s[k] - hit.time_s))
            free = best + 1
            yield hit, now[best]


def _clock(before: Heard, now: Heard) -> Iterator[str]:
    """Say where timing is judged against something else, and where a doubt came or went."""
    if before.clock != now.clock:
        yield f"Timing is judged against {_AGAINST[now.clock]}; before, against {_AGAINST[before.clock]}."
    for remark, doubt in (("ambiguity", "which hand is which"), ("unlike", "whether it is this exercise")):
        was, is_now = getattr(before, remark) is not None, getattr(now, remark) is not None
        if was != is_now:
            yield f"There is {'now a' if is_now else 'no longer a'} doubt {doubt}."


def _findings(before: HeardTake, now: HeardTake) -> Iterator[str]:
    """Say which findings are new and which are made no more."""
    old = {_what(before, i): finding_words(each, before.exercise) for i, each in enumerate(before.findings)}
    new = {_what(now, i): finding_words(each, now.exercise) for i, each in enumerate(now.findings)}
    yield from (f"New: {words}" for what, words in new.items() if what not in old)
    yield from (f"No longer said: {words}" for what, words in old.items() if what not in new)


def _what(take: HeardTake, which: int) -> tuple[object, ...]:
    """Return what makes a finding the same finding, its figures apart."""
    finding = take.findings[which]
    evidence = finding.evidence
    places = None if evidence is None else (evidence.measure, getattr(evidence, "hand", None))
    return finding.kind, finding.question, places
