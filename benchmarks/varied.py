"""Takes of every kind that a studio may hear: exercises, tempos, players and places, drawn from a seed.

Exercises are text, to be parsed by whoever asks (``1/16: >RLRR >LRLL``). Each take has one
case, in turn, so that any run of ``len(CASES)`` takes has them all; what the case leaves
open is drawn at random.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from benchmarks.written import (
    Written,
    long_one,
    plain,
    rolls,
    with_accents,
    with_buzz,
    with_graces,
    with_mixed_values,
    with_rests,
)
from evenhand.music.exercise import Hand, Tempo
from evenhand.synthesis.instruments import Room, Scene
from evenhand.synthesis.playing import Player

SHORTEST_S, LONGEST_S = 7.0, 24.0
MOST_REPETITIONS = 60
FAST_ROLL_PER_S = 20.0


class VariedTake(NamedTuple):
    """What to simulate: ``exercise`` is text; ``tempo`` is the tempo asked, not always the one played."""

    name: str
    exercise: str
    tempo: Tempo
    repetitions: int
    player: Player
    scene: Scene


@dataclass(frozen=True)
class Draft:
    """A take while its case is worked into it."""

    written: Written
    tempo: Tempo
    repetitions: int
    player: Player
    scene: Scene

    @property
    def note_s(self) -> float:
        """Seconds between neighbouring notes of the shortest value."""
        return float(self.written.shortest) * self.tempo.whole_note_s

    @property
    def seconds(self) -> float:
        """Seconds of playing, about."""
        return self.repetitions * float(self.written.length) * self.tempo.whole_note_s


Case = Callable[[np.random.Generator], Draft]


def varied_takes(n: int, seed: int) -> Iterator[VariedTake]:
    """Draw n takes. The same seed gives the same takes; a longer run begins with the shorter one's."""
    names = list(CASES)
    for i in range(n):
        rng = np.random.default_rng([seed, i])
        name = names[i % len(names)]
        draft = CASES[name](rng)
        yield VariedTake(
            f"{i:04d}-{name}", draft.written.text, draft.tempo, draft.repetitions, draft.player, draft.scene
        )


def draft_of(
    rng: np.random.Generator, written: Written, *, per_s: tuple[float, float] = (3.0, 10.0)
) -> Draft:
    """Give a written exercise a tempo that suits it, a player and a place."""
    rate = float(np.exp(rng.uniform(*np.log(per_s))))
    beat = Fraction(1, 8) if rng.random() < 0.3 else Fraction(1, 4)
    bpm = round(60 * rate * float(written.shortest / beat), 1 if rng.random() < 0.2 else None)
    tempo = Tempo(beat, float(np.clip(bpm, 20, 400)))
    once_s = float(written.length) * tempo.whole_note_s
    wanted = rng.uniform(SHORTEST_S, LONGEST_S) / once_s
    repetitions = int(np.clip(round(wanted), 1, MOST_REPETITIONS))
    note_ms = 1000 * float(written.shortest) * tempo.whole_note_s
    return Draft(written, tempo, repetitions, _player(rng, note_ms), _scene(rng))


def _player(rng: np.random.Generator, note_ms: float) -> Player:
    """Draw a player whose spreads suit the speed: a few per cent of the time between notes."""

    def spread(low: float, high: float) -> float:
        return float(np.clip(rng.uniform(low, high) * note_ms, 0.5, 14.0))

    def both(draw: Callable[[], float]) -> Mapping[Hand, float]:
        return {"R": draw(), "L": draw()}

    return Player(
        timekeeper_sd_ms=spread(0.008, 0.03),
        hand_sd_ms=both(lambda: spread(0.006, 0.03)),
        late_ms=both(lambda: float(rng.normal(0, 0.012 * note_ms))),
        level_db=both(lambda: -abs(float(rng.normal(0, 1.5)))),
        level_sd_db=float(rng.uniform(0.5, 2.0)),
        accent_db=float(rng.uniform(6, 14)),
        second_db=float(rng.uniform(-4, 1)),
        second_late_ms=float(rng.normal(0, 0.02 * note_ms)),
        grace_gap_ms=float(rng.uniform(18, 40)),
        grace_db=float(rng.uniform(-18, -10)),
        correction=float(rng.uniform(0.1, 0.4)),
    )


def _scene(rng: np.random.Generator) -> Scene:
    """Draw a usual place: pad or snare, a quiet room, one of the ways to begin."""
    click_db = float(rng.uniform(-20, -4)) if rng.random() < 0.6 else None
    room = Room(float(rng.uniform(0.15, 0.6)), float(rng.uniform(-20, -9))) if rng.random() < 0.7 else None
    return Scene(
        rate_hz=int(rng.choice([48000, 48000, 44100])),
        instrument="pad" if rng.random() < 0.55 else "snare",
        noise_snr_db=float(rng.uniform(28, 50)) if rng.random() < 0.8 else None,
        noise_colour=("white", "pink", "brown", "hum")[rng.integers(4)],
        room=room,
        click_db=click_db,
        click_through=bool(rng.random() < 0.6),
        click_accent=bool(rng.random() < 0.4),
        count_in=("click", "click", "sticks", "none")[rng.integers(4)],
        count_in_beats=int(rng.choice([2, 4, 4, 4, 8])),
        lead_in_s=float(rng.uniform(0.1, 2.0)),
        tail_s=float(rng.uniform(0.4, 1.5)),
        peak_db=float(rng.uniform(-20, -1)),
    )


