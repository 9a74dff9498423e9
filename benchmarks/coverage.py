"""Count how often the 95 % ranges hold the truth.

Plays many takes by players whose figures are known, measures each, and counts how often every interval holds
the player's underlying value. Truth is the player's own setting where it is one (tempo, levels, gaps), and
otherwise what the same player shows in a very long take against the same clock.

    python -m benchmarks.coverage [--takes 400] [--only NAME]
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from evenhand.measuring.measure import measure
from evenhand.measuring.values import Measure, Measures
from evenhand.music.exercise import Hand, Tempo
from evenhand.take import Heard, Hit
from tests.players import Player, play, written

LONG_TAKES, LONG_HITS = 12, 1600  # a long take is played in so many pieces: the truth's own error stays small
CHANGING_TAKES = 300
TEMPO = Tempo.parse("1/16=480")


@dataclass(frozen=True)
class Case:
    """A kind of player, with an exercise and how often it is repeated.

    ``blurred`` is the share of hits whose times are heard with an error as large as 0.5 to 5 ms.
    """

    name: str
    text: str
    repetitions: int
    player: Player = field(default_factory=Player)
    blurred: float = 0.0


def cases() -> list[Case]:
    """Return the kinds of player: with and without a click, from 8 hits to 400."""
    noise = Player(late_ms={"L": 6.0})
    free = replace(noise, timekeeper_ms=5.0, hand_ms={"R": 3.0, "L": 4.0})
    click = replace(noise, clock="click")
    kept = replace(click, timekeeper_ms=3.0, correction=0.4)
    slow = replace(click, timekeeper_ms=2.0, correction=0.15)
    weak: Mapping[Hand, float] = {"R": -2.0, "L": -4.0}
    crushed: Mapping[Hand, float] = {"L": 8.0}
    return [
        Case("noise 8", "RLRL", 2, noise),
        Case("noise 16", "RLRL", 4, noise),
        Case("noise 400", "RLRL", 100, noise),
        Case("free 8", "RLRL", 2, free),
        Case("free 16", "RLRL", 4, free),
        Case("free 64", "RLRR LRLL", 8, free),
        Case("free 400", "RLRR LRLL", 50, free),
        Case("free doubles", "RRLL", 16, replace(free, second_db=weak, second_early_ms=crushed)),
        Case("click 8", "RL", 4, click),
        Case("click 32", "RLRL", 8, click),
        Case("click 240", "RLRL", 60, click),
        Case("kept 16", "RLRL", 4, kept),
        Case("kept 64", "RLRR LRLL", 8, kept),
        Case("kept 400", "RLRL", 100, kept),
        Case("slow 64", "RLRL", 16, slow),
        Case("slow 400", "RLRR LRLL", 50, slow),
        Case("accents", ">RLRR >LRLL", 12, replace(kept, second_db=weak, second_early_ms=crushed)),
        Case("flams", "lR rL lR rL", 8, noise),
        Case("heavy 32", "RLRL", 8, replace(noise, noise="heavy")),
        Case("heavy 240", "RLRL", 60, replace(noise, noise="heavy")),
        Case("skewed 32", "RLRR LRLL", 4, replace(click, noise="skewed")),
        Case("skewed 240", "RLRL", 60, replace(click, noise="skewed")),
        Case("blurred 32", "RLRR LRLL", 4, click, 0.15),
        Case("blurred 240", "RLRL", 60, noise, 0.15),
        Case("blurred flams", "lR rL lR rL", 8, noise, 0.15),
        Case("hurrying", "RLRL", 40, replace(free, hurry=0.06)),
        Case("tiring", "RLRL", 60, replace(noise, fading_db=-3.0)),
    ]


def figures(m: Measures) -> Iterator[tuple[str, Measure]]:
    """Yield every figure of a take by name."""
    yield "tempo", m.tempo_bpm
    yield "drift", m.drift_bpm_per_min
    for hand, h in m.hands.items():
        for name in ("timing_mean_ms", "timing_sd_ms", "interval_sd_ms", "level_mean_db", "level_sd_db"):
            yield f"{name} {hand}", getattr(h, name)
    yield "balance timing", m.balance_timing_ms
    yield "balance level", m.balance_level_db
    for hand, d in m.doubles.items():
        yield f"second-first {hand}", d.second_minus_first_db
        yield f"short share {hand}", d.short_share
    for hand, accents in m.accents_over_taps_db.items():
        yield f"accents {hand}", accents
    for hand, g in m.graces.items():
        yield f"grace gap {hand}", g.gap_ms
        yield f"grace level {hand}", g.level_db


def truth(case: Case) -> dict[str, float]:
    """Return the player's underlying values: means over very long takes; spreads pooled by their squares.

    Where the player changes on the way, a long take would be another one: then over many of that length.
    """
    exercise = written(case.text)
    changes = case.player.hurry or case.player.fading_db
    n_takes = CHANGING_TAKES if changes else LONG_TAKES
    repetitions = case.repetitions if changes else LONG_HITS // len(exercise.notes)
    sums: dict[str, list[float]] = {}
    for seed in range(n_takes):
        heard = play(exercise, TEMPO, repetitions, case.player, np.random.default_rng([7, seed]))
        for name, figure in figures(measure(heard, exercise, TEMPO)):
            sums.setdefault(name, []).append(figure.value if figure.value is not None else np.nan)
    out = {
        name: float(np.sqrt(np.mean(np.square(v)))) if "_sd_" in name else float(np.mean(v))
        for name, v in sums.items()
    }
    return {**out, **settings(case)}


def settings(case: Case) -> dict[str, float]:
    """Return the underlying values that are plain settings of the player."""
    who = case.player
    # the tempo grows by ``hurry`` along written time, so per whole note the time shrinks evenly
    through_min = whole_notes(case) * TEMPO.whole_note_s / 60
    known = {"tempo": TEMPO.bpm, "drift": TEMPO.bpm * who.hurry / through_min}
    for hand in ("R", "L"):
        known |= {f"grace gap {hand}": who.grace_gap_ms, f"grace level {hand}": who.grace_db}
        known[f"second-first {hand}"] = who.second_db.get(hand, 0.0)
    if not any(who.second_db.values()):
        mean = {h: who.level_db[h] + who.fading_db / 2 for h in ("R", "L")}
        known |= {f"level_mean_db {h}": mean[h] for h in ("R", "L")}
        known |= {"balance level": mean["R"] - mean["L"]}
    return known


def whole_notes(case: Case) -> float:
    """Return how long a case is, in whole notes."""
    return float(written(case.text).length) * case.repetitions


def coverage(case: Case, takes: int) -> dict[str, tuple[float, float]]:
    """Return for every figure the share of intervals that hold the truth, and their median width."""
    exercise, true = written(case.text), truth(case)
    held: dict[str, list[bool]] = {}
    width: dict[str, list[float]] = {}
    for seed in range(takes):
        rng = np.random.default_rng([11, seed])
        heard = blurred(play(exercise, TEMPO, case.repetitions, case.player, rng), case.blurred, rng)
        for name, figure in figures(measure(heard, exercise, TEMPO)):
            if figure.ci95 is not None:
                low, high = figure.ci95
                held.setdefault(name, []).append(low <= true[name] <= high)
                width.setdefault(name, []).append(high - low)
    return {name: (float(np.mean(held[name])), float(np.median(width[name]))) for name in held}


def blurred(heard: Heard, share: float, rng: np.random.Generator) -> Heard:
    """Return the same with a share of the times heard badly, and each hit's error known."""
    return replace(heard, hits=tuple(_blurred(hit, share, rng) for hit in heard.hits)) if share else heard


