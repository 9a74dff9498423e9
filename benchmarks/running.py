"""Run every method over every take, one take at a time."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from benchmarks.detectors import Detector
from benchmarks.judging import Score, judge
from benchmarks.own import hear_and_judge
from benchmarks.takes import Recipe, make, room

OURS = "evenhand"


@dataclass(frozen=True)
class Result:
    """One take, and every method's score on it."""

    recipe: Recipe
    seconds: float
    scores: dict[str, Score]


def run(
    recipes: Sequence[Recipe], *, jobs: int, beside: Mapping[str, Detector], whole: bool
) -> Iterator[Result]:
    """Yield results in the order of the recipes; ``whole`` times the act from the file, too."""
    one = partial(run_one, beside=beside, whole=whole)
    if jobs == 1:
        yield from map(one, recipes)
        return
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        yield from pool.map(one, recipes)


def run_one(recipe: Recipe, *, beside: Mapping[str, Detector], whole: bool) -> Result:
    """Make one take, hear it by every method, judge each."""
    with room() as folder:
        take = make(recipe, Path(folder))
        warm_up(beside)
        scores = {OURS: hear_and_judge(take, whole=whole)}
        for name, detect in beside.items():
            begin = time.process_time()
            heard_s = detect(take.samples, take.rate_hz)
            scores[name] = judge(take, heard_s, time.process_time() - begin, blind=True)
    return Result(recipe, take.seconds, scores)


_warm: list[bool] = []


def warm_up(beside: Mapping[str, Detector]) -> None:
    """Let every method run once, so that imports and compiling are nobody's time."""
    if _warm:
        return
    from evenhand.hearing.listen import listen
    from evenhand.music.exercise import Tempo
    from evenhand.music.text import parse_exercise
    from evenhand.synthesis.player import simulate

    exercise, tempo = parse_exercise("1/8: RLRL"), Tempo.parse("1/4=120")
    take = simulate(exercise, tempo, 4)
    listen(take.samples, take.rate_hz, exercise=exercise, tempo=tempo)
    for detect in beside.values():
        detect(take.samples, take.rate_hz)
    _warm.append(True)
