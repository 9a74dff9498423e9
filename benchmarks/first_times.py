"""Count the times through that are lost or made up, over takes of every level, noise and tempo.

    python -m benchmarks.first_times [--takes N] [--seed N] [--jobs 2] [--list] [--out FILE]

Invented takes with a known truth: with and without a click, with and without a real count-in (clicks, or
blows on the drum), now and then with a first time through that is softer than the rest; one in ten breaks
off. Seeds 0 to 2 were for setting the ear, 3 and up are only reported. A time through is lost where fewer
than half of its notes are said to be notes of it; made up where fewer than half of what is said to be one
were notes of it.

A few takes cannot be told by anyone: so many blows on the drum as a whole time through has notes, a beat
apart as these are. They are taken for notes, and the doubt must be said; they are counted apart.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
from fractions import Fraction
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from benchmarks.written import plain, with_accents, with_mixed_values, with_rests
from evenhand.hearing.listen import listen
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Room, Scene
from evenhand.synthesis.player import SimulatedTake, simulate
from evenhand.synthesis.playing import Player
from evenhand.take import Heard

SAME_S = 0.030  # a hit this near a blow is that blow
CERTAIN_DB = 12.0  # over the noise, a blow must not vanish
LONGEST_S = 40.0
COMMON = (
    "1/8: RLRR LRLL",
    "1/4: RLRR LRLL",
    "1/8: RLRL",
    "1/8: RRLL",
    "1/4: RLRL RLRL RLRL RLRL",
    "1/16: RLRRLRLL",
)


@dataclass(frozen=True)
class Asked:
    """One take to be played: what, how and where."""

    seed: int
    text: str
    tempo: str
    repetitions: int
    player: Player
    scene: Scene
    broken_off: int = 0  # notes of the last time through that are not played any more

    @property
    def exercise(self) -> Exercise:
        """Read the exercise."""
        return parse_exercise(self.text)


@dataclass(frozen=True)
class Judged:
    """What became of one take. ``untold``: nobody could tell the count-in from a time through."""

    take: Asked
    lost: int
    made_up: int
    moved: int
    vanished: int
    extra: int
    untold: bool
    doubt_said: bool


def draw(seed: int) -> Asked:
    """Draw a take by its seed."""
    rng = np.random.default_rng([77, seed])
    text, shortest = _text(rng)
    length = float(parse_exercise(text).length)
    beat = shortest if rng.random() < 0.5 else shortest * int(rng.choice([2, 4]))
    rate = float(np.exp(rng.uniform(*np.log((0.9, 10.0)))))
    bpm = float(np.clip(round(60 * rate * float(shortest / beat)), 20, 400))
    once_s = length * 60 / bpm / float(beat)
    repetitions = int(np.clip(round(rng.uniform(2, 8)), 2, max(2, LONGEST_S // once_s)))
    note_ms = 60e3 / bpm * float(shortest / beat)
    player, scene = _player(rng, note_ms), _scene(rng)
    notes = len(parse_exercise(text).struck)
    off = int(rng.integers(1, notes)) if rng.random() < 0.1 else 0
    return Asked(seed, text, f"{beat.numerator}/{beat.denominator}={bpm:g}", repetitions, player, scene, off)


def _text(rng: np.random.Generator) -> tuple[str, Fraction]:
    if rng.random() < 0.5:
        text = str(rng.choice(COMMON))
        return text, Fraction(text.split(":", maxsplit=1)[0])
    made = (plain, with_accents, with_rests, with_mixed_values)[rng.integers(4)](rng)
    return made.text, made.shortest


def _player(rng: np.random.Generator, note_ms: float) -> Player:
    """Draw a player: spreads from a few ms to a few per cent of the time between notes."""
    hand_ms = float(np.clip(rng.uniform(0.006, 0.03) * note_ms, 1.0, 12.0))
    return Player(
        timekeeper_sd_ms=float(np.clip(rng.uniform(0.008, 0.03) * note_ms, 1.0, 14.0)),
        hand_sd_ms={"R": hand_ms, "L": hand_ms},
        level_db={"R": 0.0, "L": -float(rng.uniform(0, 3))},
        level_sd_db=float(rng.uniform(0.5, 2.0)),
        accent_db=float(rng.uniform(6, 12)),
        first_db=-float(rng.uniform(4, 12)) if rng.random() < 0.3 else 0.0,
        follow_click=bool(rng.random() < 0.7),
    )


def _scene(rng: np.random.Generator) -> Scene:
    """Draw a place; what is in the way of a soft first time is noise up to 25 dB under the strokes."""
    counted = ("none", "click", "sticks")[rng.integers(3)]
    clicked = counted == "click" or rng.random() < 0.2
    return Scene(
        instrument=("pad", "snare")[rng.integers(2)],
        noise_snr_db=None if rng.random() < 0.2 else float(rng.uniform(25, 60)),
        noise_colour=("white", "pink", "brown", "hum")[rng.integers(4)],
        room=Room(float(rng.uniform(0.15, 0.6)), float(rng.uniform(-20, -9))) if rng.random() < 0.4 else None,
        click_db=float(rng.uniform(-12, 3)) if clicked else None,
        click_through=bool(rng.random() < 0.5),
        count_in=counted,  # type: ignore[arg-type]  # one of the three
        count_in_beats=int(rng.choice([2, 4, 4, 4, 8])),
        count_in_db=float(rng.uniform(-12, -4)),
        lead_in_s=float(rng.uniform(0.1, 2.0)),
        peak_db=float(rng.uniform(-30, -1)),
    )


def play(asked: Asked) -> SimulatedTake:
    """Play it; who breaks off stops the recorder just before the next note."""
    take = simulate(
        asked.exercise,
        Tempo.parse(asked.tempo),
        asked.repetitions,
        player=asked.player,
        scene=asked.scene,
        seed=asked.seed,
    )
    if not asked.broken_off:
        return take
    hits = take.truth.hits
    until_s = hits[-asked.broken_off].time_s - 0.02
    truth = replace(take.truth, hits=hits[: -asked.broken_off])
    return SimulatedTake(take.samples[: int(until_s * take.rate_hz)], take.rate_hz, truth)


def run_one(seed: int) -> Judged:
    """Draw, play, hear and judge one take."""
    asked = draw(seed)
    take = play(asked)
    heard = listen(take.samples, take.rate_hz, exercise=asked.exercise, tempo=Tempo.parse(asked.tempo))
    return judge(asked, take, heard)


def judge(asked: Asked, take: SimulatedTake, heard: Heard) -> Judged:
    """Count what was lost, made up, moved to another note, and gone altogether."""
    true_s = np.array([hit.time_s for hit in take.truth.hits])
    said_s = np.array([hit.time_s for hit in heard.hits])
    right, moved = Counter[int](), 0
    for hit in heard.hits:
        at = int(np.abs(true_s - hit.time_s).argmin())
        if abs(true_s[at] - hit.time_s) < SAME_S:
            true = take.truth.hits[at]
            same = (true.repetition, true.position) == (hit.repetition, hit.position)
            right[hit.repetition or 0] += same
            moved += not same
    figures_of = Counter(hit.repetition for hit in take.truth.hits)
    said_of = Counter(hit.repetition or 0 for hit in heard.hits)
    told_s = np.concatenate([said_s, [hit.time_s for hit in heard.extra]])
    return Judged(
        take=asked,
        lost=sum(right[n] < 0.5 * many for n, many in figures_of.items()),
        made_up=sum(right[n] < 0.5 * many for n, many in said_of.items()),
        moved=moved,
        vanished=_vanished(asked, take, told_s),
        extra=len(heard.extra),
        untold=cannot_be_told(asked),
        doubt_said=heard.ambiguity is not None
        or any(each.kind in {"maybe a count-in", "maybe notes"} for each in heard.warnings),
    )


def _vanished(asked: Asked, take: SimulatedTake, told_s: np.ndarray[tuple[int], np.dtype[np.float64]]) -> int:
    """Count blows well above the noise that are neither a note nor an extra hit."""
    levels = np.array([hit.level_db for hit in take.truth.hits])
    snr = asked.scene.noise_snr_db if asked.scene.noise_snr_db is not None else np.inf
    least_db = np.quantile(levels, 0.75) - snr + CERTAIN_DB
    played_s = [*(h.time_s for h in take.truth.hits if h.level_db > least_db), *take.truth.count_in_s]
    if len(told_s) == 0:
        return len(played_s)
    return int(sum(np.abs(told_s - at).min() > SAME_S for at in played_s))


def cannot_be_told(asked: Asked) -> bool:
    """Tell whether a count-in on the drum is just like so many times through: as many blows, a beat apart."""
    exercise, beat = asked.exercise, Tempo.parse(asked.tempo).beat
    if asked.scene.count_in != "sticks" or asked.scene.count_in_beats % len(exercise.struck):
        return False
    starts = [exercise.starts[i] for i in exercise.struck]
    return all(b - a == beat for a, b in pairwise([*starts, exercise.length]))


def run(seeds: Sequence[int], jobs: int) -> list[Judged]:
    """Run the takes of these seeds."""
    if jobs == 1:
        return [_told(run_one(seed), i, len(seeds)) for i, seed in enumerate(seeds)]
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        done = pool.map(run_one, seeds, chunksize=8)
        return [_told(one, i, len(seeds)) for i, one in enumerate(done)]


def _told(one: Judged, i: int, of: int) -> Judged:
    if sys.stderr.isatty():
        print(f"\r{i + 1} of {of} takes", end="\n" if i + 1 == of else "", file=sys.stderr)
    return one


def summed(every: Sequence[Judged]) -> dict[str, int]:
    """Sum over takes; those nobody could tell stand apart."""
    told = [one for one in every if not one.untold]
    return {
        "takes": len(every),
        "times through played": sum(one.take.repetitions for one in every),
        "times through lost": sum(one.lost for one in told),
        "times through made up": sum(one.made_up for one in told),
        "takes with a hit on another note": sum(one.moved > 0 for one in told),
        "hits vanished": sum(one.vanished for one in every),
        "  of these in takes that break off": sum(one.lost for one in told if one.take.broken_off),
        "  of these in takes without a count-in on the drum": sum(
            one.lost for one in told if one.take.scene.count_in != "sticks"
        ),
        "  of these with the doubt said": sum(one.lost for one in told if one.doubt_said),
        "takes that nobody could tell": sum(one.untold for one in every),
        "  of these the doubt was said": sum(one.untold and one.doubt_said for one in every),
        "  of these times through lost": sum(one.lost for one in every if one.untold),
    }


def main() -> int:
    """Run, print, and write."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.first_times", description=__doc__)
    parser.add_argument("--takes", type=int, default=1000, metavar="N")
    parser.add_argument(
        "--seed", type=int, default=3, metavar="N", help="which thousand: 3 and up are only reported"
    )
    parser.add_argument("--jobs", type=int, default=1, choices=(1, 2))
    parser.add_argument("--list", action="store_true", help="a line for each take with something wrong")
    parser.add_argument("--out", type=Path, metavar="FILE", help="all takes as JSON")
    asked = parser.parse_args()
    every = run(range(asked.seed * 100_000, asked.seed * 100_000 + asked.takes), asked.jobs)
    for name, value in summed(every).items():
        print(f"{name}: {value}")
    for one in every if asked.list else ():
        if one.lost or one.made_up or one.moved or one.vanished:
            print(line(one))
    if asked.out:
        asked.out.write_text(json.dumps([asdict(one) for one in every], indent=1, default=str))
    return 0


def line(one: Judged) -> str:
    """Say in a line what went wrong with a take."""
    t, s = one.take, one.take.scene
    wrong = f"lost {one.lost}, made up {one.made_up}, moved {one.moved}, vanished {one.vanished}"
    counted = (
        f"{s.count_in} x{s.count_in_beats} {s.count_in_db:.0f} dB" if s.count_in != "none" else "no count-in"
    )
    through = "through" if s.click_through else ""
    said = [
        f"{t.text!r} {t.tempo} x{t.repetitions}",
        f"less {t.broken_off}" if t.broken_off else "",
        f"first {t.player.first_db:.0f} dB" if t.player.first_db else "",
        f"noise {s.noise_snr_db:.0f} dB {s.noise_colour}" if s.noise_snr_db is not None else "",
        counted,
        f"click {s.click_db:.0f} dB {through}" if s.click_db is not None else "no click",
        s.instrument,
        "room" if s.room else "",
        "doubt said" if one.doubt_said else "",
        "cannot be told" if one.untold else "",
    ]
    return f"{t.seed}: {wrong}, extra {one.extra}: {', '.join(each for each in said if each)}"


if __name__ == "__main__":
    sys.exit(main())
