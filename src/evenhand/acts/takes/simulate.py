"""Let an invented player play an exercise, with chosen faults; the truth comes with the sound."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from evenhand.acts.takes.request import TakeRequest
from evenhand.errors import WrongOptions
from evenhand.synthesis.faults import with_faults
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import LONGEST_S, SimulatedTake, simulate
from evenhand.synthesis.playing import Player
from evenhand.synthesis.voice import SampleBank

MOST_REPETITIONS = 100_000


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be played, how often, with which faults (``late-hand=L:9``), by which seed."""

    request: TakeRequest
    repetitions: int
    faults: Sequence[str] = ()
    seed: int = 0


def simulate_take(wanted: Wanted, scene: Scene, samples: SampleBank | None = None) -> SimulatedTake:
    """Play it. The same wanted, scene and samples give the same take, bit for bit."""
    exercise, tempo = wanted.request.exercise, wanted.request.tempo
    if exercise is None or tempo is None:
        raise WrongOptions(got="nothing to play", must_be="an exercise and a tempo")
    if not 1 <= wanted.repetitions <= MOST_REPETITIONS:
        must_be = f"1 to {MOST_REPETITIONS}"
        raise WrongOptions(got=f"{wanted.repetitions} repetitions", must_be=must_be)
    lasts_s = float(exercise.length) * tempo.whole_note_s * wanted.repetitions
    if lasts_s > 2 * LONGEST_S:  # long before the player finds out, who may play up to twice as fast
        must_be = f"at most {LONGEST_S:.0f} s"
        raise WrongOptions(got=f"a take of about {lasts_s:.0f} s", must_be=must_be)
    player = with_faults(Player(), wanted.faults)
    return simulate(
        exercise, tempo, wanted.repetitions, player=player, scene=scene, seed=wanted.seed, samples=samples
    )
