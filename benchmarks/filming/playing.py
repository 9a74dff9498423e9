"""Two hands play an exercise: every stroke's throw, impact and rise, and where each stick is at any time.

Conventions: times in seconds on the sound's timeline; heights of the tip in cm over the pad.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchmarks.filming.case import FilmCase, Floats, Rise, StrokeTruth, kind_of
from benchmarks.filming.dropping import drop_all
from benchmarks.filming.stick import G_CM_S2, STEP_S, Stick, grid, level_db
from benchmarks.filming.ways import FULCRUM_CM, Asked, Mover, Way, fulcrum_path, go, rise_s, thrown
from evenhand.music.exercise import GRACE_GAP_S, HANDS, Exercise, Hand, Tempo
from evenhand.music.strokes.plan import plan_strokes
from evenhand.music.strokes.rebound import blows_of
from evenhand.music.text import parse_exercise

LEAD_IN_S, TAIL_S = 1.2, 0.8
AFTER_S = 1.0  # the hand goes on for so long after the film
LOWEST_CM, HIGHEST_CM = 3.5, 31.0
LIFTED, MIXED = (0.02, 0.3), (0.35, 0.6)  # of the energy that the height needs
LED_SHARES = (0.82, 0.97)  # of the next stroke's height, to which the hand leads
RISING_SHARE = 0.55  # of the time from stroke to stroke, at most; what would rise for longer is held back
MOST_THROWN = 1.6  # how much faster than dropped a rebound may ask a throw to be; more needs the hand


@dataclass(frozen=True)
class Struck:
    """One stroke as it is meant."""

    time_s: float
    hand: Hand
    height_cm: float


@dataclass(frozen=True)
class Motion:
    """Where a stick is: times, its angle, the fulcrum's x and z (cm), all of shape (n,)."""

    times_s: Floats
    angles: Floats
    x: Floats
    z: Floats
    stick: Stick

    def at(self, times_s: Floats) -> tuple[Floats, Floats, Floats]:
        """Return angle, x and z at other times, each of their shape."""
        angle, x, z = (np.interp(times_s, self.times_s, way) for way in (self.angles, self.x, self.z))
        return angle, x, z

    @property
    def tip_cm(self) -> Floats:
        """The tip's height over the pad."""
        return np.asarray(self.z + self.stick.reach_cm * np.sin(self.angles))


@dataclass(frozen=True)
class Played:
    """What was played: the strokes in order of time, each hand's motion, and when the film ends."""

    strokes: tuple[StrokeTruth, ...]
    motions: dict[Hand, Motion]
    end_s: float


def play(case: FilmCase) -> Played:
    """Play a film's exercise."""
    if case.drops:
        return _dropped(case)
    note_rng, *hand_rngs = np.random.default_rng([case.seed, 1]).spawn(3)
    exercise, tempo = parse_exercise(case.exercise), Tempo.parse(case.tempo)
    struck = _struck(case, exercise, tempo, note_rng)
    end_s = struck[-1].time_s + TAIL_S
    motions, truths = {}, []
    for hand, rng in zip(HANDS, hand_rngs, strict=True):
        own = [each for each in struck if each.hand == hand]
        motions[hand], strokes = _one_hand(case, own, end_s, rng)
        truths += strokes
    return Played(tuple(sorted(truths, key=lambda stroke: stroke.time_s)), motions, end_s)


def _dropped(case: FilmCase) -> Played:
    """Drop the right stick again and again; the left one lies still."""
    mover = Mover(Stick(case.stick_cm, case.held_cm), 0.0, 0.0, np.random.default_rng([case.seed, 1]))
    angles, impacts = drop_all(case, mover)
    n = len(angles)
    right = Motion(grid(n, STEP_S), angles, np.zeros(n), np.full(n, FULCRUM_CM), mover.stick)
    return Played(tuple(impacts), {"R": right, "L": _resting(mover, n * STEP_S)}, n * STEP_S)


def _struck(case: FilmCase, exercise: Exercise, tempo: Tempo, rng: np.random.Generator) -> list[Struck]:
    """Lay out the strokes: as often through the exercise as the time allows, once at least."""
    length_s = float(exercise.length) * tempo.whole_note_s
    times = max(int(case.seconds / length_s), 1)
    stroke = None if case.stroke == "any" else case.stroke
    planned = {
        (s.position, s.grace): s.before_cm for s in plan_strokes(exercise, stroke=stroke, tempo=tempo).strokes
    }
    out = []
    for repetition in range(times):
        for blow in blows_of(exercise):
            written = repetition * exercise.length + blow.start
            at = LEAD_IN_S + float(written) * tempo.whole_note_s - GRACE_GAP_S * blow.ahead
            at += float(np.clip(rng.normal(0, case.timing_sd_ms), -20, 20)) / 1000
            height = planned[blow.position, blow.grace] + rng.normal(0, case.height_sd_cm)
            if case.stroke == "any" and blow.grace is None:
                height = rng.uniform(7.0, HIGHEST_CM)
            out.append(Struck(at, blow.hand, float(np.clip(height, LOWEST_CM, HIGHEST_CM))))
    return sorted(out, key=lambda each: each.time_s)


def _reachable(height_cm: float, seconds: float, restitution: float) -> float:
    """Return a height, or the highest that rises and is thrown within the time."""
    while height_cm > LOWEST_CM and rise_s(height_cm) * (1 + restitution) > 0.92 * seconds:
        height_cm *= 0.97
    return height_cm


