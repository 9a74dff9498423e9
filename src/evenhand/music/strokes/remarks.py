"""What to know of a stroke plan: what is awkward, what only goes with force, where doubles bounce.

Conventions: ``seconds`` holds the time from each blow to the same hand's next, None without a tempo.
Positions count from 0. A remark never forbids: it says what the
figures are, and the teacher decides.

A double is two blows by one hand with none of the other's between, around the repeat too;
of a longer run every second blow can be a bounce. Times s, heights cm.

The hands: voluntary rhythmic movement usually ends at 5 to 7 a second, 200 to 150 ms (Fujii, Kudo, Ohtsuki
& Oda 2009). So two wrist strokes go above 200 ms; below 150 ms the second is taken as a bounce.
The stick: thrown from h it comes back by itself after 2 e sqrt(2 g h) / g. A second note that is due later
than that cannot be a bounce; one that is due sooner is helped by the fingers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from evenhand.music.exercise import Hand, Tempo
from evenhand.music.strokes.heights import PlannedStroke
from evenhand.music.strokes.rebound import (
    Step,
    bounce_interval_s,
    fall_time_s,
    free_height_cm,
    free_interval_s,
    rise_height_cm,
)

WRISTS_OVER_S = 0.200
BOUNCE_UNDER_S = 0.150

PlayedAs = Literal["wrists", "turning", "bounce"]


@dataclass(frozen=True, slots=True)
class Doubles:
    """One hand's doubles at a tempo; where their shortest turns.

    ``second_notes`` are positions. At ``turns_from_bpm`` (of the tempo's beat) two wrist strokes begin to
    be too fast, from ``turned_at_bpm`` on the second is a bounce; ``bounce_from_bpm`` is the slowest tempo at
    which a throw from the planned height comes back in time by itself.
    """

    hand: Hand
    second_notes: tuple[int, ...]
    interval_s: float
    played_as: PlayedAs
    free_bounce_s: float
    bounce_from_bpm: float
    turns_from_bpm: float
    turned_at_bpm: float


def runs_of(steps: Sequence[Step]) -> list[list[int]]:
    """Gather the runs of one hand, as indices into ``steps``; none where only one hand plays."""
    n = len(steps)
    first = next((i for i in range(n) if not steps[i - 1].adjacent), None)
    if first is None:
        return []
    runs: list[list[int]] = []
    for turn in range(n):
        index = (first + turn) % n
        if steps[index - 1].adjacent:
            runs[-1].append(index)
        else:
            runs.append([index])
    return [run for run in runs if len(run) > 1]


def bounces_of(
    steps: Sequence[Step], strokes: Sequence[PlannedStroke], seconds: Sequence[float]
) -> list[tuple[int, int]]:
    """Return each throw and its bounce, as indices into ``steps``."""
    return _pairs(
        steps,
        lambda throw, second: (
            seconds[throw] < BOUNCE_UNDER_S and _may_bounce(steps[throw], strokes[throw], strokes[second])
        ),
    )


def _pairs(steps: Sequence[Step], go_together: Callable[[int, int], bool]) -> list[tuple[int, int]]:
    """Pair off the blows of each run from its first, those that go together."""
    out = []
    for run in runs_of(steps):
        at = 0
        while at + 1 < len(run):
            if go_together(run[at], run[at + 1]):
                out.append((run[at], run[at + 1]))
                at += 1
            at += 1
    return out


def _may_bounce(step: Step, throw: PlannedStroke, second: PlannedStroke) -> bool:
    """Tell whether the second can be a bounce: it is no louder than its throw, and neither is a buzz."""
    return second.before_cm <= throw.before_cm and not (step.blow.buzz or step.next.buzz)


def doubles_of(
    steps: Sequence[Step], strokes: Sequence[PlannedStroke], tempo: Tempo, restitution: float
) -> tuple[Doubles, ...]:
    """Sum up each hand's doubles between written notes: how they are played, and where they turn."""
    pairs = _pairs(
        steps,
        lambda throw, second: (
            steps[throw].blow.grace is steps[second].blow.grace is None
            and _may_bounce(steps[throw], strokes[throw], strokes[second])
        ),
    )
    hands = sorted({steps[throw].blow.hand for throw, _ in pairs}, reverse=True)
    return tuple(
        _summed_up([p for p in pairs if steps[p[0]].blow.hand == hand], steps, strokes, tempo, restitution)
        for hand in hands
    )


def _summed_up(
    pairs: list[tuple[int, int]],
    steps: Sequence[Step],
    strokes: Sequence[PlannedStroke],
    tempo: Tempo,
    restitution: float,
) -> Doubles:
    shortest = min((throw for throw, _ in pairs), key=lambda throw: steps[throw].own_interval)
    step, interval_s = steps[shortest], steps[shortest].seconds(tempo.whole_note_s)
    free_s = bounce_interval_s(strokes[shortest].before_cm, restitution)
    return Doubles(
        hand=step.blow.hand,
        second_notes=tuple(sorted(steps[second].blow.position for _, second in pairs)),
        interval_s=interval_s,
        played_as=_played_as(interval_s),
        free_bounce_s=free_s,
        bounce_from_bpm=step.bpm_at(free_s, tempo.beat),
        turns_from_bpm=step.bpm_at(WRISTS_OVER_S, tempo.beat),
        turned_at_bpm=step.bpm_at(BOUNCE_UNDER_S, tempo.beat),
    )


def _played_as(interval_s: float) -> PlayedAs:
    if interval_s < BOUNCE_UNDER_S:
        return "bounce"
    return "turning" if interval_s < WRISTS_OVER_S else "wrists"


StrokeRemarkKind = Literal[
    "needs_throw",
    "needs_lift",
    "stop_low",
    "grace_after_high",
    "quick_lift",
    "loud_second",
    "fast_hand",
    "buzz",
]
Need = Literal["throw", "lift"]


@dataclass(frozen=True, slots=True)
class StrokeRemark:
    """One thing to know of a plan. ``positions`` are the notes it is about, ``hands`` whose.

    ``graces`` counts the blows where all are graces. Figures are in s, cm and beats a minute, as named.
    """

    kind: StrokeRemarkKind
    positions: tuple[int, ...]
    hands: tuple[Hand, ...]
    graces: int = 0
    figures: Mapping[str, float] = field(default_factory=dict)


def need_of(height_cm: float, interval_s: float) -> Need | None:
    """Say what a height needs in an interval: nothing but rebound and weight, a throw, or a lift by the hand.

    >>> need_of(30.48, 0.5), need_of(30.48, 0.4), need_of(30.48, 0.2)
    (None, 'throw', 'lift')
    """
    if height_cm <= free_height_cm(interval_s):
        return None
    return "throw" if height_cm <= rise_height_cm(interval_s) else "lift"


@dataclass(frozen=True, slots=True)
class _Plan:
    """All there is to look at."""

    steps: Sequence[Step]
    strokes: Sequence[PlannedStroke]
    bounces: frozenset[int]  # indices of second notes that are bounces
    seconds: Sequence[float]
    beat: Fraction

    def hand_led(self, index: int) -> bool:
        """Tell whether the hand decides what the stick does after a blow, not a bounce or a buzz."""
        return self.steps[index].to not in self.bounces and not self.steps[index].blow.buzz


def remarks_on(
    strokes: Sequence[PlannedStroke],
    steps: Sequence[Step],
    *,
    seconds: Sequence[float] | None,
    tempo: Tempo | None,
) -> tuple[StrokeRemark, ...]:
    """Look over a plan."""
    untimed = [*_graces_after_high(strokes, steps), *_buzzes(steps)]
    if seconds is None or tempo is None:
        return tuple(untimed)
    bounces = frozenset(i for i, stroke in enumerate(strokes) if stroke.bounce)
    plan = _Plan(steps, strokes, bounces, seconds, tempo.beat)
    return (
        *_needs(plan),
        *_stops_low(plan),
        *_quick_lifts(plan),
        *_loud_seconds(plan),
        *_fast_hands(plan),
        *untimed,
    )


def _needs(plan: _Plan) -> list[StrokeRemark]:
    """Find heights that rebound and weight alone do not give, the highest first."""
    found: dict[float, list[int]] = {}
    for index, stroke in enumerate(plan.strokes):
        need = need_of(stroke.after_cm, plan.seconds[index]) if plan.hand_led(index) else None
        if need == "throw" or (need == "lift" and stroke.motion != "up"):  # up strokes are spoken of below
            found.setdefault(stroke.after_cm, []).append(index)
    heights_cm = sorted(found, reverse=True)
    return [remark for height_cm in heights_cm for remark in _need(plan, height_cm, found[height_cm])]


def _need(plan: _Plan, height_cm: float, ways: list[int]) -> list[StrokeRemark]:
    """Return what a height needs, by the way that has the least time."""
    tightest = min(ways, key=lambda way: plan.seconds[way])
    given_s, needed_s = plan.seconds[tightest], free_interval_s(height_cm)
    return _remarks(
        "needs_throw" if need_of(height_cm, given_s) == "throw" else "needs_lift",
        plan.steps,
        [plan.steps[way].to for way in ways],
        height_cm=height_cm,
        needed_s=needed_s,
        given_s=given_s,
        reached_cm=free_height_cm(given_s),
        rise_s=fall_time_s(height_cm),
        relaxed_bpm=plan.steps[tightest].bpm_at(needed_s, plan.beat),
    )


def _stops_low(plan: _Plan) -> list[StrokeRemark]:
    """Find down strokes with the same hand's next blow close behind."""
    ways = [
        i
        for i, stroke in enumerate(plan.strokes)
        if stroke.motion == "down" and plan.seconds[i] < WRISTS_OVER_S and plan.hand_led(i)
        if plan.steps[i].next.grace is None
    ]
    return _remarks("stop_low", plan.steps, ways, given_s=_least_s(plan, ways))


def _quick_lifts(plan: _Plan) -> list[StrokeRemark]:
    """Find up strokes in less time than a free rise to the height takes."""
    ways = [
        i
        for i, stroke in enumerate(plan.strokes)
        if stroke.motion == "up" and plan.seconds[i] < fall_time_s(stroke.after_cm)
        if not (plan.steps[i].adjacent and plan.seconds[i] < BOUNCE_UNDER_S)  # those are loud seconds
    ]
    after_cm = max((plan.strokes[i].after_cm for i in ways), default=0.0)
    given_s, rise_s = _least_s(plan, ways), fall_time_s(after_cm)
    return _remarks("quick_lift", plan.steps, ways, given_s=given_s, height_cm=after_cm, rise_s=rise_s)


def _loud_seconds(plan: _Plan) -> list[StrokeRemark]:
    """Find second notes that are louder than their first and too soon for a second wrist stroke."""
    ways = [
        i
        for i, step in enumerate(plan.steps)
        if step.adjacent and plan.seconds[i] < BOUNCE_UNDER_S and plan.strokes[i].motion == "up"
    ]
    seconds = [plan.steps[i].to for i in ways]
    return _remarks("loud_second", plan.steps, seconds, given_s=_least_s(plan, ways))


def _fast_hands(plan: _Plan) -> list[StrokeRemark]:
    """Find hands that go on faster than wrists usually do, by three or more blows in a row of their own."""
    out: dict[int, float] = {}
    for index, way in enumerate(plan.seconds):
        then = plan.steps[index].to
        both = (way, plan.seconds[then])
        if max(both) < WRISTS_OVER_S and plan.strokes[index].grace is plan.strokes[then].grace is None:
            out[index] = sum(both) / 2
    return _remarks("fast_hand", plan.steps, list(out), given_s=min(out.values(), default=0.0))


def _graces_after_high(strokes: Sequence[PlannedStroke], steps: Sequence[Step]) -> list[StrokeRemark]:
    """Find graces by a hand that has just played from high up."""
    graces = [
        step.to
        for stroke, step in zip(strokes, steps, strict=True)
        if step.next.grace is not None and stroke.motion == "down"
    ]
    return _remarks("grace_after_high", steps, graces)


def _buzzes(steps: Sequence[Step]) -> list[StrokeRemark]:
    """Find buzz strokes, after which nothing rises by itself."""
    return _remarks("buzz", steps, [index for index, step in enumerate(steps) if step.blow.buzz])


def _remarks(
    kind: StrokeRemarkKind, steps: Sequence[Step], indices: Sequence[int], **figures: float
) -> list[StrokeRemark]:
    """Make a remark about some blows, if there are any."""
    if not indices:
        return []
    blows = [steps[i].blow for i in indices]
    hands: tuple[Hand, ...] = tuple(sorted({blow.hand for blow in blows}, reverse=True))
    graces = len(blows) if all(blow.grace is not None for blow in blows) else 0
    positions = tuple(sorted({blow.position for blow in blows}))
    return [StrokeRemark(kind, positions, hands, graces, figures)]


def _least_s(plan: _Plan, ways: Sequence[int]) -> float:
    return min((plan.seconds[i] for i in ways), default=0.0)
