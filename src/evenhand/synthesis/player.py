"""The simulated player: exercise, player and scene in, samples and truth out.

The main path is ``simulate``; it reads from top to bottom. Everything is drawn from the
seed: the same call gives the same take, bit for bit, on the same machine.

What really happened in an invented take.

Conventions: times in seconds from the take's first sample; levels in dB re full scale;
repetitions from 1, positions from 0 (notes and rests; a grace note has its main note's).
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import WrongUse
from evenhand.music.exercise import Exercise, Hand, Tempo
from evenhand.synthesis.click import burst
from evenhand.synthesis.instruments import DRUMS, Room, Scene, one_of_its_kind
from evenhand.synthesis.playing import Blow, Performance, Player, perform
from evenhand.synthesis.strokes import split, synthesise
from evenhand.synthesis.surroundings import noise, reverberate, ride_gain, talk
from evenhand.synthesis.voice import PlacedStrokes, SampleBank, add, place
from evenhand.take import ExtraHit, MissedNote


@dataclass(frozen=True, slots=True)
class TrueHit:
    """One blow that was played as written.

    ``time_s`` is where its own dry sound crosses 1 % of its peak above 200 Hz,
    ``level_db`` the RMS of its first 10 ms above 200 Hz at the recording's gain.
    """

    time_s: float
    level_db: float
    hand: Hand
    repetition: int
    position: int
    grace: bool = False


@dataclass(frozen=True, slots=True)
class Truth:
    """Everything there is to hear in a take, in order of time.

    ``count_in_s`` are the sticks' blows before the first note, ``bounces_s`` those of
    buzz strokes after their first. ``tempo_curve`` holds (time_s, bpm) of the player's
    own clock at every written note and rest; ``stretches`` is how many unbroken
    stretches of playing there are.
    """

    hits: tuple[TrueHit, ...]
    missed: tuple[MissedNote, ...] = ()
    extras: tuple[ExtraHit, ...] = ()
    clicks_s: tuple[float, ...] = ()
    count_in_s: tuple[float, ...] = ()
    bounces_s: tuple[float, ...] = ()
    tempo_curve: tuple[tuple[float, float], ...] = ()
    stretches: int = 1

    @property
    def tempo_bpm(self) -> float:
        """Mean tempo of the player's clock."""
        return float(np.mean([bpm for _, bpm in self.tempo_curve]))

    @property
    def drift_bpm_per_min(self) -> float:
        """Slope of the player's clock over the take; 0 where there is one tick only."""
        at_s, bpm = (np.array(column) for column in zip(*self.tempo_curve, strict=True))
        apart = (at_s - np.mean(at_s)) / 60
        spread = float(np.sum(apart**2))
        return float(np.sum(apart * bpm)) / spread if spread > 0 else 0.0

    def to_dict(self) -> dict[str, Any]:
        """Return the truth under the names that a heard take's JSON has."""
        return {
            "hits": [asdict(hit) for hit in self.hits],
            "missed": [asdict(note) for note in self.missed],
            "extra": [asdict(hit) for hit in self.extras],
            "clicks": [{"time_s": time_s} for time_s in self.clicks_s],
            "count_in": [{"time_s": time_s} for time_s in self.count_in_s],
            "bounces": [{"time_s": time_s} for time_s in self.bounces_s],
            "tempo_bpm": self.tempo_bpm,
            "drift_bpm_per_min": self.drift_bpm_per_min,
            "tempo_curve": [{"time_s": time_s, "bpm": bpm} for time_s, bpm in self.tempo_curve],
            "stretches": self.stretches,
        }

    def to_json(self) -> str:
        """Return the truth as JSON text, finite numbers only."""
        return json.dumps(self.to_dict(), indent=1, allow_nan=False)


@dataclass(frozen=True)
class SimulatedTake:
    """An invented take: ``samples`` float32 of shape (n,), one channel, and its truth."""

    samples: NDArray[np.float32]
    rate_hz: int
    truth: Truth


