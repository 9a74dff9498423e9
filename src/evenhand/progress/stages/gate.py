"""What belongs to a stage: which exercises at which tempo, and which takes show it.

Conventions: what is inside gives None, what is not a remark that says why. A take shows a stage where its
stroke fits, it holds what the stage's exercise to record holds, and it is not slower than the stage's slow
end by more than ``LET_GO``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from itertools import groupby

from evenhand.music.exercise import Exercise, Hand, Tempo
from evenhand.music.library.tracks import TRACKS, LibraryExercise, track
from evenhand.music.text import mirrored, parse_exercise
from evenhand.music.writing.difficulty import hardness
from evenhand.music.writing.rates import rate_per_s
from evenhand.progress.history import PastTake, played_bpm
from evenhand.progress.stages.path import Ornament, Stage
from evenhand.progress.stages.reading import read_in
from evenhand.take import Fact, Remark, RemarkKind

LET_GO = 0.1  # of a bound: a click has steps of 2 %, and nobody plays a tempo exactly (a convention)
THE_FORTY = "the forty"
LONG_RUN = 4  # notes by one hand in a row: one hand is alone for a while


def record_of(stage: Stage) -> Exercise | None:
    """Return the exercise to record every week; None where drops are heard instead."""
    return parse_exercise(stage.record) if stage.record else None


def within(stage: Stage, exercise: Exercise, tempo: Tempo | None = None) -> Remark | None:
    """Return None where an exercise, and its tempo if one is given, is inside a stage; else why it is not."""
    found = next(_outside(stage, exercise, hardness(exercise)), None)
    return found if found is not None or tempo is None else _off_rate(stage, rate_per_s(exercise, tempo))


def _outside(stage: Stage, exercise: Exercise, hard: float) -> Iterator[Remark]:
    limits = stage.limits
    run = max((length for _, length in runs(exercise)), default=0)
    if run > limits.longest_run:
        yield Remark("run too long", {"n": run, "most": limits.longest_run})
    if len(exercise.struck) > limits.notes:
        yield Remark("too many notes", {"n": len(exercise.struck), "most": limits.notes})
    if exercise.has_accents and not limits.accents:
        yield Remark("accents come later")
    if hard > limits.hardness:
        yield Remark("too hard for the stage")
    for ornament in sorted(ornaments(exercise) - set(limits.ornaments)):
        yield Remark("ornament comes later", {"ornament": ornament})


@lru_cache(maxsize=128)  # a path has some ten stages
def for_stage(stage: Stage) -> tuple[LibraryExercise, ...]:
    """Return what the library has for a stage: its tracks in their order, each easy to hard, nothing twice.

    A stage that names no tracks has all of them. Notes are written as long as its speed asks for. Of the
    forty it has those with accents or ornaments: the plain ones are in tracks of their own.
    """
    inside = (
        each
        for name in stage.tracks or TRACKS
        for each in track(name)
        if next(_outside(stage, each.exercise, each.hardness), None) is None
        and (name != THE_FORTY or each.exercise.has_accents or ornaments(each.exercise))
    )
    return tuple(read_in(stage, inside))


def _off_rate(stage: Stage, per_s: float) -> Remark | None:
    slow, fast = stage.rate_per_s
    kind: RemarkKind = "hand too fast" if per_s > fast else "hand too slow"
    facts: dict[str, Fact] = {"per_s": per_s, "least": slow, "most": fast}
    return None if slow * (1 - LET_GO) <= per_s <= fast * (1 + LET_GO) else Remark(kind, facts)


def shows(stage: Stage, take: PastTake) -> bool:
    """Tell whether a take holds what a stage is about; its stroke and its tempo are not asked."""
    record = record_of(stage)
    return record is None or traits(record) <= traits(take.exercise)


def fast_enough(stage: Stage, take: PastTake) -> bool:
    """Tell whether a take is as fast as a stage's slow end, or nearly."""
    per_s = rate_per_s(take.exercise, replace(take.tempo, bpm=played_bpm(take)))
    return per_s >= stage.rate_per_s[0] * (1 - LET_GO)


def traits(exercise: Exercise) -> frozenset[str]:
    """Name what an exercise is about beside single strokes.

    >>> sorted(traits(parse_exercise("1/16: >RLRR >LRLL"))), sorted(traits(parse_exercise("1/8: LRLR")))
    (['accents', 'doubles'], ['left lead'])
    """
    lengths = [length for _, length in runs(exercise)]
    found = {
        "doubles": 2 in lengths,
        "one hand": max(lengths, default=0) >= LONG_RUN,
        "accents": exercise.has_accents,
        "left lead": is_left_led(exercise),
    }
    return frozenset(name for name, held in found.items() if held) | ornaments(exercise)


def is_left_led(exercise: Exercise) -> bool:
    """Tell whether the left hand plays the first note, and the repeat does not go to the other hand."""
    first = next((exercise.notes[at].hand for at in exercise.struck), None)
    half = len(exercise.notes) // 2
    return first == "L" and exercise.notes[half:] != mirrored(exercise).notes[:half]


def ornaments(exercise: Exercise) -> frozenset[Ornament]:
    """Name the ornaments of an exercise."""
    graced = {len(note.graces) for note in exercise.notes}
    found: dict[Ornament, bool] = {
        "flam": 1 in graced,
        "drag": any(count > 1 for count in graced),
        "buzz": any(note.buzz for note in exercise.notes),
    }
    return frozenset(ornament for ornament, held in found.items() if held)


def runs(exercise: Exercise) -> list[tuple[Hand, int]]:
    """List the runs of one hand, with their notes, around the repeat; a rest ends one."""
    hands = [note.hand for note in exercise.notes]
    start = next((at for at in range(len(hands)) if hands[at] != hands[at - 1]), 0)
    around = hands[start:] + hands[:start]
    return [(hand, len(list(notes))) for hand, notes in groupby(around) if hand is not None]
