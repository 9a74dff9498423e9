"""Judge a stage's conditions by what was heard.

Conventions: days are ordinals (``date.toordinal``). Figures come from the newest takes (``NEWEST`` of them,
none as much as ``WINDOW_DAYS`` older than the newest); a ceiling and the drops from all of those days; days
are counted over the whole stay in the stage. Where takes at several tempos are judged by what an ear can
tell, each is held against its own tempo and the figure is given at the middle one. A drop's bounces are its
blows, the landing too; hands are told apart where the drops are labelled with them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import Literal

import numpy as np

from evenhand.measuring.values import AUDIBLE_LEVEL_DB, FindingKind, Measure, typical_interval_ms
from evenhand.music.exercise import HANDS, Hand
from evenhand.music.writing.rates import double_interval_s, rate_per_s
from evenhand.progress.bounce.restitution import HeardDrop
from evenhand.progress.ceiling.control import TempoCeiling, TriedRepetition
from evenhand.progress.ceiling.estimate import FEWEST, tempo_ceiling
from evenhand.progress.history import PastBounce, PastTake, audible_in, played_bpm
from evenhand.progress.stages.path import EIGHTH, PATH_MEASURES, SINGLES, Condition
from evenhand.progress.stages.seen import judge_seen
from evenhand.progress.stages.verdicts import (
    Judged,
    Verdict,
    hand_not_heard,
    judged_hands,
    judged_one,
    not_shown,
)
from evenhand.progress.statistics import error_of, log_error_of, pooled, t_975
from evenhand.take import Remark

FEWEST_DROPS = 3
COUNTED_SD = 0.29  # a whole number stands for anything within half of it: 1 / sqrt(12)
NO_DROPS = Remark("no drops heard")
NO_HANDS = Remark("hands of drops not known")


def judge_free_drops(condition: Condition, bounces: Sequence[PastBounce]) -> Judged:
    """Count the drops left free; a count has no interval, but what is unsure leaves it open."""
    drops = _drops(bounces)
    if not drops or condition.bound is None:
        return not_shown(condition, NO_DROPS)
    hands = _drop_conditions_by_hand(drops)
    if not hands:
        verdict, why = _counted(drops, condition.bound, "")
        free = float(_free(drops))
        return Judged(condition, verdict, free, None, len(drops), condition.bound, remark=why or NO_HANDS)
    sides = {hand: _counted(of_it, condition.bound, hand) for hand, of_it in hands.items()}
    order = ("not met", "can't tell", "met")
    worse = min(hands, key=lambda hand: (order.index(sides[hand][0]), _free(hands[hand])))
    counts = {hand: Measure(float(_free(of_it)), len(of_it), "drops") for hand, of_it in hands.items()}
    verdict, why = sides[worse]
    if verdict == "met" and (lacking := hand_not_heard(counts)) is not None:
        verdict, why = "can't tell", lacking
    value, n = counts[worse].value, counts[worse].n
    return Judged(condition, verdict, value, None, n, condition.bound, worse, counts, remark=why)


def judge_bounces(condition: Condition, bounces: Sequence[PastBounce]) -> Judged:
    """Judge the mean number of bounces of the drops left free."""
    drops = [drop for drop in _drops(bounces) if drop.kind == "free"]
    if not drops or condition.bound is None:
        return not_shown(condition, Remark("no free drop") if _drops(bounces) else NO_DROPS)
    hands = _drop_conditions_by_hand(drops)
    if not hands:
        return judged_one(condition, _mean(drops), condition.bound)
    bounds = dict.fromkeys(hands, condition.bound)
    return judged_hands(condition, {hand: _mean(of_it) for hand, of_it in hands.items()}, bounds)


def _drops(bounces: Sequence[PastBounce]) -> list[HeardDrop]:
    return [drop for each in bounces for drop in each.drops]


def _free(drops: Sequence[HeardDrop]) -> int:
    return sum(drop.kind == "free" for drop in drops)


def _drop_conditions_by_hand(drops: Sequence[HeardDrop]) -> Mapping[Hand, list[HeardDrop]]:
    """Tell the hands apart by the drops' labels, such as ``R`` or ``fingertips, R``."""
    out: dict[Hand, list[HeardDrop]] = {}
    for drop in drops:
        parts = [part.strip() for part in (drop.label or "").split(",")]
        for hand in HANDS:
            if hand in parts:
                out.setdefault(hand, []).append(drop)
    return out