def _any(rng: np.random.Generator) -> Draft:
    return draft_of(rng, (plain, with_accents, with_rests, with_mixed_values)[rng.integers(4)](rng))


def _on(rng: np.random.Generator, **scene: object) -> Draft:
    draft = _any(rng)
    return replace(draft, scene=replace(draft.scene, **scene))  # type: ignore[arg-type]  # fields by name


def _count_in_click(rng: np.random.Generator) -> Draft:
    return _on(rng, count_in="click", click_db=float(rng.uniform(-12, 0)), click_through=False)


def _count_in_sticks(rng: np.random.Generator) -> Draft:
    return _on(rng, count_in="sticks", click_db=None)


def _no_count_in(rng: np.random.Generator) -> Draft:
    return _on(rng, count_in="none", click_db=None)


def _click_through(rng: np.random.Generator) -> Draft:
    return _on(rng, count_in="click", click_db=float(rng.uniform(-12, 3)), click_through=True)


def _talking(rng: np.random.Generator) -> Draft:
    return _on(rng, talking=True)


def _noisy(rng: np.random.Generator) -> Draft:
    draft = _on(rng, noise_snr_db=float(rng.uniform(15, 22)))
    return replace(draft, player=replace(draft.player, accent_db=float(rng.uniform(5, 9))))


def _free(draft: Draft) -> Draft:
    """Take the click out of the playing and let the player's own clock run."""
    return replace(
        draft,
        player=replace(draft.player, follow_click=False),
        scene=replace(draft.scene, click_through=False),
    )


def _tempo_off(rng: np.random.Generator) -> Draft:
    draft = _any(rng)
    ratio = float(rng.uniform(0.05, 0.15)) * (1 if rng.random() < 0.5 else -1)
    draft = replace(draft, player=replace(draft.player, tempo_ratio=1 + ratio))
    return _free(draft) if rng.random() < 0.5 else draft


def _drifting(rng: np.random.Generator) -> Draft:
    draft = _free(_any(rng))
    change = float(rng.uniform(0.03, 0.06)) * (1 if rng.random() < 0.5 else -1)
    drift = change * draft.tempo.bpm / (draft.seconds / 60)
    return replace(draft, player=replace(draft.player, drift_bpm_per_min=drift))


