"""What to hear first: takes that the teacher has not heard yet, ordered by what deserves an ear.

The rule, and nothing else orders them. A take has the reasons below that hold for it; the first of them
says where it stands, and among equals the one that came first stands first.

1. ``question``: the student said something about it that was not read yet, heard or not.
2. ``failed``: it could not be heard. ``doubt``: the ear is not sure of the hands, or of the exercise.
3. ``new``: something was found in it that none of the ``NEAR`` takes of the same exercise before it has.
4. ``worse``: what the newest of them that has it has, too, is larger now by more than chance (95 % range of
   the difference).
5. ``tempo``: the first take of the exercise faster than the student's takes of it before.
6. ``waits``: it came a week ago or longer.
7. None of these.

Conventions: the inbox goes back ``BACK``; what is compared goes back ``COMPARED``. Takes of which the ear is
not sure are compared with none. Takes of the teacher's own are in neither. A tempo counts as faster from two
percent on, as a click is set.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Literal

from evenhand.acts.takes.document import heard_take_of
from evenhand.errors import BadDocument, BadTempo
from evenhand.measuring.values import Evidence, Finding, FindingKind
from evenhand.music.exercise import Hand, Tempo
from evenhand.planning.standing import ROUNDING, fault_of
from evenhand.report.words.findings import finding_sentences
from evenhand.studio.desk import Cache, asked_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.takes.beside import difference
from evenhand.studio.typed import notes_of
from evenhand.studio.values import Said, StudioTake, TakeOutline

ReasonKind = Literal["question", "failed", "doubt", "new", "worse", "tempo", "waits"]
RANK: Mapping[ReasonKind, int] = {
    "question": 1,
    "failed": 2,
    "doubt": 2,
    "new": 3,
    "worse": 4,
    "tempo": 5,
    "waits": 6,
}
NO_REASON = 7
Doubt = Literal["", "hands", "exercise"]
Fault = tuple[FindingKind, Hand | None]

BACK, COMPARED = timedelta(weeks=4), timedelta(weeks=12)
WAITS_LONG = timedelta(days=7)
NEAR = 3
KEPT = 4096  # gists, some 2 kB each
_OF_THE_EXERCISE = frozenset({"unlike_exercise", "other_sticking"})


@dataclass(frozen=True, slots=True)
class Gist:
    """What matters of a heard take in a list: the ear's doubt, and each fault with its figure and words."""

    doubt: Doubt = ""
    faults: Mapping[Fault, tuple[Evidence | None, str]] = field(default_factory=dict)
    said: str = ""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a take deserves an ear. ``words`` are the finding's or the failure's own, ``said`` the student's.

    ``before`` is the take that it is compared with, ``figures`` the fault there and here, ``takes`` how many
    takes of the exercise came before.
    """

    kind: ReasonKind
    words: str = ""
    before: TakeOutline | None = None
    figures: tuple[Evidence, Evidence] | None = None
    takes: int = 0
    days: int = 0
    said: Said | None = None


@dataclass(frozen=True, slots=True)
class ToHear:
    """One row: a take that the teacher has not heard, and why it stands where it stands."""

    take: TakeOutline
    reasons: tuple[Reason, ...]
    gist: Gist

    @property
    def order(self) -> tuple[int, datetime, str]:
        """Where it stands."""
        rank = RANK[self.reasons[0].kind] if self.reasons else NO_REASON
        return rank, self.take.received_at, self.take.id


class Gists:
    """The gists of takes, kept; many that are not kept yet are read in one go."""

    def __init__(self, most: int = KEPT) -> None:
        self._kept: Cache[Gist] = Cache(most)

    def of(self, studio: Studio, wanted: Iterable[TakeOutline]) -> dict[str, Gist]:
        """Give the gist of each heard take, by its id; empty where what was heard cannot be read."""
        takes = {take.id: take for take in wanted if take.status == "heard"}
        found = {take_id: gist for take_id, take in takes.items() if (gist := self._known(take)) is not None}
        missing = [take_id for take_id in takes if take_id not in found]
        for start in range(0, len(missing), 100):
            for whole in studio.takes.all(ids=missing[start : start + 100], with_heard=True):
                gist = gist_of(whole)
                found[whole.id] = gist
                if not whole.corrected:
                    self._kept.put(asked_of(takes[whole.id]), gist)
        return found

    def _known(self, take: TakeOutline) -> Gist | None:
        return None if take.corrected else self._kept.look(asked_of(take))


def gist_of(take: StudioTake) -> Gist:
    """Read what matters of a heard take."""
    try:
        heard = heard_take_of(take.heard or "")
    except BadDocument:
        return Gist()
    kinds = {finding.kind for finding in heard.findings}
    doubt: Doubt = ""
    if heard.heard.unlike is not None or kinds & _OF_THE_EXERCISE:
        doubt = "exercise"
    elif heard.heard.ambiguity is not None or "two_alignments" in kinds:
        doubt = "hands"

    def said(finding: Finding) -> str:
        return finding_sentences(finding, heard.exercise)[0]

    faults = {
        fault: (each.evidence, said(each))
        for each in reversed(heard.findings)
        if (fault := fault_of(each)) is not None
    }
    return Gist(doubt, dict(reversed(faults.items())), said(heard.findings[0]) if heard.findings else "")


def waits_for_an_ear(take: TakeOutline, now: datetime) -> bool:
    """Tell whether a take of late could be heard by the teacher, and was not."""
    there = take.listened_at is None and take.status in {"heard", "failed"}
    return there and now - take.received_at <= BACK


def to_hear(studio: Studio, now: datetime, gists: Gists) -> list[ToHear]:
    """List what the teacher has not heard yet, or has to read of, first what deserves an ear most."""
    questions = {said.take_id: said for said in studio.threads.unread("student") if said.take_id}
    here = {student.id for student in studio.students.all()}
    takes = [
        take
        for take in studio.takes.outlines(now - COMPARED)
        if take.student_id in here and take.source != "teacher" and not take.model
    ]
    waiting = [take for take in takes if take.id in questions or waits_for_an_ear(take, now)]
    earlier = _earlier(takes)
    before = {take.id: _before(take, earlier) for take in waiting}
    compared = {each.id: each for them in before.values() for each in them[:NEAR]}.values()
    found = gists.of(studio, [*waiting, *compared])
    failed = [take.id for take in waiting if take.status == "failed"]
    why = {take.id: take.reason or "" for take in studio.takes.all(ids=failed)} if failed else {}
    rows = [
        ToHear(
            take,
            tuple(_reasons(take, before[take.id], found, now, questions, why)),
            found.get(take.id, Gist()),
        )
        for take in waiting
    ]
    return sorted(rows, key=lambda row: row.order)


Earlier = Mapping[tuple[str, str], Sequence[TakeOutline]]


def _earlier(takes: Iterable[TakeOutline]) -> Earlier:
    """Group heard takes by student and exercise, newest first."""
    grouped: dict[tuple[str, str], list[TakeOutline]] = {}
    for take in takes:
        if take.status == "heard" and take.exercise:
            grouped.setdefault((take.student_id, notes_of(take.exercise)), []).append(take)
    return grouped


def _before(take: TakeOutline, earlier: Earlier) -> list[TakeOutline]:
    """List the student's heard takes of the same exercise that were recorded before, newest first."""
    alike = earlier.get((take.student_id, notes_of(take.exercise)), ())
    return [each for each in alike if each.recorded_at < take.recorded_at]


