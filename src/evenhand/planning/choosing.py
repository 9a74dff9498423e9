"""Choose exercises that load what was weak, unlike each other; or, where nothing was, by coverage.

Conventions: an exercise's load of a hand is how well a teacher can work on that hand with it: alone for a
while, leading, with more to do than the other, or the same as the other in turn; a roll loads no hand,
however many notes it has. The load of another need is a share of the notes. Loads are then stretched over
the list, the least 0 and the most 1. Chosen one at a time: what is best now, given what is chosen. Chosen
are places in the list. That loading a weakness mends it is common practice, and not shown by a study that
was found.

What the last takes showed to be weak, as needs that an exercise can load.

Conventions: only findings count, so only what an ear can tell (``measuring.findings``). A weakness weighs by
how many times the audible edge its figure is, from 1 to ``MOST_TIMES``, added up over the takes. What no
sticking mends (tempo, tiring) is told apart; a take whose hands cannot be told says nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, assert_never

from evenhand.measuring.values import Finding, FindingKind
from evenhand.music.equivalence import canonical
from evenhand.music.exercise import Exercise, Hand
from evenhand.music.library.letters import goes_to_the_other_hand
from evenhand.music.writing.covering import greedy
from evenhand.music.writing.difficulty import hand_changes, hand_changes_at
from evenhand.music.writing.features import is_roll, longest_run
from evenhand.take import Fact, Remark, RemarkKind

NeedKind = Literal["hand", "second_notes", "hand_change", "heights", "graces"]

MOST_TIMES = 3.0  # one bad figure does not outweigh all else
NOTES_BEFORE, NOTES_AFTER = 2, 1  # a hand change at a note: how its hand comes to it, and where it goes on


NEEDS: Mapping[FindingKind, NeedKind] = {  # what a finding asks of the next exercises
    "weak_hand": "hand",
    "late_hand": "hand",
    "early_hand": "hand",
    "wandering_hand": "hand",
    "weak_second": "second_notes",
    "uneven_double": "second_notes",
    "missed_note": "hand_change",
    "accents_flat": "heights",
    "taps_high": "heights",
    "flam_flat": "graces",
    "flam_wide": "graces",
}
LOADS: Mapping[NeedKind, RemarkKind] = {
    "hand": "loads a hand",
    "second_notes": "loads second notes",
    "hand_change": "loads a hand change",
    "heights": "loads heights",
    "graces": "loads graces",
}
NOT_OF_HANDS: frozenset[FindingKind] = frozenset({"unlike_exercise", "two_alignments"})
NOT_BY_STICKING: frozenset[FindingKind] = frozenset({"hurrying", "dragging", "tiring", "uneven_above_tempo"})
SMALL_IS_WRONG: frozenset[FindingKind] = frozenset({"accents_flat", "taps_high", "flam_flat"})


@dataclass(frozen=True, slots=True)
class TakeFindings:
    """One take: what was played, and what was found in it."""

    name: str
    exercise: Exercise
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Need:
    """What an exercise can load: a hand, its second notes, heights or graces, or a hand change (``RLRR``)."""

    kind: NeedKind
    hand: Hand
    change: str = ""


@dataclass(frozen=True, slots=True)
class Weakness:
    """A need, how much it weighs, what was said of it, and in how many of the takes."""

    need: Need
    weight: float
    told: tuple[FindingKind, ...]
    n_takes: int
    of_takes: int


@dataclass(frozen=True, slots=True)
class Weaknesses:
    """All of them, the heaviest first; ``beside`` has the findings that no sticking mends, by take."""

    found: tuple[Weakness, ...]
    beside: tuple[tuple[TakeFindings, Finding], ...]
    untold: tuple[str, ...]  # takes whose hands cannot be told


def weaknesses(takes: Sequence[TakeFindings]) -> Weaknesses:
    """Gather what takes showed to be weak."""
    told = [take for take in takes if not any(f.kind in NOT_OF_HANDS for f in take.findings)]
    met: dict[Need, list[tuple[int, FindingKind, float]]] = {}
    beside = []
    for number, take in enumerate(told):
        for finding in take.findings:
            needs = _needs(finding, take.exercise)
            for need in needs:
                met.setdefault(need, []).append((number, finding.kind, _times(finding)))
            if finding.kind in NOT_BY_STICKING or (finding.kind in NEEDS and not needs):
                beside.append((take, finding))
    found = [
        Weakness(
            need,
            sum(times for _, _, times in rows),
            tuple(dict.fromkeys(kind for _, kind, _ in rows)),
            len({number for number, _, _ in rows}),
            len(told),
        )
        for need, rows in met.items()
    ]
    found.sort(key=lambda weakness: -weakness.weight)
    return Weaknesses(tuple(found), tuple(beside), tuple(t.name for t in takes if t not in told))


def _needs(finding: Finding, exercise: Exercise) -> list[Need]:
    """Turn a finding into what it asks for; nothing where it is about no hand."""
    evidence = finding.evidence
    if finding.kind not in NEEDS or evidence is None:
        return []
    kind = NEEDS[finding.kind]
    if kind == "hand_change" or evidence.measure == "positions.timing_ms":  # one note, not a whole hand
        return _changes_at(evidence.positions, exercise)
    hand = evidence.hand
    struck_by = {exercise.notes[p].hand for p in evidence.positions if 0 <= p < len(exercise.notes)}
    both = kind == "hand" and struck_by >= {"R", "L"}  # both hands early or late: a matter of the click
    return [] if hand is None or both else [Need(kind, hand)]


def _changes_at(positions: Sequence[int], exercise: Exercise) -> list[Need]:
    """Name the hand changes around single notes."""
    found = []
    for position in positions:
        change = hand_changes_at(exercise, position, NOTES_BEFORE, NOTES_AFTER)
        hand = exercise.notes[position].hand if change is not None else None
        if change is not None and hand is not None:
            found.append(Need("hand_change", hand, change))
    return found


def _times(finding: Finding) -> float:
    """Return how many times the audible edge a finding's figure is, 1 to ``MOST_TIMES``."""
    evidence = finding.evidence
    if evidence is None or evidence.value is None or not evidence.audible_from:
        return 1.0
    size = abs(evidence.value - (EVEN_SHARE if evidence.measure.endswith("short_share") else 0.0))
    small = finding.kind in SMALL_IS_WRONG
    times = evidence.audible_from / max(size, 1e-9) if small else size / evidence.audible_from
    return min(max(times, 1.0), MOST_TIMES)