__all__ = ["Player", "Room", "SampleBank", "Scene", "SimulatedTake", "TrueHit", "Truth", "simulate"]

Floats = NDArray[np.float64]

A_PLAYER, A_SCENE = Player(), Scene()
BATCH_SAMPLES = 3_000_000  # rows built at once: bounds memory
LOUDEST_VELOCITY = 0.9
TALK_DB = -14.0
TALK_S, TALK_BEFORE_S = 2.4, 0.35
SNR_WINDOW_S = 0.05
LONGEST_S = 3700.0


@dataclass(frozen=True)
class _TakePlan:
    """When what happens, before anything sounds."""

    performance: Performance
    count_in_s: tuple[float, ...]
    clicks_s: tuple[float, ...]
    beats_in_bar: int
    talk_s: float
    end_s: float


def simulate(
    exercise: Exercise,
    tempo: Tempo,
    repetitions: int,
    *,
    player: Player = A_PLAYER,
    scene: Scene = A_SCENE,
    seed: int = 0,
    samples: SampleBank | None = None,
) -> SimulatedTake:
    """Play an exercise and record it.

    Parameters
    ----------
    exercise, tempo, repetitions
        What is asked of the player. Each stop of the player adds a repetition.
    player, scene
        How it is played, and where it is recorded.
    seed
        The take's randomness; playing, sound and surroundings draw apart from each other.
        Another seed is another drum of the scene's kind, too.
    samples
        Recorded strokes to use in place of the scene's instrument.

    Returns
    -------
    SimulatedTake
        Samples, float32 of shape (n,), and the exact truth.

    Raises
    ------
    WrongUse
        Where the player or the scene cannot be played.
    """
    play_rng, sound_rng, scene_rng = np.random.default_rng(seed).spawn(3)
    plan = _plan(exercise, tempo, repetitions, player=player, scene=scene, rng=play_rng)
    n = round(plan.end_s * scene.rate_hz)
    strokes = Strokes(scene, samples, sound_rng)
    mix = np.zeros(n)
    time_s, level_db = strokes.play(mix, plan.performance.blows, with_snr=True)
    count_in_s, _ = strokes.play(mix, _stick_blows(plan.count_in_s, scene.count_in_db))
    clicks_s = _click(mix, plan, scene, strokes.mean_peak)
    mix = _surround(mix, plan, scene, strokes, scene_rng)
    mix, gain = _record(mix, scene)
    at = np.clip(np.rint(time_s * scene.rate_hz).astype(np.int64), 0, n - 1)
    level_db = level_db + 20 * np.log10(gain[at])
    truth = _truth(plan.performance, time_s, level_db)
    truth = replace(truth, clicks_s=tuple(clicks_s.tolist()), count_in_s=tuple(count_in_s.tolist()))
    return SimulatedTake(mix.astype(np.float32), scene.rate_hz, truth)


