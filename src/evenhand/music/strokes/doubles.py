"""Doubles: where two wrist strokes become one throw and its bounce.

Conventions: a double is two blows by one hand with none of the other's between, around the repeat too;
of a longer run every second blow can be a bounce. Times s, heights cm.

The hands: voluntary rhythmic movement usually ends at 5 to 7 a second, 200 to 150 ms (Fujii, Kudo, Ohtsuki
& Oda 2009). So two wrist strokes go above 200 ms; below 150 ms the second is taken as a bounce.
The stick: thrown from h it comes back by itself after 2 e sqrt(2 g h) / g. A second note that is due later
than that cannot be a bounce; one that is due sooner is helped by the fingers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from evenhand.music.exercise import Hand, Tempo
from evenhand.music.strokes.heights import PlannedStroke
from evenhand.music.strokes.rebound import Step, bounce_interval_s

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
