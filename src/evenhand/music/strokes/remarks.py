"""What a teacher should know of a stroke plan: what is awkward, and what only goes with force.

Conventions: ``seconds`` holds the time from each blow to the same hand's next, None without a tempo.
Notes count from 1 in words, positions from 0 in values. A remark never forbids: it says what the
figures are, and the teacher decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from evenhand.music.exercise import Hand, Tempo
from evenhand.music.strokes.doubles import BOUNCE_UNDER_S, WRISTS_OVER_S
from evenhand.music.strokes.heights import PlannedStroke, Unit, height_words
from evenhand.music.strokes.rebound import Step, fall_time_s, free_height_cm, free_interval_s, rise_height_cm

RemarkKind = Literal[
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
NAMED = 6  # so many notes are named; of more, the first are


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing to know of a plan. ``positions`` are the notes it is about, ``hands`` whose."""

    kind: RemarkKind
    text: str
    positions: tuple[int, ...]
    hands: tuple[Hand, ...]


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
    tempo: Tempo
    unit: Unit

    def hand_led(self, index: int) -> bool:
        """Tell whether the hand decides what the stick does after a blow, not a bounce or a buzz."""
        return self.steps[index].to not in self.bounces and not self.steps[index].blow.buzz


def remarks_on(
    strokes: Sequence[PlannedStroke],
    steps: Sequence[Step],
    *,
    seconds: Sequence[float] | None,
    tempo: Tempo | None,
    unit: Unit,
) -> tuple[Remark, ...]:
    """Look over a plan."""
    untimed = [*_graces_after_high(strokes, steps), *_buzzes(steps)]
    if seconds is None or tempo is None:
        return tuple(untimed)
    bounces = frozenset(i for i, stroke in enumerate(strokes) if stroke.bounce)
    plan = _Plan(steps, strokes, bounces, seconds, tempo, unit)
    return (
        *_needs(plan),
        *_stops_low(plan),
        *_quick_lifts(plan),
        *_loud_seconds(plan),
        *_fast_hands(plan),
        *untimed,
    )


def _needs(plan: _Plan) -> list[Remark]:
    """Find heights that rebound and weight alone do not give, the highest first."""
    found: dict[float, list[int]] = {}
    for index, stroke in enumerate(plan.strokes):
        need = need_of(stroke.after_cm, plan.seconds[index]) if plan.hand_led(index) else None
        if need == "throw" or (need == "lift" and stroke.motion != "up"):  # up strokes are spoken of below
            found.setdefault(stroke.after_cm, []).append(index)
    return [_need(plan, height_cm, found[height_cm]) for height_cm in sorted(found, reverse=True)]


def _need(plan: _Plan, height_cm: float, ways: list[int]) -> Remark:
    """Say what a height needs, by the way that has the least time."""
    tightest = min(ways, key=lambda way: plan.seconds[way])
    given_s, needed_s = plan.seconds[tightest], free_interval_s(height_cm)
    struck = [plan.steps[way].to for way in ways]
    height, reached = (height_words(h, plan.unit) for h in (height_cm, free_height_cm(given_s)))
    free_bpm = plan.steps[tightest].bpm_at(needed_s, plan.tempo.beat)
    alone = (
        f"{_names(plan.steps, struck)} from {height}: by rebound and weight alone, up and down takes "
        f"{_s(needed_s)}; there is {_s(given_s)}, enough for {reached}."
    )
    if need_of(height_cm, given_s) == "throw":
        kind: RemarkKind = "needs_throw"
        how = "It takes force: the stick is thrown, not dropped."
    else:
        kind = "needs_lift"
        how = (
            f"Rebound is not enough: rising alone takes {_s(fall_time_s(height_cm))}, so the hand must lift."
        )
    text = f"{alone} {how} Relaxed up to {_tempo(plan.tempo, free_bpm)}."
    return _remark(kind, text, plan.steps, struck)


def _stops_low(plan: _Plan) -> list[Remark]:
    """Find down strokes with the same hand's next blow close behind."""
    ways = [
        i
        for i, stroke in enumerate(plan.strokes)
        if stroke.motion == "down" and plan.seconds[i] < WRISTS_OVER_S and plan.hand_led(i)
        if plan.steps[i].next.grace is None
    ]
    if not ways:
        return []
    text = (
        f"{_names(plan.steps, ways)}: a down stroke whose hand strikes again {_least(plan, ways)} later. "
        f"Two wrist strokes usually end at {_s(WRISTS_OVER_S)} to {_s(BOUNCE_UNDER_S)}: "
        "stopping the stick low in that time is hard, and the next note comes too loud."
    )
    return [_remark("stop_low", text, plan.steps, ways)]


