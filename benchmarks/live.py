"""How soon is a blow marked while it is played, and is it the right one? ``python -m benchmarks.live``.

Invented takes are fed to the live ear in blocks as a browser sends them. A blow's delay is counted in the
stream: from its true time to the end of the block in which it is told, plus the processor's time for that
block. Network and drawing come on top. What was told live is set against the truth, and against what the
same ear hears of the whole take in the end; matches are one to one, within 10 ms, by mir_eval.

Conventions: times in seconds, delays in ms; computing is the thread's processor time, not the clock's.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenhand.hearing.live.ear import LiveEar, LiveHit
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Room, Scene
from evenhand.synthesis.player import SimulatedTake, simulate
from evenhand.synthesis.playing import Player

Floats = NDArray[np.float64]

NEAR_S, CLICK_NEAR_S = 0.010, 0.030
A_PLAYER = Player()
A_ROOM, WET = Room(0.4, -12.0), Room(0.8, -4.0)
BUDGET_MS = 35.0  # of the 60 to the page


@dataclass(frozen=True)
class Situation:
    """A kind of take. ``told`` says that the click's times are known to the ear, as at the stand."""

    name: str
    exercise: str
    tempo: str
    repetitions: int
    scene: Scene
    player: Player = A_PLAYER
    told: bool = False


QUIET = Scene(noise_snr_db=40, count_in="none")
SNARE = replace(QUIET, instrument="snare")
CLICKED = replace(QUIET, count_in="click", click_db=0.0)
ACCENTED, PLAIN = "1/16: >RLRR >LRLL", "1/8: RLRR LRLL"
SITUATIONS = (
    Situation("pad, quiet", PLAIN, "1/4=110", 8, QUIET),
    Situation("pad, accents and soft taps", ACCENTED, "1/4=120", 6, QUIET),
    Situation("pad, taps 20 dB softer", ACCENTED, "1/4=100", 6, QUIET, Player(accent_db=20)),
    Situation("pad, noise", ACCENTED, "1/4=120", 6, replace(QUIET, noise_snr_db=20)),
    Situation("snare", ACCENTED, "1/4=120", 6, SNARE),
    Situation("snare, room, noise", PLAIN, "1/4=110", 8, replace(SNARE, noise_snr_db=25, room=A_ROOM)),
    Situation("pad, wet room", PLAIN, "1/4=110", 8, replace(QUIET, room=WET)),
    Situation(
        "ringing snare, accents",
        ACCENTED,
        "1/4=120",
        6,
        replace(QUIET, instrument="ringing_snare", noise_snr_db=35, room=A_ROOM),
    ),
    Situation("16ths at 200, pad", "1/16: RRLL RRLL", "1/4=200", 8, QUIET),
    Situation(
        "16ths at 200, snare, room",
        "1/16: RRLL RRLL",
        "1/4=200",
        8,
        replace(SNARE, noise_snr_db=30, room=A_ROOM),
    ),
    Situation("flams", "1/8: lR rL lR lR", "1/4=90", 6, replace(SNARE, noise_snr_db=35)),
    Situation("drags", "1/4: llR rrL", "1/4=90", 6, QUIET),
    Situation("misses and extra blows", PLAIN, "1/4=110", 8, QUIET, Player(miss_rate=0.05, extra_rate=0.03)),
    Situation(
        "8 % fast, drifting", PLAIN, "1/4=110", 8, QUIET, Player(tempo_ratio=1.08, drift_bpm_per_min=12)
    ),
    Situation("click in the room, pad", ACCENTED, "1/4=100", 6, CLICKED, told=True),
    Situation(
        "loud click under every stroke",
        "1/4: RLRR LRLL",
        "1/4=110",
        3,
        replace(CLICKED, instrument="snare", noise_snr_db=35, room=A_ROOM, click_db=6.0, click_accent=True),
        told=True,
    ),
)


@dataclass(frozen=True)
class Result:
    """One take. ``delays_ms`` of the blows that were there; counts are (found, told, there)."""

    delays_ms: Floats
    cpu_ms: Floats
    core_share: float
    truth: tuple[int, int, int]
    final: tuple[int, int, int]
    right_place: int
    on_clicks: tuple[int, int]
    errors_ms: Floats


def play(situation: Situation, seed: int) -> SimulatedTake:
    """Play one take."""
    return simulate(
        parse_exercise(situation.exercise),
        Tempo.parse(situation.tempo),
        situation.repetitions,
        player=situation.player,
        scene=situation.scene,
        seed=seed,
    )


def an_ear(situation: Situation, take: SimulatedTake) -> LiveEar:
    """Make an ear that knows what the stand would know."""
    clicks_s = take.truth.clicks_s if situation.told else ()
    first_s = None
    if situation.told:
        n = situation.scene.count_in_beats
        first_s = clicks_s[0] + n * (clicks_s[1] - clicks_s[0])
    return LiveEar(
        take.rate_hz,
        exercise=parse_exercise(situation.exercise),
        tempo=Tempo.parse(situation.tempo),
        first_note_s=first_s,
        click_s=clicks_s,
    )


