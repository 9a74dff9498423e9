"""Two hearings of one recording laid side by side: which hits came, went, moved, or changed hands.

Conventions: hits are the same where they lie within 10 ms of each other; times in seconds, moves in ms,
without sign. What makes a finding the same finding is its kind, question and place, its figures apart.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from evenhand.measuring.values import Finding, FindingKind, HeardTake
from evenhand.take import Hit

SAME_HIT_S = 0.010
MOVED_MS = 2.0  # a third of the 6 ms that an ear can tell (measuring/values.py): a move that figures may show


@dataclass(frozen=True)
class Reheard:
    """What one hearing has otherwise than the one before."""

    before: HeardTake
    now: HeardTake

    @cached_property
    def pairs(self) -> tuple[tuple[Hit, Hit], ...]:
        """The hits that both heard, each once, in order of time."""
        return tuple(_pairs(self.before.heard.hits, self.now.heard.hits))

    @property
    def added(self) -> int:
        """How many hits were heard now and not before."""
        return len(self.now.heard.hits) - len(self.pairs)

    @property
    def lost(self) -> int:
        """How many hits were heard before and not now."""
        return len(self.before.heard.hits) - len(self.pairs)

    @cached_property
    def moves_ms(self) -> tuple[float, ...]:
        """How far each hit that both heard moved, ms."""
        return tuple(abs(new.time_s - old.time_s) * 1e3 for old, new in self.pairs)

    @property
    def hands(self) -> int:
        """How many hits are given to the other hand."""
        return sum(old.hand != new.hand for old, new in self.pairs)

    @property
    def places(self) -> int:
        """How many hits are taken for another note, of either hand."""
        return sum(_note(old) != _note(new) for old, new in self.pairs)

    @property
    def missed(self) -> tuple[int, int]:
        """How many notes were said to be missed, before and now."""
        return len(self.before.heard.missed), len(self.now.heard.missed)

    @cached_property
    def new(self) -> tuple[Finding, ...]:
        """The findings that were not made before."""
        return _only_in(self.now.findings, self.before.findings)

    @cached_property
    def gone(self) -> tuple[Finding, ...]:
        """The findings that are made no more."""
        return _only_in(self.before.findings, self.now.findings)

    @property
    def differences(self) -> Differences:
        """All of it, counted."""
        clear = self.before.heard.clear, self.now.heard.clear
        return Differences(
            takes=1,
            hits_before=len(self.before.heard.hits),
            hits_now=len(self.now.heard.hits),
            added=self.added,
            lost=self.lost,
            moved=sum(move > MOVED_MS for move in self.moves_ms),
            hands=self.hands,
            places=self.places - self.hands,
            missed_before=self.missed[0],
            missed_now=self.missed[1],
            clearer=int(clear[1] and not clear[0]),
            doubtful=int(clear[0] and not clear[1]),
            clocks=int(self.before.heard.clock != self.now.heard.clock),
            findings_new=Counter(each.kind for each in self.new),
            findings_gone=Counter(each.kind for each in self.gone),
        )


@dataclass(slots=True)
class Differences:
    """Differences counted, of one take or of many.

    ``moved`` counts hits that both heard and that moved by more than 2 ms, ``hands`` those given to the other
    hand, ``places`` those taken for another note of the same hand. ``clearer``, ``doubtful`` and ``clocks``
    count takes: a doubt gone, a doubt come, timing judged against something else. Findings are by kind.
    """

    takes: int = 0
    hits_before: int = 0
    hits_now: int = 0
    added: int = 0
    lost: int = 0
    moved: int = 0
    hands: int = 0
    places: int = 0
    missed_before: int = 0
    missed_now: int = 0
    clearer: int = 0
    doubtful: int = 0
    clocks: int = 0
    findings_new: Counter[FindingKind] = field(default_factory=Counter)
    findings_gone: Counter[FindingKind] = field(default_factory=Counter)

    def add(self, more: Differences) -> None:
        """Add those of another take."""
        for name in COUNTED:
            setattr(self, name, getattr(self, name) + getattr(more, name))
        self.findings_new.update(more.findings_new)
        self.findings_gone.update(more.findings_gone)

    @property
    def weight(self) -> int:
        """How much of it a teacher would look at: none, or the more the higher."""
        told = (
            self.findings_new.total()
            + self.findings_gone.total()
            + self.clearer
            + self.doubtful
            + self.clocks
        )
        missed = abs(self.missed_now - self.missed_before)
        return 100 * told + 10 * self.hands + self.added + self.lost + self.places + missed + self.moved


COUNTED = (
    *("takes", "hits_before", "hits_now", "added", "lost", "moved", "hands", "places"),
    *("missed_before", "missed_now", "clearer", "doubtful", "clocks"),
)


def _note(hit: Hit) -> tuple[object, ...]:
    return hit.repetition, hit.position, hit.hand


def _pairs(before: Sequence[Hit], now: Sequence[Hit]) -> Iterator[tuple[Hit, Hit]]:
    """Give the hits that both heard, each once; both in order of time."""
    times_s = [hit.time_s for hit in now]
    free = 0
    for hit in before:
        at = max(bisect_left(times_s, hit.time_s - SAME_HIT_S), free)
        near = [k for k in range(at, min(at + 4, len(now))) if abs(times_s[k] - hit.time_s) < SAME_HIT_S]
        if near:
            best = min(near, key=lambda k: abs(times_s[k] - hit.time_s))
            free = best + 1
            yield hit, now[best]


def _only_in(these: Sequence[Finding], those: Sequence[Finding]) -> tuple[Finding, ...]:
    other = {_what(each) for each in those}
    return tuple({_what(each): each for each in these if _what(each) not in other}.values())


def _what(finding: Finding) -> tuple[object, ...]:
    """Return what makes a finding the same finding, its figures apart."""
    evidence = finding.evidence
    places = None if evidence is None else (evidence.measure, getattr(evidence, "hand", None))
    return finding.kind, finding.question, places