def _blurred(hit: Hit, share: float, rng: np.random.Generator) -> Hit:
    se_ms = float(rng.uniform(0.5, 5.0)) if rng.random() < share else 0.05
    off_ms = float(rng.normal(0, se_ms))
    moved = [None if at is None else at + off_ms for at in (hit.asynchrony_ms, hit.deviation_ms)]
    return replace(
        hit,
        time_s=hit.time_s + off_ms / 1000,
        time_se_ms=se_ms,
        asynchrony_ms=moved[0],
        deviation_ms=moved[1],
    )


def main() -> None:
    """Print a table, a line a figure and player; last, how all of them lie."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--takes", type=int, default=400)
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    every: list[float] = []
    for case in cases():
        if asked.only not in case.name:
            continue
        found = coverage(case, asked.takes)
        every += [share for share, _ in found.values()]
        cells = "  ".join(f"{name} {100 * share:.1f} ({width:.3g})" for name, (share, width) in found.items())
        print(f"{case.name:14s} {cells}", flush=True)
    shares = np.array(every)
    inside = np.mean((shares >= 0.93) & (shares <= 0.97))
    print(
        f"{shares.size} figures: mean {100 * shares.mean():.1f} %, in 93-97 %: {100 * inside:.0f} %, "
        f"lowest {100 * shares.min():.1f}, highest {100 * shares.max():.1f}"
    )


if __name__ == "__main__":
    main()
