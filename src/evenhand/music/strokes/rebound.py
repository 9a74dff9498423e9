"""Rebound: how long a stick takes to rise and fall, how fast it strikes, how high it comes back.

Conventions: heights of the tip above the drum, cm; times s; speeds m/s; ``restitution`` is the speed
after a blow as a share of the speed before it, over 0 up to 1. The tip moves straight up and down in
free fall, without air: that is what the tip of a uniform stick does that pivots freely a third of its
length from the butt, for its tip is then the centre of percussion and falls with g (derived in
docs/strokes.md). The contact of 3 to 6 ms (Wagner 2006) is left out.

Textbook forms (Tatum, Classical Mechanics 5.2; Hill, Learning Scientific Programming with Python):
v = sqrt(2 g h), t = sqrt(2 h / g), h_n = e^(2n) h_0, T_n = e^n 2 v_1 / g.

The blows of an exercise, each with the same hand's next one, around the repeat.

Conventions: blows stand in the order they sound, a note's graces before it; written time is a fraction
of a whole note from the top. A grace has no written time of its own: it stands at its note's, and sounds
``GRACE_GAP_S`` ahead of what follows it.

How high each hand's stick rises between its own blows: at a tempo, and over tempi.

Conventions: heights cm, times s, tempi in beats a minute of a stated beat. A way leads from a hand's blow
to its next. Those between a drag's graces have no written time and are left out, and so are those after a
buzz, which uses its rebound up.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from evenhand.music.exercise import GRACE_GAP_S, HANDS, Exercise, Hand, Note, Tempo
from evenhand.music.strokes.heights import STROKE_CLASSES, StrokeClass, StrokeHeights

GRAVITY_M_S2 = 9.80665  # standard gravity
ASSUMED_RESTITUTION = 0.8  # no published figure for heads or pads was found: measure your own


def fall_time_s(height_cm: float, *, gravity: float = GRAVITY_M_S2) -> float:
    """Return how long a tip takes to fall from a height, or to rise to it freely.

    >>> round(fall_time_s(12 * 2.54), 4)
    0.2493
    """
    return math.sqrt(2 * height_cm / 100 / gravity)


def striking_speed_m_s(height_cm: float, *, gravity: float = GRAVITY_M_S2) -> float:
    """Return the speed with which a tip strikes that fell from a height.

    >>> round(striking_speed_m_s(12 * 2.54), 3)
    2.445
    """
    return math.sqrt(2 * gravity * height_cm / 100)


def bounce_height_cm(height_cm: float, restitution: float, bounces: int = 1) -> float:
    """Return how high a dropped tip rises after so many bounces."""
    return height_cm * restitution ** (2 * bounces)


def bounce_interval_s(
    height_cm: float, restitution: float, bounce: int = 1, *, gravity: float = GRAVITY_M_S2
) -> float:
    """Return the time from one contact to the next, the first bounce's by default.

    A tip that fell from ``height_cm`` leaves with e v, and is back after 2 e v / g.
    """
    return 2 * restitution**bounce * striking_speed_m_s(height_cm, gravity=gravity) / gravity


def free_height_cm(interval_s: float) -> float:
    """Return the greatest height that a free rebound allows between two blows of one hand.

    The tip rises by its rebound and falls by its weight, half of the interval each:
    h = (g / 2) (T / 2)^2 = g T^2 / 8.

    >>> round(free_height_cm(0.5) / 2.54, 1)
    12.1
    """
    return 100 * GRAVITY_M_S2 * interval_s**2 / 8


def free_interval_s(height_cm: float) -> float:
    """Return the shortest time from blow to blow of one hand at a height, unforced: 2 sqrt(2 h / g)."""
    return 2 * fall_time_s(height_cm)


def kept_height_cm(interval_s: float, restitution: float) -> float:
    """Return the height that a stick keeps when it is thrown down just as hard as its rebound needs.

    A drum gives back only e of the speed. To come back to h by its rebound alone a tip must strike with
    sqrt(2 g h) / e, thus be thrown from h with v_0 = sqrt(2 g h (1 / e^2 - 1)). It then falls in
    sqrt(2 h / g) (1 / e - sqrt(1 / e^2 - 1)), which is less than a drop takes, and rises in sqrt(2 h / g).
    At e = 1 this is ``free_height_cm``.
    """
    return 100 * GRAVITY_M_S2 * interval_s**2 / 2 / round_trip(restitution) ** 2


def round_trip(restitution: float) -> float:
    """Return up and down again, in free rises, at the least throw that keeps the height."""
    back = 1 / restitution
    return 1 + back - math.sqrt(back**2 - 1)


def rise_height_cm(interval_s: float) -> float:
    """Return the height above which no free rise fits into an interval, however hard the throw: g T^2 / 2.

    The way down is taken as nothing. Higher than this, the hand and not the rebound lifts the stick.
    """
    return 100 * GRAVITY_M_S2 * interval_s**2 / 2


def pressed_bounce_cm(height_cm: float, restitution: float, interval_s: float) -> float:
    """Return how high the stick rises between a throw and its bounce that comes ``interval_s`` later.

    Left alone it rises e^2 h. Where the bounce must come sooner the fingers bring it back: taken as a
    steady force, it rises e v T / 4.
    """
    pressed = 100 * restitution * striking_speed_m_s(height_cm) * interval_s / 4
    return min(pressed, bounce_height_cm(height_cm, restitution))


@dataclass(frozen=True, slots=True)
class WrittenBlow:
    """One blow. ``grace`` counts a note's graces from 0; ``ahead`` is how many blows it leads its note by."""

    position: int
    hand: Hand
    start: Fraction
    accent: bool = False
    buzz: bool = False
    grace: int | None = None
    ahead: int = 0