def _quick_lifts(plan: _Plan) -> list[Remark]:
    """Find up strokes in less time than a free rise to the height takes."""
    ways = [
        i
        for i, stroke in enumerate(plan.strokes)
        if stroke.motion == "up" and plan.seconds[i] < fall_time_s(stroke.after_cm)
        if not (plan.steps[i].adjacent and plan.seconds[i] < BOUNCE_UNDER_S)  # those are loud seconds
    ]
    if not ways:
        return []
    after_cm = max(plan.strokes[i].after_cm for i in ways)
    text = (
        f"{_names(plan.steps, ways)}: an up stroke with {_least(plan, ways)} to get from low to "
        f"{height_words(after_cm, plan.unit)}; a free rise alone takes {_s(fall_time_s(after_cm))}. "
        "Start the next note lower, or take it slower."
    )
    return [_remark("quick_lift", text, plan.steps, ways)]


def _loud_seconds(plan: _Plan) -> list[Remark]:
    """Find second notes that are louder than their first and too soon for a second wrist stroke."""
    ways = [
        i
        for i, step in enumerate(plan.steps)
        if step.adjacent and plan.seconds[i] < BOUNCE_UNDER_S and plan.strokes[i].motion == "up"
    ]
    if not ways:
        return []
    seconds = [plan.steps[i].to for i in ways]
    text = (
        f"{_names(plan.steps, seconds)}: higher than the same hand's note {_least(plan, ways)} before. "
        "A bounce is never louder than its throw, so this takes a stroke of its own, from the fingers."
    )
    return [_remark("loud_second", text, plan.steps, seconds)]


def _fast_hands(plan: _Plan) -> list[Remark]:
    """Find hands that go on faster than wrists usually do, by three or more blows in a row of their own."""
    out: dict[int, float] = {}
    for index, way in enumerate(plan.seconds):
        then = plan.steps[index].to
        both = (way, plan.seconds[then])
        if max(both) < WRISTS_OVER_S and plan.strokes[index].grace is plan.strokes[then].grace is None:
            out[index] = sum(both) / 2
    if not out:
        return []
    fastest = min(out.values())
    text = (
        f"{_hands(plan.steps, list(out))} strikes every {_s(fastest)}, {1 / fastest:.1f} a second: "
        "a hand's steady limit is usually given as 5 to 7 a second."
    )
    return [_remark("fast_hand", text, plan.steps, list(out))]


def _graces_after_high(strokes: Sequence[PlannedStroke], steps: Sequence[Step]) -> list[Remark]:
    """Find graces by a hand that has just played from high up."""
    graces = [
        step.to
        for stroke, step in zip(strokes, steps, strict=True)
        if step.next.grace is not None and stroke.motion == "down"
    ]
    if not graces:
        return []
    text = (
        f"{_names(steps, graces)}: by the hand that has just come from high. "
        "Its stick stops low after that note and waits there."
    )
    return [_remark("grace_after_high", text, steps, graces)]


def _buzzes(steps: Sequence[Step]) -> list[Remark]:
    """Find buzz strokes, after which nothing rises by itself."""
    buzzes = [index for index, step in enumerate(steps) if step.blow.buzz]
    if not buzzes:
        return []
    text = (
        f"{_names(steps, buzzes)}: a buzz uses its rebound up on the head; the hand lifts the stick after it."
    )
    return [_remark("buzz", text, steps, buzzes)]


def _remark(kind: RemarkKind, text: str, steps: Sequence[Step], indices: Sequence[int]) -> Remark:
    """Make a remark about some blows."""
    hands: tuple[Hand, ...] = tuple(sorted({steps[i].blow.hand for i in indices}, reverse=True))
    return Remark(kind, text, tuple(sorted({steps[i].blow.position for i in indices})), hands)


def _names(steps: Sequence[Step], indices: Sequence[int]) -> str:
    """Name some blows: "Notes 1, 3 and 5", "The grace at note 2"."""
    graces = all(steps[i].blow.grace is not None for i in indices)
    positions = sorted({steps[i].blow.position + 1 for i in indices})
    if len(positions) > NAMED:
        said = f"{', '.join(map(str, positions[:NAMED]))} and {len(positions) - NAMED} more"
    else:
        said = " and ".join(filter(None, [", ".join(map(str, positions[:-1])), str(positions[-1])]))
    notes = f"note{'s' if len(positions) > 1 else ''} {said}"
    if graces:
        return f"The grace{'s' if len(indices) > 1 else ''} at {notes}"
    return notes.capitalize()


def _hands(steps: Sequence[Step], indices: Sequence[int]) -> str:
    hands = {steps[i].blow.hand for i in indices}
    return "Each hand" if len(hands) == 2 else f"The {'right' if hands == {'R'} else 'left'} hand"


def _least(plan: _Plan, ways: Sequence[int]) -> str:
    return _s(min(plan.seconds[i] for i in ways))


def _s(seconds: float) -> str:
    return f"{seconds:.2f} s" if seconds >= 0.195 else f"{seconds:.3f} s"


def _tempo(tempo: Tempo, bpm: float) -> str:
    """Write a tempo in the exercise's beat, rounded down to whole beats."""
    return f"{tempo.beat.numerator}/{tempo.beat.denominator} = {math.floor(bpm + 1e-9)}"
