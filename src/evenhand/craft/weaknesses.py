"""What the last takes showed to be weak, as needs that an exercise can load.

Conventions: only findings count, so only what an ear can tell (``measuring.findings``). A weakness weighs by
how many times the audible edge its figure is, from 1 to ``MOST_TIMES``, added up over the takes. What no
sticking mends (tempo, tiring) is told apart; a take whose hands cannot be told says nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from evenhand.craft.hand_changes import hand_changes_at
from evenhand.domain.exercise import Exercise, Hand
from evenhand.domain.findings import Finding, FindingKind

NeedKind = Literal["hand", "second_notes", "hand_change", "heights", "graces"]

MOST_TIMES = 3.0  # one bad figure does not outweigh all else
NOTES_BEFORE, NOTES_AFTER = 2, 1  # a hand change at a note: how its hand comes to it, and where it goes on

NAMES: Mapping[Hand, str] = {"R": "right", "L": "left"}

# What a finding asks of the next exercises, and how the fault is told.
NEEDS: Mapping[FindingKind, tuple[NeedKind, str]] = {
    "weak_hand": ("hand", "softer"),
    "late_hand": ("hand", "late"),
    "early_hand": ("hand", "early"),
    "wandering_hand": ("hand", "wandering"),
    "weak_second": ("second_notes", "weak"),
    "uneven_double": ("second_notes", "not in its place"),
    "missed_note": ("hand_change", "missed"),
    "accents_flat": ("heights", "flat"),
    "taps_high": ("heights", "too little above the other notes"),
    "flam_flat": ("graces", "flat"),
    "flam_wide": ("graces", "wide"),
}
NOT_OF_HANDS: frozenset[FindingKind] = frozenset({"unlike_exercise", "two_alignments"})
NOT_BY_STICKING: frozenset[FindingKind] = frozenset({"hurrying", "dragging", "tiring", "uneven_above_tempo"})
SMALL_IS_WRONG: frozenset[FindingKind] = frozenset({"accents_flat", "taps_high", "flam_flat"})
EVEN_SHARE = 0.5  # of a double's short share


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
    told: tuple[str, ...]
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
    met: dict[Need, list[tuple[int, str, float]]] = {}
    beside = []
    for number, take in enumerate(told):
        for finding in take.findings:
            needs = _needs(finding, take.exercise)
            for need in needs:
                met.setdefault(need, []).append((number, NEEDS[finding.kind][1], _times(finding)))
            if finding.kind in NOT_BY_STICKING or (finding.kind in NEEDS and not needs):
                beside.append((take, finding))
    found = [
        Weakness(
            need,
            sum(times for _, _, times in rows),
            tuple(dict.fromkeys(words for _, words, _ in rows)),
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
    kind, _ = NEEDS[finding.kind]
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