def _reasons(
    take: TakeOutline,
    before: Sequence[TakeOutline],
    gists: Mapping[str, Gist],
    now: datetime,
    questions: Mapping[str, Said],
    why_failed: Mapping[str, str],
) -> list[Reason]:
    """Gather why a take deserves an ear, the weightiest first."""
    found = list[Reason]()
    gist = gists.get(take.id, Gist())
    if take.id in questions:
        found.append(Reason("question", said=questions[take.id]))
    if take.status == "failed":
        found.append(Reason("failed", why_failed.get(take.id, "")))
    if gist.doubt:
        found.append(Reason("doubt", gist.doubt))
    if before:
        there = [(each, gists[each.id]) for each in before[:NEAR] if each.id in gists]
        sure = [(each, its) for each, its in there if not its.doubt]
        if sure and not gist.doubt:
            found += [reason for fault in gist.faults if (reason := _changed(fault, gist, sure))]
        fastest = min(before, key=lambda each: whole_note_s(each.tempo))
        if whole_note_s(take.tempo) < whole_note_s(fastest.tempo) / ROUNDING:
            found.append(Reason("tempo", before=fastest, takes=len(before)))
    days = (now - take.received_at).days
    if days >= WAITS_LONG.days:
        found.append(Reason("waits", days=days))
    return sorted(found, key=lambda reason: RANK[reason.kind])


def _changed(fault: Fault, gist: Gist, before: Sequence[tuple[TakeOutline, Gist]]) -> Reason | None:
    """Say that a fault is new to all takes before, or larger than in the newest of them that has it."""
    evidence, words = gist.faults[fault]
    having = next(((take, its.faults[fault][0]) for take, its in before if fault in its.faults), None)
    if having is None:
        return Reason("new", words, before[-1][0], takes=len(before))
    take, was = having
    if was is None or evidence is None or not is_larger(was, evidence):
        return None
    return Reason("worse", words, take, (was, evidence))


def is_larger(was: Evidence, now: Evidence) -> bool:
    """Tell whether a fault's figure lies farther from nought than before, by more than chance.

    >>> small = Evidence("hands.L.timing_mean_ms", 12.0, "ms", 40, (10.0, 14.0))
    >>> large = Evidence("hands.L.timing_mean_ms", 20.0, "ms", 40, (18.0, 22.0))
    >>> is_larger(small, large), is_larger(large, small), is_larger(small, small)
    (True, False, False)
    """
    if was.measure != now.measure or was.value is None or now.value is None:
        return False
    found = difference(was.figure, now.figure)
    if found is None or abs(now.value) <= abs(was.value):
        return False
    _, low, high = found
    return low > 0 if now.value > 0 else high < 0


@lru_cache(maxsize=1024)  # a studio has a few hundred tempos, and thousands of takes at them
def whole_note_s(tempo: str) -> float:
    """Return a tempo's seconds of a whole note; of what is no tempo, without end: nothing is slower."""
    try:
        return Tempo.parse(tempo).whole_note_s
    except BadTempo:
        return math.inf