def _counted(
    drops: Sequence[HeardDrop], bound: float, hand: Hand | Literal[""]
) -> tuple[Verdict, Remark | None]:
    """Say whether enough were left free; too few heard, or unsure ones, leave it open."""
    free = _free(drops)
    if free >= bound:
        return "met", None
    unsure = sum(drop.kind == "unsure" for drop in drops)
    if len(drops) < bound:
        return "can't tell", Remark("few drops heard", {"n": len(drops), "hand": hand})
    if free + unsure >= bound:
        return "can't tell", Remark("drops unsure", {"n": unsure, "hand": hand})
    return "not met", Remark("drops damped", {"n": len(drops) - free - unsure, "hand": hand})


def _mean(drops: Sequence[HeardDrop]) -> Measure:
    """Return the mean number of bounces with its interval."""
    counts = np.array([drop.bounces for drop in drops], dtype=np.float64)
    n = len(counts)
    if n < FEWEST_DROPS:
        return Measure(None, n, "bounces", needs=FEWEST_DROPS)
    mean, spread = float(counts.mean()), max(float(counts.std(ddof=1)), COUNTED_SD)
    reach = t_975(n - 1) * spread / math.sqrt(n)
    return Measure(mean, n, "bounces", (max(mean - reach, 0.0), mean + reach))


NEWEST = 8  # takes that are judged together (a convention)
WINDOW_DAYS = 14  # and none older than that against the newest (a convention)
USUAL_BETWEEN_LOG = 0.12  # how much takes of one student usually differ: of a spread's logarithm,
USUAL_BETWEEN_MS = 1.5  # of how far the hands are apart,
USUAL_BETWEEN_DB = (
    0.5  # of a level difference (all three are conventions; they count for less the more takes)
)
SMALLEST_SPREAD = 0.01  # ms or dB: what is smaller is as good as zero
NOT_SHOWN = Remark("no take shows this")

Row = tuple[Measure, float]  # a take's figure, and the bound it is held against


@dataclass(frozen=True, slots=True)
class ShownSoFar:
    """What a student has shown: takes and drops in order of their day."""

    takes: tuple[PastTake, ...] = ()
    bounces: tuple[PastBounce, ...] = ()

    @property
    def days(self) -> tuple[int, ...]:
        """The different days, rising."""
        takes = {take.day.toordinal() for take in self.takes}
        return tuple(sorted(takes | {bounce.day.toordinal() for bounce in self.bounces}))

    def between(self, first: int, last: int) -> ShownSoFar:
        """Return what was shown from one day to another."""
        return ShownSoFar(
            tuple(take for take in self.takes if first <= take.day.toordinal() <= last),
            tuple(bounce for bounce in self.bounces if first <= bounce.day.toordinal() <= last),
        )

    def recent(self) -> ShownSoFar:
        """Return what is not too old against the newest."""
        newest = max(self.days, default=0)
        return self.between(newest - WINDOW_DAYS + 1, newest)


_OF_DROPS = {"free_drops": judge_free_drops, "bounces": judge_bounces}


def judge(condition: Condition, shown: ShownSoFar) -> Judged:
    """Judge one condition by what was shown of its stage."""
    if condition.measure == "days":
        return _days(condition, shown)
    recent = shown.recent()
    if condition.measure in _OF_DROPS:
        return _OF_DROPS[condition.measure](condition, recent.bounces)
    takes = tuple(take for take in recent.takes if take.clear)
    if PATH_MEASURES[condition.measure].seen:
        return judge_seen(condition, takes)
    if condition.within_ms is not None:
        takes = tuple(take for take in takes if _doubles_ms(take) <= condition.within_ms)
    if condition.measure == "ceiling_per_s":
        return _ceiling(condition, takes)
    if condition.measure == "steady_s":
        return _steady(condition, takes)
    return _figure(condition, takes[-NEWEST:])


def _doubles_ms(take: PastTake) -> float:
    """Return how close a double's two notes were in a take; endless where it has none."""
    tempo = replace(take.tempo, bpm=played_bpm(take))
    close_s = double_interval_s(take.exercise, tempo)
    return math.inf if close_s is None else 1000 * close_s


