"""Hear an exercise at several tempos, and find the fastest at which it is still in control."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from evenhand.acts.documents import Json, plain
from evenhand.acts.takes.hear import hear_take
from evenhand.acts.takes.many import ListedTake
from evenhand.errors import BadList, CannotHear
from evenhand.music.exercise import Exercise, Tempo, bpm_of
from evenhand.music.text import print_exercise
from evenhand.progress.ceiling.control import TempoCeiling, TriedRepetition
from evenhand.report.words.remarks import remark_words
from evenhand.take import OpensTakes


@dataclass(frozen=True, slots=True)
class HeardCeiling:
    """The ceiling of one exercise, and the takes that told nothing, each with its reason."""

    exercise: Exercise
    ceiling: TempoCeiling
    left_out: tuple[str, ...]


def hear_ceiling(
    takes: Sequence[ListedTake],
    *,
    opens: OpensTakes,
    progress: Callable[[float], None] = lambda _done: None,
) -> HeardCeiling:
    """Hear all takes of a list, which are of one exercise, and find its tempo ceiling.

    The tempo is in the beat of the first row. Where no take at all can be heard, the
    first one's error is raised.
    """
    exercise, first = _one_exercise(takes)
    tried: list[TriedRepetition] = []
    left_out: list[str] = []
    errors: list[CannotHear] = []
    for done, listed in enumerate(takes):
        progress(float(done))
        try:
            of_take, reason = _tried(listed, opens, first)
        except CannotHear as error:
            errors.append(error)
            of_take, reason = [], str(error)
        tried += of_take
        if reason:
            left_out.append(reason)
    if len(errors) == len(takes):
        raise errors[0]
    from evenhand.progress.ceiling.estimate import tempo_ceiling

    return HeardCeiling(exercise, tempo_ceiling(tried, first.beat), tuple(left_out))


def _one_exercise(takes: Sequence[ListedTake]) -> tuple[Exercise, Tempo]:
    """Check that the list is of one exercise, none of it blind."""
    for listed in takes:
        if listed.request.exercise is None:
            must_be = "both, for the ceiling is that of an exercise"
            raise BadList(where=f"row {listed.row}", got="no exercise and tempo", must_be=must_be)
        if listed.request.exercise.notes != (takes[0].request.exercise or listed.request.exercise).notes:
            got = f"another exercise, {print_exercise(listed.request.exercise)}"
            must_be = "that of the rows before: a list for each exercise"
            raise BadList(where=f"row {listed.row}", got=got, must_be=must_be)
    exercise, tempo = takes[0].request.exercise, takes[0].request.tempo
    if exercise is None or tempo is None:  # no row at all
        raise BadList(where="the list", got="no takes", must_be="at least one row")
    return exercise, tempo


def _tried(listed: ListedTake, opens: OpensTakes, first: Tempo) -> tuple[list[TriedRepetition], str | None]:
    """Hear one take; say why where it tells nothing."""
    from evenhand.progress.ceiling.control import tried_repetitions

    take = hear_take(listed.path, listed.request, opens=opens)
    if take.exercise is None or take.tempo is None:
        return [], None
    in_beat = Tempo(first.beat, bpm_of(take.tempo.whole_note_s, first.beat))
    tried = tried_repetitions(take.heard, take.exercise, in_beat, take=take.name)
    if tried:
        return tried, None
    remark = take.heard.unlike or take.heard.ambiguity
    reason = "no repetition was played to its end" if remark is None else remark_words(remark)
    return [], f"{take.name}: {reason}"


def ceiling_drawing(found: TempoCeiling) -> str:
    """Draw a ceiling as an SVG document."""
    from evenhand.progress.ceiling.estimate import with_curve
    from evenhand.report.plots.ceiling import ceiling_picture

    return ceiling_picture(with_curve(found))


def ceiling_json(heard: HeardCeiling) -> Json:
    """Write the ceiling in the contract's words (docs/ceiling.md)."""
    found = heard.ceiling
    return plain(
        {
            "exercise": print_exercise(heard.exercise),
            "beat": f"{found.beat.numerator}/{found.beat.denominator}",
            "ceiling_bpm": found.ceiling,
            "hands": found.hands,
            "next_tempo_bpm": found.next_tempo_bpm,
            "enough": found.enough,
            "why": remark_words(found.why),
            "at_least_bpm": found.at_least_bpm,
            "at_most_bpm": found.at_most_bpm,
            "repetitions": found.tried,
            "left_out": heard.left_out,
        },
        {"bpm": 2, "ms": 3},
    )