def _plan(
    exercise: Exercise,
    tempo: Tempo,
    repetitions: int,
    *,
    player: Player,
    scene: Scene,
    rng: np.random.Generator,
) -> _TakePlan:
    """Lay out the take: talk, count-in, playing, end. The click goes at the player's tempo if followed."""
    count_rng, play_rng = rng.spawn(2)
    follows = player.follow_click and scene.click_through
    beat_s = tempo.beat_s / (player.tempo_ratio if follows else 1.0)
    ready_s = max(scene.lead_in_s, TALK_S + TALK_BEFORE_S if scene.talking else 0.0)
    beats = scene.count_in_beats if scene.count_in != "none" else 0
    own_beat_s = tempo.beat_s / player.tempo_ratio if scene.count_in == "sticks" else beat_s
    first_s = ready_s + beats * own_beat_s
    asked = (exercise, tempo, repetitions, player)
    performance = perform(*asked, first_s=first_s, follows=follows, rng=play_rng)
    sticks = np.array([ready_s + i * own_beat_s for i in range(beats)])
    sticks = sticks + count_rng.standard_normal(beats) * player.timekeeper_sd_ms / 1000
    end_s = max(performance.end_s, performance.blows[-1].time_s) + scene.tail_s
    if end_s > LONGEST_S:
        raise WrongUse(f"the take would last {end_s:.0f} s; must be at most {LONGEST_S:.0f} s.")
    begin_s = ready_s if scene.count_in == "click" else first_s
    until_s = performance.end_s - beat_s / 4 if scene.click_through else first_s - beat_s / 2
    count = max(int(np.ceil((until_s - begin_s) / beat_s - 1e-9)), 0)
    clicks = tuple(begin_s + i * beat_s for i in range(count)) if scene.click_db is not None else ()
    bar = round(float(exercise.meter.bar / tempo.beat)) if exercise.meter else 4
    counted = tuple(sticks.tolist()) if scene.count_in == "sticks" else ()
    return _TakePlan(performance, counted, clicks, max(bar, 1), ready_s - TALK_BEFORE_S, end_s)


def _stick_blows(count_in_s: tuple[float, ...], level_db: float) -> tuple[Blow, ...]:
    return tuple(Blow(time_s, level_db, "R", 0, 0) for time_s in count_in_s)


class Strokes:
    """Plays blows into a take, a batch at a time, and keeps what the scene needs to know of them."""

    def __init__(self, scene: Scene, samples: SampleBank | None, rng: np.random.Generator) -> None:
        self._scene, self._samples, self._rng = scene, samples, rng
        self._drum = one_of_its_kind(DRUMS[scene.instrument], rng)
        self.mean_peak = 1.0
        self.loud_rms = 1.0

    def play(self, mix: Floats, blows: tuple[Blow, ...], *, with_snr: bool = False) -> tuple[Floats, Floats]:
        """Add blows to a take in place; return their true times (s) and levels (dB).

        Parameters
        ----------
        mix
            The take, shape (n,); changed in place.

        Returns
        -------
        Each blow's true time, s, and level, dB, both of shape (n_blows,).
        """
        times, levels, peaks, powers = [], [], [], []
        for batch in self._batches(blows):
            placed = self._sound(batch)
            add(mix, placed)
            times.append(placed.time_s)
            levels.append(placed.level_db)
            peaks.append(placed.peaks)
            powers.append(_early_power(placed, self._scene.rate_hz))
        if not times:
            return np.zeros(0), np.zeros(0)
        time_s, level_db = np.concatenate(times), np.concatenate(levels)
        if with_snr:
            main = np.array([blow.kind == "note" for blow in blows])
            loud = main & (level_db >= np.quantile(level_db[main], 0.75) - 1e-9)
            self.mean_peak = float(np.mean(np.concatenate(peaks)[main]))
            self.loud_rms = float(np.sqrt(np.mean(np.concatenate(powers)[loud])))
        return time_s, level_db

    def _batches(self, blows: tuple[Blow, ...]) -> list[tuple[Blow, ...]]:
        seconds = 1.0 if self._samples else self._drum.seconds
        size = max(int(BATCH_SAMPLES / (seconds * self._scene.rate_hz)), 1)
        return [blows[i : i + size] for i in range(0, len(blows), size)]

    def _sound(self, blows: tuple[Blow, ...]) -> PlacedStrokes:
        level_db = np.array([blow.level_db for blow in blows])
        # A square law of velocity (Dannenberg 2006) down from the loudest.
        velocity = np.clip(LOUDEST_VELOCITY * 10 ** (level_db / 40), 0.04, 1.0)
        right = np.array([blow.hand == "R" for blow in blows])
        if self._samples is None:
            rows = synthesise(self._drum, velocity, right, self._scene.rate_hz, self._rng)
        else:
            rows = self._samples.strike(velocity, self._scene.rate_hz, self._rng)
        return place(rows, np.array([blow.time_s for blow in blows]), level_db, self._scene.rate_hz)


