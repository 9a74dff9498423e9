"""Drops that were assigned as an exercise: which hits of a take are drops, and of which hand each was.

Conventions: the exercise says a hand for each drop, at its tempo. A drop's hand is found by its time: the
first drop heard is the first written, and each other the one that was due when it came; where no click said
when, the next written. They are heard by the bounce test's own ear, so that the last bounces, which are soft
and close, count; kept are the blows of drops and no other hits.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from evenhand.arrays import Floats
from evenhand.measuring.values import HeardTake
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.library.strokes import drop_hands, is_drops
from evenhand.progress.bounce.drops import Chain, find_drops
from evenhand.progress.bounce.judge import BlowsOfDrop, PadFloor, judge_drop
from evenhand.progress.bounce.restitution import HeardDrop
from evenhand.progress.history import PastBounce
from evenhand.take import Heard, Hit, SoundTake

STRENGTH = 9.0  # of a hit that the ear took for one, as of a pad's
CLEAR = 1.0  # how sure a blow is that follows a drop's law


def past_drops(
    take: HeardTake, exercise: Exercise, tempo: Tempo | None, day: date, grip: str = ""
) -> PastBounce | None:
    """Take the drops of a heard take as a bounce test; None where the exercise is not of drops.

    Without a ``tempo`` no click said when to drop. With a ``grip`` labels are such as ``fingertips, R``.
    """
    if not is_drops(exercise):
        return None
    drops = with_hands(drops_in(take.heard), exercise, tempo)
    gripped = (replace(drop, label=f"{grip}, {drop.label}") for drop in drops)
    return PastBounce(day, take.name, tuple(gripped) if grip else drops)


def listen_to_drops(take: SoundTake, *, with_click: bool) -> Heard:
    """Hear a take of drops by the bounce test's ear: the blows of its drops, in order of time."""
    from evenhand.acts.takes.tests import drops_in_sound

    drops, _, levels_db = drops_in_sound(take, with_click=with_click)
    times_s = np.unique(np.concatenate([np.zeros(0), *(drop.all_s for drop in drops)])).tolist()
    return Heard(hits=tuple(Hit(time_s, levels_db[time_s], CLEAR) for time_s in times_s))


def drops_in(heard: Heard) -> tuple[HeardDrop, ...]:
    """Judge the drops among what was heard."""
    played = [(hit.time_s, hit.level_db) for hit in heard.hits]
    hits = sorted([*played, *((hit.time_s, hit.level_db) for hit in heard.extra)])
    times_s, levels_db = np.array(hits, dtype=np.float64).reshape(-1, 2).T
    chains, _ = find_drops(times_s, np.full(times_s.size, STRENGTH), levels_db)
    floor = PadFloor(float(levels_db.min(initial=0.0)))
    return tuple(judge_drop(_blows(chain, times_s, levels_db), floor) for chain in chains)


def _blows(chain: Chain, times_s: Floats, levels_db: Floats) -> BlowsOfDrop:
    """Gather the hits of one drop.

    Parameters
    ----------
    times_s, levels_db
        Of all hits, shape (n,).
    """
    at, after = list(chain.hits), list(chain.after)
    return BlowsOfDrop(times_s[at], np.array(chain.numbers, dtype=np.int64), times_s[after], levels_db[at])


def with_hands(
    drops: tuple[HeardDrop, ...], exercise: Exercise, tempo: Tempo | None
) -> tuple[HeardDrop, ...]:
    """Label drops with the hand that was due when each came; without a tempo, with each next one."""
    if not drops:
        return ()
    due = list(range(len(drops)))
    if tempo is not None:
        every_s = float(exercise.length) * tempo.whole_note_s / len(exercise.struck)
        due = [round((drop.start_s - drops[0].start_s) / every_s) for drop in drops]
    hands = drop_hands(exercise, max(due) + 1)
    return tuple(replace(drop, label=hands[at]) for drop, at in zip(drops, due, strict=True))