def _one_hand(
    case: FilmCase, own: list[Struck], end_s: float, rng: np.random.Generator
) -> tuple[Motion, list[StrokeTruth]]:
    """Move one hand through the film, way by way."""
    mover = Mover(Stick(case.stick_cm, case.held_cm), float(rng.uniform(0.15, 0.28)), case.fingers, rng)
    if not own:
        return _resting(mover, end_s), []
    times = [each.time_s for each in own]
    gaps = np.diff([*times, end_s + AFTER_S])
    before = [gaps[0], *gaps[:-1]]
    heights = [_reachable(o.height_cm, gap, case.restitution) for o, gap in zip(own, before, strict=True)]
    way = _first(mover, heights[0], times[0])
    ways, strokes = [way], []
    for i, (time_s, gap) in enumerate(zip(times, gaps, strict=True)):
        here, then = way.preparation_cm, heights[i + 1] if i + 1 < len(own) else heights[i]
        arrived = way.striking_cm_s
        rise, leaving = _leaving(case, here, then, arrived, rng)
        leaving = min(leaving, G_CM_S2 * RISING_SHARE * float(gap))
        way = go(mover, _asked(case, rise, leaving, then, float(gap), rng), leaving)
        ways.append(way)
        strokes.append(
            StrokeTruth(
                time_s,
                own[0].hand,
                here,
                way.rebound_cm,
                kind_of(here),
                rise,
                level_db(arrived),
                arrived,
                leaving / arrived,
            )
        )
    return _joined(mover, ways, times), strokes


def _leaving(
    case: FilmCase, here: float, then: float, arrived: float, rng: np.random.Generator
) -> tuple[Rise, float]:
    """Draw what raises the stick next, and the speed it leaves the pad with."""
    stick = Stick(case.stick_cm, case.held_cm)
    lever = stick.reach_cm / stick.percussion_cm
    given = arrived * float(np.clip(rng.normal(case.restitution, 0.02), 0.5, 0.95))
    back_cm = given**2 / (2 * G_CM_S2 * lever)
    drawn = rng.uniform()
    if then > 1.6 * back_cm and then > here + 5:
        return "up", given
    low, _ = LED_SHARES

    def enough(least: float, most: float, height_cm: float) -> float:
        share = float(rng.uniform(least, most))
        return math.sqrt(share * 2 * G_CM_S2 * lever * height_cm)

    if drawn < case.rises.lifted:
        return "lifted", min(arrived * float(rng.uniform(0.12, 0.45)), enough(*LIFTED, low * then))
    if drawn < case.rises.lifted + case.rises.mixed:
        return "mixed", min(given, enough(*MIXED, low * then))
    return "free", min(given, enough(0.85, 1.0, then))


def _asked(
    case: FilmCase, rise: Rise, leaving: float, then: float, gap: float, rng: np.random.Generator
) -> Asked:
    """Say what the way to the next stroke must do."""
    rebound = leaving**2 / (2 * G_CM_S2) if rise == "free" else then * float(rng.uniform(*LED_SHARES))
    back_to = math.sqrt(2 * G_CM_S2 * then * float(rng.uniform(0.85, 1.0))) / case.restitution
    dropped = math.sqrt(2 * G_CM_S2 * then)
    striking = min(max(back_to, 1.02 * dropped), MOST_THROWN * dropped)
    return Asked(gap, rise, rebound, max(then, LOWEST_CM), striking)


RESTING_CM, PREPARED_S = 2.5, 0.5


def _first(mover: Mover, height_cm: float, seconds: float) -> Way:
    """Take the stick up from rest, and throw it for the first stroke."""
    n = round(seconds / STEP_S) + 1
    step_s = seconds / (n - 1)
    speed = 1.1 * math.sqrt(2 * G_CM_S2 * height_cm)
    top = n - 1 - round(2.0 * height_cm / speed / step_s)
    up = [
        (0.0, 0.0),
        (top * step_s - PREPARED_S, 0.0),
        (top * step_s, mover.raised(height_cm)),
        (seconds, 0.0),
    ]
    z = FULCRUM_CM + fulcrum_path(up, n, step_s)
    tip = fulcrum_path(
        [(0.0, RESTING_CM), *((t, height_cm if i else RESTING_CM) for i, (t, _) in enumerate(up[1:3]))],
        n,
        step_s,
    )
    raised = np.array(
        [mover.angle_at(*both) for both in zip(tip[: top + 1].tolist(), z[: top + 1].tolist(), strict=True)]
    )
    angles, striking = thrown(mover, float(raised[-1]), n - 1 - top, step_s, speed)
    preparation = float(mover.height_of(float(raised[-1]), float(z[top])))
    return Way(grid(n, step_s), np.concatenate([raised, angles]), np.zeros(n), z, 0.0, preparation, striking)


def _joined(mover: Mover, ways: list[Way], times: list[float]) -> Motion:
    """Join a hand's ways; where they meet, at the impacts, one point is enough."""
    begins = [0.0, *times]
    at = np.concatenate([way.times_s[:-1] + begin for way, begin in zip(ways, begins, strict=True)])
    angles, x, z = (
        np.concatenate([getattr(way, name)[:-1] for way in ways]) for name in ("angles", "x", "z")
    )
    return Motion(at, angles, x, z, mover.stick)


def _resting(mover: Mover, end_s: float) -> Motion:
    """Hold a stick still through the film."""
    n = round(end_s / STEP_S) + 1
    z = np.full(n, FULCRUM_CM)
    angle = np.full(n, mover.angle_at(RESTING_CM, FULCRUM_CM))
    return Motion(grid(n, STEP_S), angle, np.zeros(n), z, mover.stick)