def _steady(condition: Condition, takes: Sequence[PastTake]) -> Judged:
    """Judge how long one go was held without hurrying, dragging or tiring; a length has no interval."""
    bound = condition.bound or 0.0
    steady = [take.seconds for take in takes if not any(f.kind in UNSTEADY for f in take.findings)]
    if not takes:
        return not_shown(condition, NOT_SHOWN)
    value = max(steady, default=0.0)
    tried = any(take.seconds >= bound for take in takes)
    verdict: Verdict = "met" if value >= bound else "not met" if tried else "can't tell"
    remark = Remark("no take so long", {"seconds": bound}) if verdict == "can't tell" else None
    return Judged(condition, verdict, value, None, len(takes), bound, remark=remark)


def _days(condition: Condition, shown: ShownSoFar) -> Judged:
    n = len(shown.days)
    verdict: Verdict = "met" if n >= (condition.bound or 0.0) else "not met"
    return Judged(condition, verdict, float(n), None, n, condition.bound)


def _ceiling(condition: Condition, takes: Sequence[PastTake]) -> Judged:
    """Judge the rate up to which the stage's exercises are in control, whichever they are.

    The estimate is made of tempos: those of single strokes in eighths that are as fast for the busier hand.
    """
    tried = [replace(each, tempo_bpm=_singles_bpm(take, each)) for take in takes for each in take.tried]
    if len(tried) < FEWEST or condition.bound is None:
        so_far = Remark("repetitions so far", {"n": len(tried), "needed": FEWEST})
        return not_shown(condition, so_far, len(tried))
    found = tempo_ceiling(tried, EIGHTH)
    known = judged_one(condition, _per_s(found.ceiling), condition.bound)
    at_least, at_most = (
        None if bpm is None else bpm / SINGLES for bpm in (found.at_least_bpm, found.at_most_bpm)
    )
    verdict = known.verdict
    if at_least is not None and at_least >= condition.bound:
        verdict = "met"
    elif at_most is not None and at_most < condition.bound:
        verdict = "not met"
    return replace(
        known,
        verdict=verdict,
        n=len(tried),
        hands={hand: _per_s(measure) for hand, measure in found.hands.items()},
        at_least=at_least,
        at_most=at_most,
        needs=None,
        remark=_would_tell(found) if verdict == "can't tell" else None,
    )


def _singles_bpm(take: PastTake, tried: TriedRepetition) -> float:
    """Return the tempo at which single strokes in eighths are as fast for a hand as this repetition was."""
    return SINGLES * rate_per_s(take.exercise, replace(take.tempo, bpm=tried.tempo_bpm))


def _per_s(found: Measure) -> Measure:
    """Turn a ceiling from beats a minute into strokes a second."""
    value = None if found.value is None else found.value / SINGLES
    ci95 = None if found.ci95 is None else (found.ci95[0] / SINGLES, found.ci95[1] / SINGLES)
    return replace(found, value=value, ci95=ci95, unit="strokes/s")


def _would_tell(found: TempoCeiling) -> Remark | None:
    """Say how fast to try next."""
    if found.next_tempo_bpm is None:
        return None
    return Remark("rate would tell", {"per_s": found.next_tempo_bpm / SINGLES})


# By measure: its place in a take; what an ear can tell (None: at the take's tempo); and how much takes
# usually differ (None: it is a spread, pooled on its logarithm).
_FIGURES: Mapping[str, tuple[str, float | None, float | None]] = {
    "spread_ms": ("hands.{hand}.timing_sd_ms", None, None),
    "level_spread_db": ("hands.{hand}.level_sd_db", AUDIBLE_LEVEL_DB, None),
    "hands_apart_ms": ("balance.timing_ms", None, USUAL_BETWEEN_MS),
    "balance_db": ("balance.level_db", AUDIBLE_LEVEL_DB, USUAL_BETWEEN_DB),
    "second_db": ("doubles.{hand}.second_minus_first_db", -AUDIBLE_LEVEL_DB, USUAL_BETWEEN_DB),
    "second_ms": ("doubles.{hand}.short_share", None, USUAL_BETWEEN_MS),
    "accents_db": ("accents.{hand}.over_taps_db", None, USUAL_BETWEEN_DB),
    "grace_ms": ("graces.{hand}.gap_ms", None, USUAL_BETWEEN_MS),
    "grace_db": ("graces.{hand}.level_db", None, USUAL_BETWEEN_DB),
}
TWO_SIDED = ("second_ms",)  # of each hand, and may stray to either side of zero
UNSTEADY: frozenset[FindingKind] = frozenset({"tiring", "hurrying", "dragging", "uneven_above_tempo"})
EVEN_SHARE = 0.5  # of a double: the second halfway between the first and the next hand's note


