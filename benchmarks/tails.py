"""Hear what is hardest: taps under the ring of accents, second notes of rolls, graces, on drums with tails.

    python -m benchmarks.tails [--takes N] [--seed N] [--samples FOLDER] [--only TEXT] [--list]

Three kinds in turn: accents over taps that are 12 to 30 dB softer, at up to 12 notes a second; rolls of
doubles at 8 to 20 a second whose seconds are weak; flams and drags. A third each is played on recorded
drums, on those that speak late, and on synthesised ones that ring for long, in rooms that ring for .3 to
1.2 s. Seeds 0 to 9 are for tuning.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.drums import VARIABLE, Drum, find_drums
from benchmarks.judging import WINDOWS_MS, Score
from benchmarks.own import hear_and_judge
from benchmarks.takes import Recipe, TakeSet, make, room
from benchmarks.varied import Draft, VariedTake, draft_of
from benchmarks.written import rolls, with_accents, with_graces
from evenhand.synthesis.instruments import Room, Scene

SETS: Sequence[TakeSet] = ("synthetic", "drums", "late drums")
SEED = 7_000_000


def accents(rng: np.random.Generator) -> Draft:
    """Play accents over taps that are 12 to 30 dB softer."""
    drawn = draft_of(rng, with_accents(rng), per_s=(4.0, 12.0))
    under_db = float(rng.uniform(12, 30))
    return replace(drawn, player=replace(drawn.player, accent_db=under_db, level_sd_db=1.0))


def doubles(rng: np.random.Generator) -> Draft:
    """Roll in doubles with weak seconds."""
    drawn = draft_of(rng, rolls(rng), per_s=(8.0, 20.0))
    weak_db = -float(rng.uniform(3, 12))
    return replace(drawn, player=replace(drawn.player, second_db=weak_db, level_sd_db=1.0))


def graces(rng: np.random.Generator) -> Draft:
    """Play flams or drags with soft graces."""
    count = int(rng.integers(1, 3))
    drawn = draft_of(rng, with_graces(rng, count), per_s=(2.0, 4.5))
    gap_ms, grace_db = float(rng.uniform(22, 40)), -float(rng.uniform(10, 25))
    player = replace(drawn.player, grace_gap_ms=gap_ms, grace_gap_sd_ms=0.08 * gap_ms, grace_db=grace_db)
    return replace(drawn, player=player)


KINDS: Mapping[str, Callable[[np.random.Generator], Draft]] = {
    "accents": accents,
    "doubles": doubles,
    "graces": graces,
}


def recipes(n: int, seed: int, drums: Sequence[Drum]) -> list[Recipe]:
    """Draw n takes, kinds and sets in turn; sets without drums are left out."""
    by_set: dict[TakeSet, list[Drum | None]] = {
        "synthetic": [None],
        "drums": [drum for drum in drums if not drum.speaks_late],
        "late drums": [drum for drum in drums if drum.speaks_late],
    }
    sets = [name for name in SETS if by_set[name]]
    out = []
    for i in range(n):
        rng = np.random.default_rng([SEED + seed, i])
        kind, of = list(KINDS)[i % len(KINDS)], sets[i // len(KINDS) % len(sets)]
        drawn = KINDS[kind](rng)
        drum = by_set[of][int(rng.integers(len(by_set[of])))]
        scene = _place(rng, drawn.scene)
        text = drawn.written.text
        name = f"{i:04d}-{kind}" + ("" if drum is None else f" on {drum.name}")
        varied = VariedTake(name, text, drawn.tempo, drawn.repetitions, drawn.player, scene)
        out.append(Recipe(name, of, kind, varied, 1000 * (SEED + seed) + i, drum))
    return out


def _place(rng: np.random.Generator, scene: Scene) -> Scene:
    """Let the drum ring, in a quiet room that rings too."""
    echo = Room(float(rng.uniform(0.3, 1.2)), float(rng.uniform(-14, -4)))
    quiet = replace(scene, room=echo, noise_snr_db=float(rng.uniform(38, 55)))
    return replace(quiet, instrument="ringing_snare" if rng.random() < 0.5 else "snare")


def line(scores: Sequence[Score]) -> str:
    """Say in a line how well some takes were heard."""
    n = sum(s.n_true + s.n_heard for s in scores)
    f1 = "  ".join(f"{2 * sum(s.matched[i] for s in scores) / n:.4f}" for i in range(len(WINDOWS_MS)))
    errors = np.abs(np.concatenate([s.errors_ms for s in scores]))
    biases = [abs(s.bias_ms) for s in scores if s.bias_ms is not None]
    graces_of = sum(s.graces[0] for s in scores), sum(s.graces[1] for s in scores)
    own = [s.own for s in scores if s.own is not None]
    missed = sum(o.missed[1] - o.missed[0] for o in own), sum(o.hidden for o in own)
    wrong = sum(o.aligned_wrong for o in own)
    return (
        f"{f1}  {np.median(errors):.3f} / {np.quantile(errors, 0.95):.2f}  "
        f"{np.max(biases, initial=0.0):5.2f}  {graces_of[0]:4d} of {graces_of[1]:4d}  "
        f"{missed[0]:4d}  {missed[1]:4d}  {wrong:3d} of {len(scores)}"
    )


def main() -> int:
    """Play, hear, and print; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.tails", description="Hear what is hardest.")
    parser.add_argument("--takes", type=int, default=54, metavar="N")
    parser.add_argument("--seed", type=int, default=0, metavar="N")
    parser.add_argument("--samples", type=Path, metavar="FOLDER", help=f"recorded drums (or {VARIABLE})")
    parser.add_argument("--only", default="", metavar="TEXT", help="takes whose set and name contain this")
    parser.add_argument("--list", action="store_true", help="a line for each take")
    asked = parser.parse_args()
    drums, said = find_drums(asked.samples)
    print(f"recorded drums: {said}")
    by: dict[str, list[Score]] = {}
    print(f"{'F1 within 2, 5, 10 ms; error, median / p95 ms; worst bias ms; graces;':>40}")
    print("notes wrongly called missed; notes said to be hidden; takes aligned wrong")
    with room() as folder:
        for recipe in recipes(asked.takes, asked.seed, drums):
            if asked.only in f"{recipe.of} {recipe.name}":
                score = hear_and_judge(make(recipe, Path(folder)), whole=False)
                by.setdefault(f"{recipe.of}, {recipe.case}", []).append(score)
                if asked.list:
                    print(f"{recipe.name:60.60} {line([score])}")
    for name, scores in sorted(by.items()):
        print(f"{name:24} {line(scores)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