ALIKE_NOTES = 4  # exercises are alike as far as they share hand changes of so many notes
ALIKE_COSTS = 0.5  # an exercise whose hand changes are all in those chosen loses this share of its worth
TOLD, NEARLY = 2, 0.5  # a reason names up to two weaknesses, the second if it counts half as much
EVEN_SHARE = 0.5  # of a double; and of the notes, more of which load a hand
# How a hand is worked on, and what that is worth: common practice, the weights are conventions.
ALONE_NOTES, IN_TURN_NOTES = 4, 3  # in a row
WORTH_ALONE, WORTH_LEADING, WORTH_IN_TURN, WORTH_MORE = 1.0, 0.6, 0.4, 0.2
WITH_ORNAMENTS = 0.7  # of its worth where graces of the other hand stand in the way
SECOND_ACCENTED = 0.25  # more, where a double's second note is accented
IN_A_ROLL = 0.5  # of its worth: a double that is one of many cannot be heard by itself

HandWork = Literal["alone", "leads", "in turn", "more", "none"]


@dataclass(frozen=True, slots=True)
class ChosenPlace:
    """One chosen exercise's place in the list, and what for, with its counts."""

    place: int
    reasons: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class _Candidate:
    """An exercise with what it takes to judge it: ``worth[i]`` is how it loads weakness i, 0 to 1."""

    place: int
    changes: frozenset[str]
    worth: tuple[float, ...]


def choose(exercises: Sequence[Exercise], weak: Sequence[Weakness], count: int) -> list[ChosenPlace]:
    """Choose up to ``count`` exercises that load the weaknesses, each with its reason, in the order chosen.

    There are fewer where no other exercise loads any.
    """
    left, chosen = _candidates(exercises, weak), list[_Candidate]()
    found: list[ChosenPlace] = []
    while left and len(found) < count:
        best = max(left, key=lambda each: (_value(each, chosen, weak), -each.place))
        if _value(best, chosen, weak) <= 0:
            break
        told = [weak[i] for i in _foremost(best, chosen, weak)]
        found.append(ChosenPlace(best.place, tuple(_reason(exercises[best.place], each) for each in told)))
        chosen.append(best)
        left.remove(best)
    return found


def choose_by_coverage(exercises: Sequence[Exercise], count: int) -> list[int]:
    """Choose up to ``count`` exercises that hold most hand changes of four notes, in the list's order."""
    return sorted(greedy([frozenset(hand_changes(each, ALIKE_NOTES)) for each in exercises])[:count])


def new_hand_changes(exercises: Sequence[Exercise]) -> list[int]:
    """Count the hand changes of four notes that each exercise has and none before it."""
    met: set[str] = set()
    counts = []
    for exercise in exercises:
        held = set(hand_changes(exercise, ALIKE_NOTES))
        counts.append(len(held - met))
        met |= held
    return counts


def unloaded(exercises: Sequence[Exercise], weak: Sequence[Weakness]) -> list[Weakness]:
    """List the weaknesses that no exercise of the list loads, or none more than another."""
    return [each for each in weak if not any(_stretched([load(e, each.need) for e in exercises]))]


def load(exercise: Exercise, need: Need) -> float:
    """Return how far an exercise loads a need."""
    if need.kind == "hand":
        return _hand_work(exercise, need.hand)[1]
    share = _count(exercise, need) / len(exercise.struck)
    if need.kind != "second_notes" or not share:
        return share
    accented = SECOND_ACCENTED * any(exercise.notes[p].accent for p in _seconds(exercise, need.hand))
    return share * (IN_A_ROLL if is_roll(exercise) else 1.0) + accented


