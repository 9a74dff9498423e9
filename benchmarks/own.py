"""What only Evenhand says of a take: which note each blow is, what was missed, how loud it was."""

from __future__ import annotations

import os
import resource
import time
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.figures import figure_errors
from benchmarks.judging import (
    BOUNCE_S,
    Floats,
    Matched,
    OwnScore,
    Score,
    blow_times,
    judge,
    match,
    near,
    paired,
)
from benchmarks.takes import BenchTake
from evenhand.hearing.listen import listen
from evenhand.music.exercise import Exercise
from evenhand.synthesis.player import TrueHit
from evenhand.take import ExtraHit, Heard, Hit

WRONG_FROM = 0.1  # of the hits: a take is aligned wrong when more of them are taken for other notes
LOST_BELOW = 0.5  # of the hits: a take is lost when fewer of them are heard as notes
CLICK_WITHIN_S = 0.005


def hear_and_judge(take: BenchTake, *, whole: bool) -> Score:
    """Hear a take by Evenhand, and judge all that it says; ``whole`` times the act from the file, too."""
    begin = time.process_time()
    heard = listen(take.samples, take.rate_hz, exercise=take.exercise, tempo=take.tempo)
    cpu_s = time.process_time() - begin
    whole_cpu_s = whole_act_cpu_s(take) if whole else 0.0
    score = judge(take, np.array([each.time_s for each in in_order(heard)]), cpu_s, blind=False)
    return replace(score, own=judge_own(take, heard, whole_cpu_s))


def in_order(heard: Heard) -> list[Hit | ExtraHit]:
    """Return all blows that were heard in the playing, in order of time.

    What was heard before it (talk, a count-in) and after it is no blow of the truth's.
    """
    said: list[Hit | ExtraHit] = [*heard.hits, *playing(heard)]
    return sorted(said, key=lambda each: each.time_s)


def playing(heard: Heard) -> tuple[ExtraHit, ...]:
    """Return the extra hits of the playing itself."""
    return tuple(hit for hit in heard.extra if hit.reason == "between")


def whole_act_cpu_s(take: BenchTake) -> float:
    """Time the act from file to figures: this process and those that decode for it."""
    from evenhand.acts.takes.hear import hear_take
    from evenhand.acts.takes.request import TakeRequest
    from evenhand.media.open_take import open_take

    asked = TakeRequest(take.exercise, take.recipe.varied.exercise, take.tempo)
    begin = _cpu_s()
    hear_take(take.file, asked, opens=open_take)
    return _cpu_s() - begin


def _cpu_s() -> float:
    used = (resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN))
    return sum(each.ru_utime + each.ru_stime for each in used) + _living_children_cpu_s()


def _living_children_cpu_s() -> float:
    """Return what children that still live have used, where the system tells."""
    total = 0.0
    for children in Path("/proc/self/task").glob("*/children"):
        for pid in children.read_text().split():
            with suppress(OSError):
                fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
                total += (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return total


def judge_own(take: BenchTake, heard: Heard, whole_cpu_s: float) -> OwnScore:
    """Judge places, levels, misses, extras, clicks and figures."""
    said = in_order(heard)
    found = match(blow_times(take), np.array([each.time_s for each in said]))
    both = [(take.blows[i], said[j]) for i, j in found.pairs.tolist()]
    notes = [(t, s) for t, s in both if isinstance(t, TrueHit) and isinstance(s, Hit)]
    wrong = sum((t.repetition, t.position) != (s.repetition, s.position) for t, s in notes)
    other_place = sum(t.position != s.position for t, s in notes)
    levels = np.array([s.level_db - t.level_db for t, s in notes])
    graces = [hit for hit in take.truth.hits if hit.grace]
    wrong_share = wrong / max(len(notes), 1)
    shift = usual_shift(take.exercise, notes)
    lost = len(notes) < LOST_BELOW * len(take.truth.hits)
    return OwnScore(
        aligned_wrong=wrong_share > WRONG_FROM,
        wrong_share=wrong_share,
        shift=shift,
        only_repetition=other_place <= WRONG_FROM * len(notes) and wrong_share > WRONG_FROM,
        hands_wrong=(sum(t.hand != s.hand for t, s in notes), len(notes)),
        lost=lost,
        said_ambiguous=heard.ambiguity is not None,
        said_unlike=heard.unlike is not None,
        level_errors_db=tuple((levels - np.median(levels)).tolist()) if len(levels) else (),
        missed=missed_right(take, heard),
        extra=extra_right(take, heard, found),
        clicks=clicks_right(take, heard, found.constant_s),
        named_graces=(sum(t.grace and s.grace for t, s in notes), len(graces)),
        figure_errors={} if lost else figure_errors(take, heard),
        whole_cpu_s=whole_cpu_s,
        hidden=len(heard.hidden),
    )


def usual_shift(exercise: Exercise, notes: Sequence[tuple[TrueHit, Hit]]) -> int | None:
    """Return by how many notes most hits are said to be later in the exercise than they are."""
    rank = {position: i for i, position in enumerate(exercise.struck)}
    shifts: Counter[int] = Counter()
    for true, said in notes:
        if said.repetition is not None and said.position is not None:
            repetitions = said.repetition - true.repetition
            shifts[repetitions * len(rank) + rank[said.position] - rank[true.position]] += 1
    return shifts.most_common(1)[0][0] if shifts else None


def missed_right(take: BenchTake, heard: Heard) -> tuple[int, int, int]:
    """Count missed notes: rightly said, said, and truly missed."""
    true = Counter((m.repetition, m.position, m.grace) for m in take.truth.missed)
    said = Counter((m.repetition, m.position, m.grace) for m in heard.missed)
    return (true & said).total(), said.total(), true.total()


def extra_right(take: BenchTake, heard: Heard, found: Matched) -> tuple[int, int, int]:
    """Count extra blows likewise; those on bounces of a buzz may be said or not."""
    true_s = times(take.truth.extras)
    said_s = times(playing(heard)) - found.constant_s
    pairs = paired(true_s, said_s, 0.010)
    free = np.delete(said_s, pairs[:, 1])
    ignored = int(near(free, np.array(take.truth.bounces_s), BOUNCE_S).sum())
    return len(pairs), len(said_s) - ignored, len(true_s)


def clicks_right(take: BenchTake, heard: Heard, constant_s: float) -> tuple[int, int, int]:
    """Count clicks found likewise."""
    true_s, said_s = np.array(take.truth.clicks_s), np.array(heard.clicks_s) - constant_s
    return len(paired(true_s, said_s, CLICK_WITHIN_S)), len(said_s), len(true_s)


def times(of: tuple[ExtraHit, ...]) -> Floats:
    """Return when extra blows sound."""
    return np.sort(np.array([each.time_s for each in of], np.float64))
