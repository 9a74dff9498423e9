"""A stick that is dropped and left alone: it bounces on by itself until it rests, or a finger stops it.

Conventions: times in seconds of the take; heights in cm of a free fall; levels in dB re full scale.

Each bounce keeps the share ``restitution`` of its speed, so flights shrink geometrically (a textbook's
bouncing ball: h_n = e^2n h_0, T = 2 v / g). ``unevenness`` is the spread of ln e from bounce to bounce: a
stick never meets a head twice the same way. Sound follows speed: 20 log10 of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenhand.music.exercise import Hand
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import Strokes
from evenhand.synthesis.playing import Blow
from evenhand.synthesis.surroundings import noise, reverberate

G_CM_PER_S2 = 980.665
SHORTEST_FLIGHT_S = 0.006  # below it, the stick rests on the head
MOST_BLOWS = 200
LIFT_S = 0.9  # from rest to the next drop: the stick is taken up again


@dataclass(frozen=True)
class Drop:
    """One drop, as it is meant.

    ``damped_after`` counts blows: from then on the stick keeps ``damped_restitution`` of its speed only
    (0: it is held).
    """

    height_cm: float = 20.0
    restitution: float = 0.8
    unevenness: float = 0.01
    level_db: float = -16.0
    level_sd_db: float = 0.8
    damped_after: int | None = None
    damped_restitution: float = 0.0


@dataclass(frozen=True)
class TrueDrop:
    """What a dropped stick really did: times of its blows, seconds, their levels, and what it was."""

    drop: Drop
    times_s: tuple[float, ...]
    levels_db: tuple[float, ...]


@dataclass(frozen=True)
class DroppedTake:
    """Samples, float32 of shape (n,), and the drops in order of time."""

    samples: NDArray[np.float32]
    rate_hz: int
    drops: tuple[TrueDrop, ...]


def bounces_of(drop: Drop, first_s: float, rng: np.random.Generator) -> TrueDrop:
    """Let one stick bounce, its first blow at ``first_s``."""
    speed = math.sqrt(2 * G_CM_PER_S2 * drop.height_cm)
    first_speed, at = speed, first_s
    times: list[float] = []
    levels: list[float] = []
    while len(times) < MOST_BLOWS:
        times.append(at)
        levels.append(drop.level_db + 20 * math.log10(speed / first_speed))
        damped = drop.damped_after is not None and len(times) >= drop.damped_after
        kept = drop.damped_restitution if damped else drop.restitution
        speed *= kept * math.exp(drop.unevenness * float(rng.standard_normal()))
        flight_s = 2 * speed / G_CM_PER_S2
        if flight_s < SHORTEST_FLIGHT_S:
            break
        at += flight_s
    level_noise_db = drop.level_sd_db * rng.standard_normal(len(levels))
    return TrueDrop(drop, tuple(times), tuple((np.array(levels) + level_noise_db).tolist()))


def in_a_row(
    drops: Sequence[Drop], rng: np.random.Generator, *, first_s: float = 0.6, lift_s: float = LIFT_S
) -> tuple[TrueDrop, ...]:
    """Drop the stick again and again, each time when it has come to rest."""
    out: list[TrueDrop] = []
    at = first_s
    for drop in drops:
        out.append(bounces_of(drop, at, rng))
        at = out[-1].times_s[-1] + lift_s * (1 + 0.3 * float(rng.random()))
    return tuple(out)


def record_drops(drops: Sequence[Drop], scene: Scene, seed: int) -> DroppedTake:
    """Drop the stick and record it. Everything is drawn from the seed."""
    drop_rng, sound_rng = np.random.default_rng(seed).spawn(2)
    played = in_a_row(drops, drop_rng)
    times = [time for one in played for time in one.times_s]
    levels = [level for one in played for level in one.levels_db]
    samples, time_s, level_db = record_blows(times, levels, scene, sound_rng)
    ends = np.cumsum([len(one.times_s) for one in played])[:-1]
    parts = zip(played, np.split(time_s, ends), np.split(level_db, ends), strict=True)
    return DroppedTake(
        samples,
        scene.rate_hz,
        tuple(TrueDrop(p.drop, tuple(t.tolist()), tuple(l.tolist())) for p, t, l in parts),
    )


def record_blows(
    times_s: Sequence[float],
    levels_db: Sequence[float],
    scene: Scene,
    rng: np.random.Generator,
    hands: Sequence[Hand] | None = None,
) -> tuple[NDArray[np.float32], NDArray[np.float64], NDArray[np.float64]]:
    """Record blows at given times and levels; the recorder's gain stays as it is.

    Returns
    -------
    The samples, float32 of shape (n,), and each blow's true time and level as its own dry sound has them.
    """
    stroke_rng, room_rng, noise_rng = rng.spawn(3)
    mix = np.zeros(round((times_s[-1] + scene.tail_s) * scene.rate_hz))
    right: Sequence[Hand] = ["R"] * len(times_s)
    struck = zip(times_s, levels_db, hands or right, strict=True)
    blows = tuple(Blow(t, level, hand, 1, 0) for t, level, hand in struck)
    strokes = Strokes(scene, None, stroke_rng)
    time_s, level_db = strokes.play(mix, blows, with_snr=True)
    if scene.room is not None:
        mix = reverberate(mix, scene.room, scene.rate_hz, room_rng)
    if scene.noise_snr_db is not None:
        rms = strokes.loud_rms * 10 ** (-scene.noise_snr_db / 20)
        mix = mix + rms * noise(scene.noise_colour, len(mix), scene.rate_hz, noise_rng)
    return np.clip(mix, -1.0, 1.0).astype(np.float32), time_s, level_db
