"""Short takes that are hard to read: counted in, begun late, notes missed or added, broken off, begun anew.

One to six times through 3 to 16 notes at 40 to 140 beats a minute, each take with one case in turn and
whatever else is drawn beside it: soft first times, counting in by sticks, voice or click, talk,
drift, a tempo given wrong, flat accents, rooms, noise, codecs, recorded drums.
``benchmarks.readings`` hears them.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks.drums import Drum
from benchmarks.encoding import encode
from benchmarks.written import KNOWN, plain, with_accents, with_buzz, with_graces, with_rests
from evenhand.media.open_take import open_take
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Room, Scene
from evenhand.synthesis.player import SimulatedTake, simulate
from evenhand.synthesis.playing import Player
from evenhand.synthesis.surroundings import talk
from evenhand.take import SoundTake

Generator = np.random.Generator
LONGEST_S = 24.0
BEGUN_LATE = "begun late"  # the case in which nothing but a click or accents could tell


@dataclass(frozen=True)
class Story:
    """One take to be played: ``tempo`` is what the player was asked, ``given`` what the ear is given."""

    seed: int
    case: str
    text: str
    tempo: Tempo
    given: Tempo
    repetitions: int
    player: Player
    scene: Scene
    voice_beats: int = 0  # counted in aloud
    drum: Drum | None = None
    codec: bool = False

    @property
    def exercise(self) -> Exercise:
        """Read the exercise."""
        return parse_exercise(self.text)

    @property
    def note_s(self) -> float:
        """Seconds from a note to the next, the shortest of the exercise."""
        return float(min(note.value for note in self.exercise.notes)) * self.tempo.whole_note_s


def draw(seed: int, drums: Sequence[Drum] = ()) -> Story:
    """Draw a take by its seed."""
    rng = np.random.default_rng([78, seed])
    case = list(CASES)[seed % len(CASES)]
    return CASES[case](rng, _any(rng, seed, case, drums))


def _any(rng: Generator, seed: int, case: str, drums: Sequence[Drum]) -> Story:
    """Draw an exercise, a tempo, a player and a place."""
    text, shortest = _text(rng, case)
    beat = shortest if case == "beat apart" or rng.random() < 0.2 else Fraction(1, 4)
    bpm = float(round(rng.uniform(40, 140)))
    once_s = float(parse_exercise(text).length / beat) * 60 / bpm
    repetitions = int(np.clip(rng.integers(1, 7), 1, max(1, LONGEST_S // once_s)))
    note_ms = 60e3 / bpm * float(shortest / beat)
    counted = ("none", "click", "sticks", "voice")[rng.integers(4)]
    scene = _scene(rng, counted)
    recorded, which = rng.random() < 0.3, int(rng.integers(1_000_000))
    drum = drums[which % len(drums)] if drums and recorded else None
    beats = scene.count_in_beats if counted == "voice" else 0
    codec = bool(rng.random() < 0.12)
    if codec:
        scene = replace(scene, rate_hz=48000)
    tempo = Tempo(beat, bpm)
    if beats:
        scene = replace(scene, lead_in_s=scene.lead_in_s + beats * tempo.beat_s)
    return Story(
        seed, case, text, tempo, tempo, repetitions, _player(rng, note_ms), scene, beats, drum, codec
    )


def _text(rng: Generator, case: str) -> tuple[str, Fraction]:
    """Write an exercise that suits the case, 3 to 16 notes."""
    if case == "beat apart":
        hands = KNOWN[rng.integers(len(KNOWN))]
        value = ("1/4", "1/8")[rng.integers(2)]
        return f"{value}: {' '.join(hands[:16])}", Fraction(value)
    if case == "looks shifted":
        hands = ("RLRL", "RRLL", "RRLLRRLL", "RL", "RRRLLL", "RLRLRLRL")[rng.integers(6)]
        return f"1/8: {' '.join(hands)}", Fraction(1, 8)
    kinds = {"flams": lambda rng: with_graces(rng, 1), "buzz": with_buzz, "accents": with_accents}
    make = kinds.get(case) or (plain, plain, with_accents, with_accents, with_rests)[rng.integers(5)]
    made = make(rng)
    return made.text, made.shortest


def _player(rng: Generator, note_ms: float) -> Player:
    def spread(most: float) -> float:
        return float(np.clip(rng.uniform(0.008, most) * note_ms, 1.0, 14.0))

    hand_ms = spread(0.03)
    return Player(
        timekeeper_sd_ms=spread(0.03),
        hand_sd_ms={"R": hand_ms, "L": hand_ms},
        level_db={"R": 0.0, "L": -float(rng.uniform(0, 4))},
        level_sd_db=float(rng.uniform(0.5, 2.0)),
        accent_db=float(rng.uniform(3, 6) if rng.random() < 0.3 else rng.uniform(6, 14)),
        second_db=-float(rng.uniform(0, 5)) if rng.random() < 0.5 else 0.0,
        first_db=-float(rng.uniform(4, 12)) if rng.random() < 0.15 else 0.0,
        follow_click=bool(rng.random() < 0.7),
    )


def _scene(rng: Generator, counted: str) -> Scene:
    clicked = counted == "click" or (counted == "none" and rng.random() < 0.2)
    return Scene(
        rate_hz=int(rng.choice([22050, 32000, 44100])),
        instrument=("pad", "snare")[rng.integers(2)],
        noise_snr_db=None if rng.random() < 0.2 else float(rng.uniform(18, 50)),
        noise_colour=("white", "pink", "brown", "hum")[rng.integers(4)],
        room=Room(float(rng.uniform(0.15, 0.6)), float(rng.uniform(-20, -9))) if rng.random() < 0.4 else None,
        click_db=float(rng.uniform(-14, 0)) if clicked else None,
        click_through=bool(rng.random() < 0.5),
        count_in=counted if counted in {"click", "sticks"} else "none",  # type: ignore[arg-type]  # one of three
        count_in_beats=int(rng.choice([2, 4, 4, 4, 8])),
        count_in_db=float(rng.uniform(-12, 0)),
        lead_in_s=float(rng.uniform(0.1, 2.0)),
        talking=bool(rng.random() < 0.1),
        peak_db=float(rng.uniform(-25, -1)),
    )


def _as_drawn(_: Generator, story: Story) -> Story:
    return story


def _soft_first(rng: Generator, story: Story) -> Story:
    return replace(story, player=replace(story.player, first_db=-float(rng.uniform(4, 12))))


def _begun_late(rng: Generator, story: Story) -> Story:
    """Miss the first note, or the first two, once counted in."""
    late = min(int(rng.integers(1, 3)), len(story.exercise.struck) - 1)
    return replace(story, player=replace(story.player, misses_first=late))


def _stops(count: int) -> Case:
    def make(rng: Generator, story: Story) -> Story:
        notes = len(story.exercise.notes)
        repetitions = max(story.repetitions, count)
        at = [(1 + k * 2, int(rng.integers(1, notes)), float(rng.uniform(0.4, 2.5))) for k in range(count)]
        return replace(story, repetitions=repetitions, player=replace(story.player, stops=tuple(at)))

    return make


def _talking(_: Generator, story: Story) -> Story:
    return replace(story, scene=replace(story.scene, talking=True))


def _drifting(rng: Generator, story: Story) -> Story:
    seconds = story.repetitions * float(story.exercise.length) * story.tempo.whole_note_s
    change = float(rng.uniform(0.03, 0.06)) * (1 if rng.random() < 0.5 else -1)
    player = replace(
        story.player, follow_click=False, drift_bpm_per_min=change * story.tempo.bpm / (seconds / 60)
    )
    return replace(story, player=player, scene=replace(story.scene, click_through=False))


def _tempo_wrong(rng: Generator, story: Story) -> Story:
    """Give the ear a tempo that is up to 8 % off; or half or double, in three times through or more."""
    ratio = 1 + float(rng.uniform(-0.08, 0.08))
    if rng.random() < 0.3:
        ratio, story = float(rng.choice([0.5, 2.0])), replace(story, repetitions=max(story.repetitions, 3))
    return replace(story, given=Tempo(story.tempo.beat, round(story.tempo.bpm * ratio, 1)))


def _missing(rng: Generator, story: Story) -> Story:
    """Miss notes here and there, or two or three in a row."""
    run = int(rng.integers(1, 4))
    return replace(
        story, player=replace(story.player, miss_rate=float(rng.uniform(0.05, 0.15)) / run, miss_run=run)
    )


def _adding(rng: Generator, story: Story) -> Story:
    return replace(story, player=replace(story.player, extra_rate=float(rng.uniform(0.03, 0.12))))


Case = Callable[[Generator, Story], Story]
CASES: Mapping[str, Case] = {
    "as drawn": _as_drawn,
    "soft first": _soft_first,
    BEGUN_LATE: _begun_late,
    "stop": _stops(1),
    "two stops": _stops(2),
    "beat apart": _as_drawn,
    "looks shifted": _as_drawn,
    "accents": _as_drawn,
    "talk": _talking,
    "drift": _drifting,
    "tempo wrong": _tempo_wrong,
    "missing": _missing,
    "adding": _adding,
    "flams": _as_drawn,
    "buzz": _as_drawn,
}


def play(story: Story) -> SimulatedTake:
    """Play it, count it in aloud where that is asked, and send it through a codec where that is."""
    bank = story.drum.bank if story.drum else None
    take = simulate(
        story.exercise,
        story.tempo,
        story.repetitions,
        player=story.player,
        scene=story.scene,
        seed=story.seed,
        samples=bank,
    )
    samples = take.samples.copy()
    if story.voice_beats:
        rng = np.random.default_rng([79, story.seed])
        size = 0.5 * float(np.abs(samples).max())
        ready_s = story.scene.lead_in_s - story.voice_beats * story.tempo.beat_s
        for beat in range(story.voice_beats):
            word = size * talk(min(0.3, 0.7 * story.tempo.beat_s), take.rate_hz, rng)
            begin = round((ready_s + beat * story.tempo.beat_s) * take.rate_hz)
            samples[begin : begin + len(word)] += word[: len(samples) - begin].astype(np.float32)
    if story.codec:
        samples = _through_codec(samples, take.rate_hz)
    return replace(take, samples=samples)


def _through_codec(samples: NDArray[np.float32], rate_hz: int) -> NDArray[np.float32]:
    """Return what 32 kb/s leave of a take, shape (n,) in and out."""
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        file = Path(folder) / "take.opus"
        encode(file, samples, rate_hz, codec="libopus", bit_rate=32_000)
        heard = open_take(file)
    if not isinstance(heard, SoundTake):
        raise TypeError(file.name)
    return np.asarray(heard.samples[:], np.float32)