@dataclass(frozen=True, slots=True)
class Step:
    """A hand's way from one blow to its next; ``own_interval`` is written time."""

    blow: WrittenBlow
    next: WrittenBlow
    own_interval: Fraction
    adjacent: bool  # no blow of the other hand lies between
    to: int  # the next blow's place among all

    def seconds(self, whole_note_s: float) -> float:
        """Return the time between the two blows, graces ahead of their notes; never under 0."""
        return max(0.0, float(self.own_interval) * whole_note_s + self._lead_s)

    def bpm_at(self, seconds: float, beat: Fraction) -> float:
        """Return the beats a minute at which the way takes so long; infinite where none is that quick."""
        left_s = seconds - self._lead_s
        return 60.0 * float(self.own_interval / beat) / left_s if left_s > 0 else math.inf

    @property
    def _lead_s(self) -> float:
        """How much longer the way is than written: from a grace longer, to a grace shorter."""
        return GRACE_GAP_S * (self.blow.ahead - self.next.ahead)


def blows_of(exercise: Exercise) -> tuple[WrittenBlow, ...]:
    """List the blows of one time through."""
    out: list[WrittenBlow] = []
    for position, (note, start) in enumerate(zip(exercise.notes, exercise.starts, strict=True)):
        out.extend(_blows_at(position, note, start))
    return tuple(out)


def _blows_at(position: int, note: Note, start: Fraction) -> list[WrittenBlow]:
    if note.hand is None or note.sound == "foot":
        return []
    last = len(note.graces)
    graces = [
        WrittenBlow(position, hand, start, grace=index, ahead=last - index)
        for index, hand in enumerate(note.graces)
    ]
    hands = HANDS if note.both else (note.hand,)
    blows = [WrittenBlow(position, hand, start, note.accent, note.buzz) for hand in hands]
    return [*graces, *blows]


def steps_of(exercise: Exercise) -> tuple[Step, ...]:
    """Pair every blow with the same hand's next one; the last ones' are after the repeat sign."""
    blows = blows_of(exercise)
    following = _next_of_hand([blow.hand for blow in blows])
    out = []
    for index, (blow, then) in enumerate(zip(blows, following, strict=True)):
        after = blows[then % len(blows)]
        around = exercise.length if then >= len(blows) else Fraction(0)
        out.append(Step(blow, after, after.start - blow.start + around, then == index + 1, then % len(blows)))
    return tuple(out)


def _next_of_hand(hands: list[Hand]) -> list[int]:
    """Return the index of each hand's next blow, counted on past the end where it is after the repeat."""
    out = [0] * len(hands)
    coming: dict[Hand, int] = {}
    for index in range(2 * len(hands) - 1, -1, -1):
        hand = hands[index % len(hands)]
        if index < len(hands):
            out[index] = coming[hand]
        coming[hand] = index
    return out


@dataclass(frozen=True, slots=True)
class Reach:
    """How high a stick comes in an interval: dropped, thrown as its rebound needs, and at the very most."""

    interval_s: float
    free_cm: float
    thrown_cm: float
    rise_cm: float

    @classmethod
    def within(cls, interval_s: float, restitution: float) -> Reach:
        """Work out all three."""
        return cls(
            interval_s,
            free_height_cm(interval_s),
            kept_height_cm(interval_s, restitution),
            rise_height_cm(interval_s),
        )


@dataclass(frozen=True, slots=True)
class HandLimits:
    """One hand in an exercise: its blows, its shortest way, and up to which tempo each class is free.

    ``shortest`` is None for a hand that only plays buzzes. Doubles count as two strokes here.
    """

    hand: Hand
    blows: int
    shortest: Reach | None
    free_up_to_bpm: Mapping[StrokeClass, float]


def limits_of(
    steps: Sequence[Step], tempo: Tempo, heights: StrokeHeights, restitution: float
) -> tuple[HandLimits, ...]:
    """Sum up each hand that plays."""
    return tuple(
        _limits([step for step in steps if step.blow.hand == hand], hand, tempo, heights, restitution)
        for hand in HANDS
        if any(step.blow.hand == hand for step in steps)
    )


def _limits(
    steps: list[Step], hand: Hand, tempo: Tempo, heights: StrokeHeights, restitution: float
) -> HandLimits:
    ways = [step for step in steps if is_way(step)]
    if not ways:
        return HandLimits(hand, len(steps), None, {})
    shortest_s = min(way.seconds(tempo.whole_note_s) for way in ways)
    free = {each: fastest_free_bpm(ways, heights.of(each).aim_cm, tempo.beat) for each in STROKE_CLASSES}
    return HandLimits(hand, len(steps), Reach.within(shortest_s, restitution), free)


def is_way(step: Step) -> bool:
    """Tell whether a stick could rise freely here."""
    return step.own_interval > 0 and not step.blow.buzz


def fastest_free_bpm(ways: Collection[Step], height_cm: float, beat: Fraction) -> float:
    """Return the fastest tempo at which a height needs no force on any of the ways."""
    return min(way.bpm_at(free_interval_s(height_cm), beat) for way in ways)
