"""What a take sounds like now and did not before: two readings of one recording, in words.

What counts as the same hit and the same finding is said in ``measuring/reheard.py``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from statistics import median
from typing import Any

from evenhand.measuring.reheard import Differences, Reheard
from evenhand.measuring.values import HeardTake
from evenhand.report.words.figures import count, plain
from evenhand.report.words.findings import finding_words
from evenhand.take import Heard

_MOVED_MS = 0.05  # hits that moved less are where they were
_AGAINST = {
    "click": "the click",
    "smooth": "the take's own smooth tempo",
    None: "nothing, for it was heard blind",
}


def changed_words(before: HeardTake, now: HeardTake) -> list[str]:
    """Say what changed between two hearings of one recording, the most important first; one sentence each."""
    ears = f"Heard by ear {now.heard.ear}; before, by {_ear(before.heard)}."
    changed = Reheard(before, now)
    said = [*_hits(changed), *_clock(before.heard, now.heard), *_findings(changed)]
    return [ears, *(said or ["Nothing changed that a teacher would see."])]


def _ear(heard: Heard) -> str:
    """Name the ear that heard a take."""
    return "one that had no number" if heard.ear is None else f"ear {heard.ear}"


def _hits(changed: Reheard) -> Iterator[str]:
    """Say which hits came and went, which are other notes, and how far the others moved."""
    before, now, both = changed.before.heard, changed.now.heard, len(changed.pairs)
    notes = f"{len(before.hits)} before, {len(now.hits)} now"
    if changed.added:
        yield f"{count(changed.added, 'stroke')} heard now and not before ({notes})."
    if changed.lost:
        yield f"{count(changed.lost, 'stroke')} heard before and not now ({notes})."
    if changed.hands:
        yield f"{count(changed.hands, 'hit')} of {both} given to the other hand."
    if changed.places > changed.hands:
        others = count(changed.places - changed.hands, "hit")
        yield f"{others} of {both} taken for another note of the same hand."
    moves = changed.moves_ms
    if moves and max(moves) > _MOVED_MS:
        far = f"{plain(median(moves), 2)} ms at the median and {plain(max(moves), 2)} ms at most"
        yield f"The times of {count(len(moves), 'hit')} moved by {far}."
    if changed.missed[0] != changed.missed[1]:
        yield f"{count(changed.missed[1], 'note')} said to be missed, {changed.missed[0]} before."
    if len(before.clicks_s) != len(now.clicks_s):
        yield f"{count(len(now.clicks_s), 'click')} heard, {len(before.clicks_s)} before."


def _clock(before: Heard, now: Heard) -> Iterator[str]:
    """Say where timing is judged against something else, and where a doubt came or went."""
    if before.clock != now.clock:
        yield f"Timing is judged against {_AGAINST[now.clock]}; before, against {_AGAINST[before.clock]}."
    for remark, doubt in (("ambiguity", "which hand is which"), ("unlike", "whether it is this exercise")):
        was, is_now = getattr(before, remark) is not None, getattr(now, remark) is not None
        if was != is_now:
            yield f"There is {'now a' if is_now else 'no longer a'} doubt {doubt}."


def _findings(changed: Reheard) -> Iterator[str]:
    """Say which findings are new and which are made no more."""
    yield from (f"New: {finding_words(each, changed.now.exercise)}" for each in changed.new)
    yield from (f"No longer said: {finding_words(each, changed.before.exercise)}" for each in changed.gone)


def sum_rows(found: Differences) -> list[tuple[str, str]]:
    """Say what is otherwise in many takes: what, and how many of how many."""
    hits, takes = f"of {found.hits_before:,}", f"of {found.takes:,}"
    missed = f"{found.missed_now:,}, before {found.missed_before:,}"
    rows = [
        ("hits heard now", f"{found.hits_now:,}, before {found.hits_before:,}"),
        ("hits that came", f"{found.added:,}"),
        ("hits that went", f"{found.lost:,} {hits}"),
        ("hits that moved by more than 2 ms", f"{found.moved:,} {hits}"),
        ("hits given to the other hand", f"{found.hands:,} {hits}"),
        ("hits taken for another note of the same hand", f"{found.places:,} {hits}"),
        ("notes said to be missed", missed),
        ("takes with a doubt that is gone", f"{found.clearer:,} {takes}"),
        ("takes with a doubt that is new", f"{found.doubtful:,} {takes}"),
        ("takes judged against another clock", f"{found.clocks:,} {takes}"),
    ]
    for word, kinds in (("new", found.findings_new), ("no longer made", found.findings_gone)):
        rows += [
            (f"finding {word}: {kind.replace('_', ' ')}", f"{n:,} {takes}") for kind, n in kinds.most_common()
        ]
    return rows


def counted_words(found: Differences) -> str:
    """Say in a line what is otherwise in one take; "" where nothing is."""
    hits = (
        (found.added, "came"),
        (found.lost, "went"),
        (found.moved, "moved by more than 2 ms"),
        (found.hands, "to the other hand"),
        (found.places, "to another note"),
    )
    changed = ", ".join(f"{n:,} {words}" for n, words in hits if n)
    said = [f"{count(found.hits_before, 'hit')} before, {found.hits_now:,} now: {changed}"] if changed else []
    if found.missed_now != found.missed_before:
        said.append(f"{found.missed_now} missed, before {found.missed_before}")
    said += [f"new finding: {kind.replace('_', ' ')}" for kind in found.findings_new]
    said += [f"finding no longer made: {kind.replace('_', ' ')}" for kind in found.findings_gone]
    doubts = (
        (found.clearer, "a doubt less"),
        (found.doubtful, "a doubt more"),
        (found.clocks, "another clock"),
    )
    return "; ".join([*said, *(words for n, words in doubts if n)])


def outcome_words(outcomes: Mapping[Any, int], shown: int, corrected: int) -> str:
    """Say what became of all takes that were asked for."""
    words = {
        "changed": "with differences",
        "same": "without",
        "failed": "that the new ear cannot hear",
        "unreadable": "with a version that cannot be read",
        "waiting": "still to be heard",
    }
    parts = [f"{outcomes[each]:,} {said}" for each, said in words.items() if outcomes.get(each)]
    more = [f"{n:,} {said}" for n, said in ((shown, "taken over"), (corrected, "with corrections")) if n]
    beside = f" ({', '.join(more)})" if more else ""
    return f"{count(sum(outcomes.values()), 'take')}: {', '.join(parts)}{beside}."
