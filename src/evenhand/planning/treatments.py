"""What is done about each fault: its treatments in order, how long one is kept, and how its success is heard.

A treatment is a few steps that are taught over a week: the hand alone, the hand leading, the notes around the
place, and the exercise again. When ``WEEKS_BEFORE_ANOTHER`` weeks of it have changed nothing, the next one is
proposed. That slow and partial practice mend a fault is common practice: slow practice is used by nearly all
musicians who were asked, no cause and effect was shown (Allingham & Wollner 2022, Psychol Music). How the
steps are chosen for each fault is common practice, too.

Conventions: weeks are seven days, counted back from the newest take. A fault is one hand's, or both hands'.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean
from typing import Literal

from evenhand.measuring.values import SMALLEST_AUDIBLE_MS, Evidence, FindingKind, Measure
from evenhand.music.exercise import Exercise, Hand
from evenhand.music.strokes.heights import StrokeClass
from evenhand.planning.standing import fault_of
from evenhand.progress.history import PastTake

Step = Literal["slower", "alone", "leading", "around", "leaning", "short goes"]
FaultGroup = Literal["hand", "doubles", "place", "heights", "graces", "pulse"]


@dataclass(frozen=True, slots=True)
class Treatment:
    """The steps of a week, and the measure of the recorded take in which success will be heard.

    ``measure`` goes by its place in a take's JSON, ``{hand}`` for the hand's letter.
    """

    steps: tuple[Step, ...]
    measure: str


GROUPS: Mapping[FindingKind, FaultGroup] = {
    "weak_hand": "hand",
    "late_hand": "hand",
    "early_hand": "hand",
    "wandering_hand": "hand",
    "weak_second": "doubles",
    "uneven_double": "doubles",
    "missed_note": "place",
    "accents_flat": "heights",
    "taps_high": "heights",
    "flam_flat": "graces",
    "flam_wide": "graces",
    "hurrying": "pulse",
    "dragging": "pulse",
    "tiring": "pulse",
    "uneven_above_tempo": "pulse",
}
_LEVEL, _TIME, _SPREAD = "balance.level_db", "balance.timing_ms", "hands.{hand}.timing_sd_ms"
_SECOND, _SHARE = "doubles.{hand}.second_minus_first_db", "doubles.{hand}.short_share"
_ACCENT, _GAP, _GRACE = "accents.{hand}.over_taps_db", "graces.{hand}.gap_ms", "graces.{hand}.level_db"
_DRIFT, _TIRES = "drift_bpm_per_min", "fatigue.level_trend_db_per_min"

# Of each fault the treatments in the order in which they are tried (common practice). A weak hand needs
# strokes of its own, then the lead, then to be leaned on; a late one needs the beat first; a weak second note
# needs room; a lost note needs the few notes around it; a pulse that runs away needs short goes.
TREATMENTS: Mapping[FindingKind, tuple[Treatment, ...]] = {
    "weak_hand": (
        Treatment(("alone", "leading"), _LEVEL),
        Treatment(("leaning", "alone"), _LEVEL),
        Treatment(("slower", "leading"), _LEVEL),
    ),
    "late_hand": (
        Treatment(("leading", "alone"), _TIME),
        Treatment(("slower", "leading"), _TIME),
        Treatment(("alone", "leaning"), _TIME),
    ),
    "early_hand": (
        Treatment(("slower", "alone"), _TIME),
        Treatment(("leading", "alone"), _TIME),
    ),
    "wandering_hand": (
        Treatment(("alone", "slower"), _SPREAD),
        Treatment(("slower", "leading"), _SPREAD),
        Treatment(("short goes", "alone"), _SPREAD),
    ),
    "weak_second": (
        Treatment(("slower", "alone"), _SECOND),
        Treatment(("leaning", "slower"), _SECOND),
        Treatment(("around", "alone"), _SECOND),
    ),
    "uneven_double": (
        Treatment(("slower", "alone"), _SHARE),
        Treatment(("around", "slower"), _SHARE),
        Treatment(("leaning", "alone"), _SHARE),
    ),
    "missed_note": (
        Treatment(("around", "slower"), "positions.missed"),
        Treatment(("alone", "around"), "positions.missed"),
    ),
    "accents_flat": (
        Treatment(("slower", "alone"), _ACCENT),
        Treatment(("around", "slower"), _ACCENT),
    ),
    "taps_high": (
        Treatment(("slower", "alone"), _ACCENT),
        Treatment(("around", "slower"), _ACCENT),
    ),
    "flam_flat": (Treatment(("slower", "around"), _GAP), Treatment(("around", "alone"), _GAP)),
    "flam_wide": (Treatment(("slower", "around"), _GAP), Treatment(("around", "leading"), _GRACE)),
    "hurrying": (Treatment(("short goes", "slower"), _DRIFT), Treatment(("slower", "leading"), _DRIFT)),
    "dragging": (Treatment(("short goes", "slower"), _DRIFT), Treatment(("slower", "leading"), _DRIFT)),
    "tiring": (Treatment(("short goes", "slower"), _TIRES), Treatment(("slower", "short goes"), _TIRES)),
    "uneven_above_tempo": (Treatment(("slower", "around"), _SPREAD), Treatment(("slower", "alone"), _SPREAD)),
}

LAST_TAKES = 8  # so many of the newest takes say what is weak now
WEEKS_BEFORE_ANOTHER = 3
FALLS_BY = 0.2  # of the figure: less is no change (a convention)
SAME_IN_ALL = 3  # takes, all of them with one hand behind: a reason, though no take alone is heard so


@dataclass(frozen=True, slots=True)
class HeardFault:
    """One fault as the newest takes show it.

    ``takes`` of the newest ``of`` showed it; ``exercise`` is the one in which it was heard last, at
    ``positions`` where it is of single notes. ``weeks`` has its mean figure in each week in a row that showed
    it, oldest first. ``audible`` is False for what only stands out over several takes.
    """

    kind: FindingKind
    hand: Hand | None
    exercise: Exercise
    stroke: StrokeClass | None
    takes: int
    of: int
    figure: Measure | None
    positions: tuple[int, ...] = ()
    weeks: tuple[float, ...] = ()
    audible: bool = True

    @property
    def group(self) -> FaultGroup:
        """What kind of work it needs."""
        return GROUPS[self.kind]

    @property
    def unchanged_weeks(self) -> int:
        """How many weeks in a row the figure has not got smaller to speak of; one for a new fault.

        Each week is taken no worse than the one before it: to come back from one bad week is no change.
        """
        n = 1
        for earlier, before in reversed(list(pairwise((*self.weeks[:1], *self.weeks[:-1])))):
            if self.weeks[-1] <= (1 - FALLS_BY) * min(earlier, before):
                break
            n += 1
        return n

    @property
    def changes_of_treatment(self) -> int:
        """How often another treatment was proposed because three weeks of one changed nothing."""
        return (self.unchanged_weeks - 1) // WEEKS_BEFORE_ANOTHER

    @property
    def treatment(self) -> Treatment:
        """The treatment that it is time for."""
        known = TREATMENTS[self.kind]
        return known[self.changes_of_treatment % len(known)]


def heard_faults(takes: Sequence[PastTake]) -> tuple[HeardFault, ...]:
    """Return what the newest takes show to be wrong, what was heard most often first.

    What only stands out over several takes comes after what an ear can tell.
    """
    clear = [take for take in takes if take.clear]
    newest = clear[-LAST_TAKES:]
    rows: dict[tuple[FindingKind, Hand | None], list[tuple[PastTake, Evidence | None]]] = {}
    for take in newest:
        for finding in take.findings:
            fault = fault_of(finding)
            if fault is not None and fault[0] in TREATMENTS:
                rows.setdefault(fault, []).append((take, finding.evidence))
    found = [_heard(kind, hand, shown, clear, len(newest)) for (kind, hand), shown in rows.items()]
    behind = _always_behind(newest)
    if behind is not None and not any(each.kind in ("late_hand", "early_hand") for each in found):
        found.append(behind)
    return tuple(
        sorted(found, key=lambda each: (not each.audible, -each.takes, list(TREATMENTS).index(each.kind)))
    )


def _heard(
    kind: FindingKind,
    hand: Hand | None,
    shown: Sequence[tuple[PastTake, Evidence | None]],
    takes: Sequence[PastTake],
    of: int,
) -> HeardFault:
    take, evidence = shown[-1]
    return HeardFault(
        kind=kind,
        hand=hand,
        exercise=take.exercise,
        stroke=take.stroke,
        takes=len({id(each) for each, _ in shown}),
        of=of,
        figure=None if evidence is None else evidence.figure,
        positions=() if evidence is None else evidence.positions,
        weeks=_by_week(kind, hand, takes),
    )


def _by_week(kind: FindingKind, hand: Hand | None, takes: Sequence[PastTake]) -> tuple[float, ...]:
    """Return a fault's mean size in each of the newest weeks in a row with it; weeks without takes pass."""
    newest = takes[-1].day
    weeks: dict[int, list[PastTake]] = {}
    for take in takes:
        weeks.setdefault((newest - take.day).days // 7, []).append(take)
    sizes = []
    for back in sorted(weeks):
        of_it = [
            abs(finding.evidence.value)
            for take in weeks[back]
            for finding in take.findings
            if fault_of(finding) == (kind, hand)
            and finding.evidence is not None
            and finding.evidence.value is not None
        ]
        if not of_it:
            break
        sizes.append(fmean(of_it))
    return tuple(reversed(sizes))


def _always_behind(takes: Sequence[PastTake]) -> HeardFault | None:
    """Return the hand that came late in every take by more than an ear can tell of close notes.

    At a slow tempo a take alone may not show it: the edge grows with the interval.
    """
    figures = [(take, take.measures.get("balance.timing_ms")) for take in takes]
    known = [(take, each.value) for take, each in figures if each is not None and each.value is not None]
    values = [value for _, value in known]
    if len(values) < SAME_IN_ALL or not (min(values) > 0 or max(values) < 0):
        return None
    mean = fmean(values)
    if abs(mean) < SMALLEST_AUDIBLE_MS:
        return None
    take = known[-1][0]
    return HeardFault(
        kind="late_hand",
        hand="R" if mean > 0 else "L",
        exercise=take.exercise,
        stroke=take.stroke,
        takes=len(values),
        of=len(takes),
        figure=Measure(mean, len(values), "ms", (min(values), max(values))),
        audible=False,
    )