def _hand_work(exercise: Exercise, hand: Hand) -> tuple[HandWork, float]:
    """Say how a hand can be worked on with an exercise, and what that is worth."""
    if is_roll(exercise):
        return "none", 0.0
    notes = [exercise.notes[p] for p in exercise.struck]
    more = sum(note.hand == hand for note in notes) / len(notes) - EVEN_SHARE
    run, goes = longest_run(exercise, hand), goes_to_the_other_hand(exercise)
    ways: tuple[tuple[HandWork, float], ...] = (
        ("alone", WORTH_ALONE if run >= ALONE_NOTES else 0.0),
        ("leads", WORTH_LEADING + more if notes[0].hand == hand and not goes else 0.0),
        ("in turn", WORTH_IN_TURN if goes and run >= IN_TURN_NOTES else 0.0),
        ("more", WORTH_MORE + more if more > 0 else 0.0),
    )
    best, worth = max(ways, key=lambda way: way[1])
    worth *= WITH_ORNAMENTS if exercise.has_graces else 1.0
    return (best, worth) if worth > 0 else ("none", 0.0)


def _count(exercise: Exercise, need: Need) -> int:
    """Count what loads a need that is not a whole hand, once around."""
    notes = [exercise.notes[p] for p in exercise.struck]
    match need.kind:
        case "second_notes":
            return len(_seconds(exercise, need.hand))
        case "hand_change":
            return hand_changes(exercise, len(need.change))[need.change]
        case "heights":
            accents = [note.accent for note in notes if note.hand == need.hand]
            return sum(now != accents[at - 1] for at, now in enumerate(accents))
        case "graces":
            return sum(bool(note.graces) and note.hand == need.hand for note in notes)
        case "hand":
            return longest_run(exercise, need.hand)
        case _:
            assert_never(need.kind)


def _seconds(exercise: Exercise, hand: Hand) -> list[int]:
    """List the second notes of a hand's doubles: runs of exactly two, of equal value, with no rest around."""
    notes, n = exercise.notes, len(exercise.notes)
    return [
        (p + 1) % n
        for p in range(n)
        if notes[p].hand == notes[(p + 1) % n].hand == hand
        and notes[p - 1].hand not in {None, hand}
        and notes[(p + 2) % n].hand not in {None, hand}
        and notes[p].value == notes[(p + 1) % n].value
    ]


def _candidates(exercises: Sequence[Exercise], weak: Sequence[Weakness]) -> list[_Candidate]:
    """Judge all exercises, one of each up to where its repeat begins."""
    first: dict[tuple[str, ...], int] = {}
    for place, exercise in enumerate(exercises):
        first.setdefault(canonical(exercise, swap=False), place)
    columns = [_stretched([load(each, weakness.need) for each in exercises]) for weakness in weak]
    return [
        _Candidate(
            place,
            frozenset(hand_changes(exercises[place], ALIKE_NOTES)),
            tuple(column[place] for column in columns),
        )
        for place in sorted(first.values())
    ]


def _stretched(loads: Sequence[float]) -> list[float]:
    """Stretch loads over the list: the least 0, the most 1; all 0 where none stands out."""
    least, most = min(loads, default=0.0), max(loads, default=0.0)
    if most - least < 1e-9:
        return [0.0] * len(loads)
    return [(each - least) / (most - least) for each in loads]


def _share(each: _Candidate, i: int, chosen: Sequence[_Candidate], weak: Sequence[Weakness]) -> float:
    """Return what an exercise adds to one weakness: the less, the more those chosen load it already."""
    return weak[i].weight * each.worth[i] / (1 + sum(other.worth[i] for other in chosen))


def _value(each: _Candidate, chosen: Sequence[_Candidate], weak: Sequence[Weakness]) -> float:
    """Return what an exercise adds, less where its hand changes are in those chosen already."""
    adds = sum(_share(each, i, chosen, weak) for i in range(len(weak)))
    met = frozenset().union(*(other.changes for other in chosen))
    alike = len(each.changes & met) / len(each.changes) if each.changes else 0.0
    return adds * (1 - ALIKE_COSTS * alike)


def _foremost(each: _Candidate, chosen: Sequence[_Candidate], weak: Sequence[Weakness]) -> list[int]:
    """Return what an exercise is chosen for: the weakness it adds most to, and a second nearly as much."""
    adds = [_share(each, i, chosen, weak) for i in range(len(weak))]
    most = sorted(range(len(weak)), key=lambda i: -adds[i])[:TOLD]
    return [i for i in most if adds[i] >= NEARLY * adds[most[0]]]


def _reason(exercise: Exercise, weakness: Weakness) -> Remark:
    """Say what an exercise was chosen for."""
    need = weakness.need
    facts: dict[str, Fact] = {
        "n": _count(exercise, need),
        "hand": need.hand,
        "change": need.change,
        "how": _hand_work(exercise, need.hand)[0] if need.kind == "hand" else "",
        "accented": int(
            need.kind == "second_notes"
            and any(exercise.notes[p].accent for p in _seconds(exercise, need.hand))
        ),
        "told": " ".join(weakness.told),
        "takes": weakness.n_takes,
        "of_takes": weakness.of_takes,
    }
    return Remark(LOADS[need.kind], facts)