def _figure(condition: Condition, takes: Sequence[PastTake]) -> Judged:
    """Pool the takes' figures of each hand, or of the hands' difference, and judge them."""
    place, audible, usual = _FIGURES[condition.measure]
    bound = audible if condition.bound is None else condition.bound
    hands: dict[Hand, Measure] = {}
    bounds: dict[Hand, float] = {}
    for hand in HANDS:
        rows = _rows(takes, place.format(hand=hand), bound)
        found = _pooled_logs(rows) if usual is None else _pooled(rows, usual=usual)
        if found is None:
            continue
        if "{hand}" not in place:
            return judged_one(condition, *found, two_sided=True)
        hands[hand], bounds[hand] = found
    if not hands:
        return not_shown(condition, NOT_SHOWN)
    return judged_hands(condition, hands, bounds, two_sided=condition.measure in TWO_SIDED)


def _rows(takes: Sequence[PastTake], place: str, bound: float | None) -> list[Row]:
    """Gather a figure with the bound of its take (None: what an ear can tell), where it has an interval."""
    found = [
        (_in_ms(take, place, take.measures.get(place)), audible_in(take) if bound is None else bound)
        for take in takes
    ]
    return [
        (measure, bound) for measure, bound in found if measure is not None and error_of(measure) is not None
    ]


def _in_ms(take: PastTake, place: str, measure: Measure | None) -> Measure | None:
    """Turn a double's short share into how late its second note comes, ms; leave other figures as they are.

    The share is of the time from the first note to the next hand's, two of the take's intervals.
    """
    if measure is None or not place.endswith("short_share") or measure.value is None or measure.ci95 is None:
        return measure
    both_ms = 2 * typical_interval_ms(take.exercise, played_bpm(take), take.tempo.beat)
    low, high = ((edge - EVEN_SHARE) * both_ms for edge in measure.ci95)
    return Measure((measure.value - EVEN_SHARE) * both_ms, measure.n, "ms", (low, high))


def _pooled(rows: Sequence[Row], *, usual: float) -> tuple[Measure, float] | None:
    """Pool signed figures; return what they come to, and the middle bound it is held against."""
    if not rows:
        return None
    bound = median(each for _, each in rows)
    scale = np.array([bound / each if each else 1.0 for _, each in rows])
    values = scale * np.array([measure.value for measure, _ in rows], dtype=np.float64)
    errors = scale * np.array([error_of(measure) for measure, _ in rows], dtype=np.float64)
    found = pooled(values, errors, usual)
    return Measure(found.value, len(rows), rows[0][0].unit, found.ci95), bound


def _pooled_logs(rows: Sequence[Row]) -> tuple[Measure, float] | None:
    """Pool spreads, which are positive, on their logarithm."""
    if not rows:
        return None
    bound = median(each for _, each in rows)
    floored = [(_floored(measure), each) for measure, each in rows]
    values = np.log([(measure.value or SMALLEST_SPREAD) * bound / each for measure, each in floored])
    errors = np.array([log_error_of(measure) for measure, _ in floored], dtype=np.float64)
    found = pooled(values, errors, USUAL_BETWEEN_LOG)
    low, high = (float(np.exp(edge)) for edge in found.ci95)
    return Measure(float(np.exp(found.value)), len(rows), rows[0][0].unit, (low, high)), bound


def _floored(measure: Measure) -> Measure:
    """Keep a spread off zero, where it has no logarithm."""
    low, high = measure.ci95 or (SMALLEST_SPREAD, SMALLEST_SPREAD)
    value = max(measure.value or 0.0, SMALLEST_SPREAD)
    low = max(low, SMALLEST_SPREAD)
    return replace(measure, value=value, ci95=(low, max(high, low)))