def run(situation: Situation, seed: int, block: int) -> Result:
    """Feed one take, and judge what was told."""
    take = play(situation, seed)
    ear = an_ear(situation, take)
    told: list[tuple[float, LiveHit]] = []
    cpu_s = []
    for start in range(0, len(take.samples), block):
        begin = time.thread_time()
        hits = ear.feed(take.samples[start : start + block])
        cpu_s.append(time.thread_time() - begin)
        told += [(ear.seconds + cpu_s[-1], hit) for hit in hits]
    return judge(take, ear, sorted(told, key=lambda each: each[1].time_s), np.array(cpu_s))


def judge(take: SimulatedTake, ear: LiveEar, told: Sequence[tuple[float, LiveHit]], cpu_s: Floats) -> Result:
    """Set what was told against the truth and against the end."""
    true_s = np.sort([blow.time_s for blow in take.truth.hits] + [blow.time_s for blow in take.truth.extras])
    live_s = np.array([hit.time_s for _, hit in told])
    heard = ear.finish()
    end_s = np.sort([hit.time_s for hit in heard.hits] + [hit.time_s for hit in heard.extra])
    pairs = _pairs(true_s, live_s)
    places = {hit.time_s: (hit.repetition, hit.position, hit.grace) for hit in take.truth.hits}
    said = [(hit.repetition, hit.position, hit.grace) for _, hit in told]
    right = sum(said[j] == places.get(float(true_s[i]), (None, None, False)) for i, j in pairs)
    now_s = np.array([now for now, _ in told])
    return Result(
        delays_ms=(now_s[pairs[:, 1]] - true_s[pairs[:, 0]]) * 1e3,
        cpu_ms=cpu_s * 1e3,
        core_share=float(cpu_s.sum() / (len(take.samples) / take.rate_hz)),
        truth=(len(pairs), len(live_s), len(true_s)),
        final=(len(_pairs(end_s, live_s)), len(live_s), len(end_s)),
        right_place=right,
        on_clicks=_on_clicks(take, true_s, live_s),
        errors_ms=np.abs(live_s[pairs[:, 1]] - true_s[pairs[:, 0]]) * 1e3,
    )


def _pairs(there_s: Floats, told_s: Floats) -> NDArray[np.int64]:
    """Match one to one within 10 ms, shape (n, 2)."""
    import mir_eval

    found = mir_eval.util.match_events(there_s, told_s, NEAR_S)
    return np.array(found, dtype=np.int64).reshape(-1, 2)


def _on_clicks(take: SimulatedTake, true_s: Floats, live_s: Floats) -> tuple[int, int]:
    """Count clicks that were told as blows, of those that sound with no blow near."""
    alone = [t for t in take.truth.clicks_s if np.abs(true_s - t).min() > 2 * CLICK_NEAR_S]
    return sum(bool((np.abs(live_s - t) < CLICK_NEAR_S).any()) for t in alone), len(alone)


def f1(counts: Sequence[tuple[int, int, int]]) -> float:
    """Return F1 from counts of found, told, there."""
    found, told, there = (sum(column) for column in zip(*counts, strict=True))
    return float(2 * found / max(told + there, 1))


def line(name: str, results: Sequence[Result]) -> str:
    """Sum up a few takes as a line of the table."""
    delays = np.concatenate([each.delays_ms for each in results])
    cpu = np.concatenate([each.cpu_ms for each in results])
    found = sum(each.truth[0] for each in results)
    right = sum(each.right_place for each in results)
    wrong, alone = (sum(column) for column in zip(*(each.on_clicks for each in results), strict=True))
    errors = np.concatenate([each.errors_ms for each in results])
    core = float(np.mean([each.core_share for each in results]))
    cells = [
        name,
        f"{sum(each.truth[2] for each in results)}",
        f"{np.median(delays):.0f} / {np.percentile(delays, 99):.0f}",
        f"{np.median(cpu):.1f} / {np.percentile(cpu, 99):.1f}",
        f"{100 * core:.0f} %",
        f"{f1([each.truth for each in results]):.3f}",
        f"{f1([each.final for each in results]):.3f}",
        f"{100 * right / max(found, 1):.1f} %",
        f"{np.median(errors):.2f} / {np.percentile(errors, 95):.1f}",
        f"{wrong} of {alone}" if alone else "-",
    ]
    return "| " + " | ".join(cells) + " |"


HEAD = (
    "| take | blows | delay p50 / p99, ms | computing a block p50 / p99, ms | of one core | F1, truth "
    "| F1, end | right note | time off p50 / p95, ms | clicks |\n|---|---|---|---|---|---|---|---|---|---|"
)


def main() -> None:
    """Run, and print a table for each length of block."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.live", description="Measure the live ear.")
    parser.add_argument("--takes", type=int, default=3, metavar="N", help="takes of each kind")
    parser.add_argument(
        "--blocks", type=int, nargs="+", default=[512, 1024], metavar="N", help="samples a block"
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="which takes")
    asked = parser.parse_args()
    for block in asked.blocks:
        print(f"\nBlocks of {block} samples at 48 kHz ({block / 48:.1f} ms)\n\n{HEAD}")
        every: list[Result] = []
        for situation in SITUATIONS:
            results = [run(situation, asked.seed + i, block) for i in range(asked.takes)]
            every += results
            print(line(situation.name, results), flush=True)
        print(line("**all**", every))
        delays = np.concatenate([each.delays_ms for each in every])
        p99_ms = float(np.percentile(delays, 99))
        print(f"\n{p99_ms:.1f} ms at p99; the aim is {BUDGET_MS:g}")


if __name__ == "__main__":
    main()
