"""The takes to be heard: invented players on invented pads, on recorded drums, and through lossy codecs.

Seeds are split: even ones are for tuning, odd ones are kept aside and only reported.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from benchmarks.drums import Drum
from benchmarks.encoding import Codec, encode
from benchmarks.varied import CASES, VariedTake, varied_takes
from evenhand.media.open_take import open_take
from evenhand.media.write import write_wav
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.player import TrueHit, Truth, simulate
from evenhand.take import ExtraHit, SoundTake

TakeSet = Literal["synthetic", "drums", "late drums", "codecs"]
SKIPPED: Mapping[TakeSet, int] = {"synthetic": 0, "drums": 0, "late drums": 5, "codecs": 11}  # other cases
SMOKE = ("plain", "click-through", "stop", "flams", "fast-rolls", "drifting")
SMOKE_SEED = 2
CODECS: Sequence[tuple[str, Codec, int]] = (
    (".mp3", "libmp3lame", 64_000),
    (".m4a", "aac", 64_000),
    (".opus", "libopus", 32_000),
    (".mp3", "libmp3lame", 128_000),
    (".m4a", "aac", 128_000),
    (".webm", "libopus", 64_000),
)
MP3_RATES_HZ, OPUS_RATE_HZ = (32000, 44100, 48000), 48000


@dataclass(frozen=True)
class Recipe:
    """How to make one take; small, so that it can go to another process."""

    name: str
    of: TakeSet
    case: str
    varied: VariedTake
    seed: int
    drum: Drum | None = None
    codec: tuple[str, Codec, int] | None = None


@dataclass(frozen=True)
class BenchTake:
    """One take as every method gets it: ``samples`` float32 of shape (n,); ``file`` holds the same sound."""

    recipe: Recipe
    exercise: Exercise
    tempo: Tempo
    samples: NDArray[np.float32]
    rate_hz: int
    truth: Truth
    file: Path

    @property
    def blows(self) -> list[TrueHit | ExtraHit]:
        """All that was played: notes, graces and extra hits, in order of time."""
        played: list[TrueHit | ExtraHit] = [*self.truth.hits, *self.truth.extras]
        return sorted(played, key=lambda blow: blow.time_s)

    @property
    def seconds(self) -> float:
        """Seconds of sound."""
        return len(self.samples) / self.rate_hz


def recipes(n: int, seed: int, drums: Sequence[Drum], *, held_out: bool) -> list[Recipe]:
    """List the takes: n synthetic ones, half as many on recorded drums, a few late drums and codecs."""
    stream = 2 * seed + (1 if held_out else 0)
    quick = [drum for drum in drums if not drum.speaks_late]
    late = [drum for drum in drums if drum.speaks_late]
    out = _draw("synthetic", n, stream)
    if quick:
        out += [replace(r, drum=quick[i % len(quick)]) for i, r in enumerate(_draw("drums", n // 2, stream))]
    if late:
        drawn = enumerate(_draw("late drums", n // 4, stream))
        out += [replace(r, drum=late[i % len(late)]) for i, r in drawn]
    drawn = enumerate(_draw("codecs", n // 4, stream))
    out += [replace(r, codec=CODECS[i % len(CODECS)]) for i, r in drawn]
    return [_marked(r) for r in out]


def smoke_recipes() -> list[Recipe]:
    """List six takes of kinds that must never fail."""
    drawn = {r.case: r for r in _draw("synthetic", len(CASES), SMOKE_SEED)}
    return [drawn[case] for case in SMOKE]


def _draw(of: TakeSet, n: int, stream: int) -> list[Recipe]:
    """Draw takes; each set has its own, at the same parity of the seed."""
    seed = stream + 100_000 * list(SKIPPED).index(of)
    drawn = list(varied_takes(n + SKIPPED[of], seed))[SKIPPED[of] :]
    return [Recipe(v.name, of, v.name[5:], v, 10_000 * seed + int(v.name[:4])) for v in drawn]


def _marked(recipe: Recipe) -> Recipe:
    """Say in its name what a take was played on or sent through."""
    if recipe.drum is not None:
        return replace(recipe, name=f"{recipe.name} on {recipe.drum.name}")
    if recipe.codec is not None:
        ending, _, bit_rate = recipe.codec
        return replace(recipe, name=f"{recipe.name} as {ending[1:]} at {bit_rate // 1000} kb/s")
    return recipe


def make(recipe: Recipe, folder: Path) -> BenchTake:
    """Play one take, and write its file into the folder."""
    v = recipe.varied
    exercise = parse_exercise(v.exercise)
    scene = replace(v.scene, rate_hz=_rate_for(recipe, v.scene.rate_hz))
    bank = recipe.drum.bank if recipe.drum else None
    played = simulate(
        exercise, v.tempo, v.repetitions, player=v.player, scene=scene, seed=recipe.seed, samples=bank
    )
    file, samples, rate_hz = folder / "take.wav", played.samples, played.rate_hz
    if recipe.codec is None:
        write_wav(file, samples, rate_hz)
    else:
        ending, codec, bit_rate = recipe.codec
        file = folder / f"take{ending}"
        encode(file, samples, rate_hz, codec=codec, bit_rate=bit_rate)
        heard = open_take(file)
        if not isinstance(heard, SoundTake):
            raise TypeError(file.name)
        samples, rate_hz = np.asarray(heard.samples[:], np.float32), heard.rate_hz
    return BenchTake(recipe, exercise, v.tempo, samples, rate_hz, played.truth, file)


def _rate_for(recipe: Recipe, rate_hz: int) -> int:
    """Return a rate that the take's codec knows."""
    if recipe.codec is None:
        return rate_hz
    if recipe.codec[1] == "libopus":
        return OPUS_RATE_HZ
    return rate_hz if rate_hz in MP3_RATES_HZ else MP3_RATES_HZ[1]


def room() -> tempfile.TemporaryDirectory[str]:
    """Lend a folder for the takes' files."""
    return tempfile.TemporaryDirectory(prefix="bench-")