def _early_power(placed: PlacedStrokes, rate_hz: int) -> Floats:
    """Return the mean square of each stroke's first 50 ms, shape (n_strokes,)."""
    begin = np.rint(placed.time_s * rate_hz).astype(np.int64) - placed.first
    at = begin[:, None] + np.arange(round(SNR_WINDOW_S * rate_hz))
    at = np.minimum(at, placed.rows.head.shape[1] - 1)
    return np.asarray(np.mean(np.take_along_axis(placed.rows.head, at, axis=1) ** 2, axis=1))


def _click(mix: Floats, plan: _TakePlan, scene: Scene, mean_peak: float) -> Floats:
    """Add the click in place; return where its bursts start, seconds."""
    if scene.click_db is None or not plan.clicks_s:
        return np.zeros(0)
    accents = np.array([scene.click_accent and i % plan.beats_in_bar == 0 for i in range(len(plan.clicks_s))])
    plain, strong = burst(scene.rate_hz), burst(scene.rate_hz, accent=True)
    rows = split(np.where(accents[:, None], strong, plain), len(plain))
    placed = place(rows, np.array(plan.clicks_s), np.zeros(len(accents)), scene.rate_hz)
    gain = mean_peak * 10 ** (scene.click_db / 20) / placed.peaks
    add(mix, replace(placed, rows=replace(placed.rows, head=placed.rows.head * gain[:, None])))
    return placed.time_s


def _surround(
    mix: Floats, plan: _TakePlan, scene: Scene, strokes: Strokes, rng: np.random.Generator
) -> Floats:
    """Add talk, room and noise, in that order: talk sounds in the room, noise at the microphone."""
    talk_rng, room_rng, noise_rng = rng.spawn(3)
    if scene.talking:
        speech = talk(TALK_S, scene.rate_hz, talk_rng) * strokes.mean_peak * 10 ** (TALK_DB / 20)
        begin = max(round(plan.talk_s * scene.rate_hz) - len(speech), 0)
        mix[begin : begin + len(speech)] += speech
    if scene.room is not None:
        mix = reverberate(mix, scene.room, scene.rate_hz, room_rng)
    if scene.noise_snr_db is not None:
        rms = strokes.loud_rms * 10 ** (-scene.noise_snr_db / 20)
        mix = mix + rms * noise(scene.noise_colour, len(mix), scene.rate_hz, noise_rng)
    return mix


def _record(mix: Floats, scene: Scene) -> tuple[Floats, Floats]:
    """Set the gain, as a recorder would; return the recording and the gain at each sample."""
    gain = ride_gain(mix, scene.rate_hz) if scene.agc else np.ones(len(mix))
    peak_db = scene.clip_db if scene.clip_db is not None else scene.peak_db
    gain = gain * (10 ** (peak_db / 20) / np.max(np.abs(mix * gain)))
    return np.clip(mix * gain + scene.dc, -1.0, 1.0), gain


def _truth(performance: Performance, time_s: Floats, level_db: Floats) -> Truth:
    """Write down what was played."""
    heard = list(zip(performance.blows, time_s.tolist(), level_db.tolist(), strict=True))
    hits = [
        TrueHit(at, level, blow.hand, blow.repetition, blow.position, blow.kind == "grace")
        for blow, at, level in heard
        if blow.kind in ("note", "grace")
    ]
    missed = tuple(MissedNote(b.repetition, b.position, b.kind == "grace") for b in performance.missed)
    extras = tuple(ExtraHit(at, level) for blow, at, level in heard if blow.kind == "extra")
    bounces = tuple(at for blow, at, _ in heard if blow.kind == "bounce")
    stretches = performance.stretches
    return Truth(tuple(hits), missed, extras, (), (), bounces, performance.tempo_curve, stretches)