def _with_stops(rng: np.random.Generator, count: int) -> Draft:
    draft = _any(rng)
    draft = replace(draft, repetitions=max(draft.repetitions, 2))
    apart = max(draft.repetitions // count, 1)
    stops = tuple(
        (1 + k * (apart + 1) + int(rng.integers(apart)), *_break(rng, draft.written)) for k in range(count)
    )
    return replace(draft, player=replace(draft.player, stops=stops))


def _break(rng: np.random.Generator, written: Written) -> tuple[int, float]:
    return int(rng.integers(1, written.positions)), float(rng.uniform(0.4, 3.0))


def _stop(rng: np.random.Generator) -> Draft:
    return _with_stops(rng, 1)


def _two_stops(rng: np.random.Generator) -> Draft:
    return _with_stops(rng, 2)


def _begun_anywhere(rng: np.random.Generator) -> Draft:
    """Begin inside an exercise whose accents tell where: without them nobody could know."""
    draft = draft_of(rng, with_accents(rng))
    start = int(rng.integers(1, draft.written.positions))
    draft = replace(draft, repetitions=max(draft.repetitions, 2))
    player = replace(draft.player, start_position=start, accent_db=float(rng.uniform(8, 14)))
    return replace(draft, player=player)


def _missing(rng: np.random.Generator) -> Draft:
    draft = _any(rng)
    return replace(draft, player=replace(draft.player, miss_rate=float(rng.uniform(0.02, 0.07))))


def _adding(rng: np.random.Generator) -> Draft:
    draft = _any(rng)
    return replace(draft, player=replace(draft.player, extra_rate=float(rng.uniform(0.02, 0.06))))


def _flams(rng: np.random.Generator) -> Draft:
    draft = draft_of(rng, with_graces(rng, 1), per_s=(2.5, 6.0))
    gap_ms = float(rng.uniform(15, min(60, 400 * draft.note_s)))
    return replace(draft, player=_gracing(draft.player, gap_ms, rng))


def _drags(rng: np.random.Generator) -> Draft:
    draft = draft_of(rng, with_graces(rng, 2), per_s=(2.0, 4.5))
    return replace(draft, player=_gracing(draft.player, float(rng.uniform(22, 30)), rng))


def _gracing(player: Player, gap_ms: float, rng: np.random.Generator) -> Player:
    return replace(
        player,
        grace_gap_ms=gap_ms,
        grace_gap_sd_ms=0.08 * gap_ms,
        grace_db=float(rng.uniform(-25, -10)),
        level_sd_db=min(player.level_sd_db, 1.2),
    )


def _fast_rolls(rng: np.random.Generator) -> Draft:
    """Roll in doubles at about twenty strokes a second, on a pad or a drum that speaks shortly."""
    draft = draft_of(rng, rolls(rng), per_s=(0.85 * FAST_ROLL_PER_S, FAST_ROLL_PER_S))
    hand_sd_ms: Mapping[Hand, float] = {"R": float(rng.uniform(0.8, 2.5)), "L": float(rng.uniform(0.8, 3.0))}
    player = replace(
        draft.player, timekeeper_sd_ms=float(rng.uniform(0.6, 1.8)), hand_sd_ms=hand_sd_ms, level_sd_db=1.0
    )
    return replace(draft, player=player)


def _fast_singles(rng: np.random.Generator) -> Draft:
    return draft_of(rng, plain(rng), per_s=(9.0, 16.0))


def _soft_taps(rng: np.random.Generator) -> Draft:
    draft = draft_of(rng, with_accents(rng))
    player = replace(
        draft.player, accent_db=float(rng.uniform(17, 21)), level_sd_db=0.8, level_db={"R": 0.0, "L": -1.0}
    )
    room = Room(float(rng.uniform(0.5, 1.0)), float(rng.uniform(-12, -5)))
    quiet = float(rng.uniform(42, 55))
    return replace(draft, player=player, scene=replace(draft.scene, room=room, noise_snr_db=quiet))


def _ringing(rng: np.random.Generator) -> Draft:
    return _on(rng, instrument="ringing_snare")


def _agc(rng: np.random.Generator) -> Draft:
    return _on(rng, agc=True)


def _clipped(rng: np.random.Generator) -> Draft:
    return _on(rng, clip_db=float(rng.uniform(1.5, 8)))


def _headphones(rng: np.random.Generator) -> Draft:
    return _on(rng, click_db=None, click_through=True, count_in="click")


def _buzzing(rng: np.random.Generator) -> Draft:
    return draft_of(rng, with_buzz(rng), per_s=(1.6, 3.0))


def _long(rng: np.random.Generator) -> Draft:
    return draft_of(rng, long_one(rng), per_s=(4.0, 12.0))


def _uneven(rng: np.random.Generator) -> Draft:
    """Play with faults that a teacher would hear."""
    draft = _any(rng)
    weak: Mapping[Hand, float] = {"R": 0.0, "L": -float(rng.uniform(2, 6))}
    late: Mapping[Hand, float] = {"R": 0.0, "L": float(rng.uniform(0.03, 0.1)) * 1000 * draft.note_s}
    faults = replace(draft.player, level_db=weak, late_ms=late, second_db=-float(rng.uniform(2, 7)))
    tired = replace(faults, fatigue_spread=float(rng.uniform(1, 2.5)), fatigue_db=float(rng.uniform(0, 4)))
    return replace(draft, player=tired)


def _messy(rng: np.random.Generator) -> Draft:
    """Let much go wrong at once: a stop, misses, extras, drift, talk, noise, a low rate."""
    draft = _free(_with_stops(rng, 1))
    drift = float(rng.uniform(-0.04, 0.04)) * draft.tempo.bpm / (draft.seconds / 60)
    player = replace(
        draft.player,
        drift_bpm_per_min=drift,
        miss_rate=0.02,
        extra_rate=0.02,
        tempo_ratio=float(rng.uniform(0.9, 1.1)),
    )
    scene = replace(
        draft.scene,
        talking=True,
        noise_snr_db=float(rng.uniform(20, 30)),
        rate_hz=int(rng.choice([16000, 22050, 32000])),
        dc=float(rng.uniform(-0.02, 0.02)),
    )
    return replace(draft, player=player, scene=scene)


CASES: Mapping[str, Case] = {
    "plain": _any,
    "count-in-click": _count_in_click,
    "count-in-sticks": _count_in_sticks,
    "no-count-in": _no_count_in,
    "click-through": _click_through,
    "headphones": _headphones,
    "talking": _talking,
    "noisy": _noisy,
    "stop": _stop,
    "two-stops": _two_stops,
    "begun-anywhere": _begun_anywhere,
    "tempo-off": _tempo_off,
    "drifting": _drifting,
    "missing": _missing,
    "adding": _adding,
    "flams": _flams,
    "drags": _drags,
    "fast-rolls": _fast_rolls,
    "fast-singles": _fast_singles,
    "soft-taps": _soft_taps,
    "ringing": _ringing,
    "agc": _agc,
    "clipped": _clipped,
    "buzzing": _buzzing,
    "long": _long,
    "uneven": _uneven,
    "messy": _messy,
}
