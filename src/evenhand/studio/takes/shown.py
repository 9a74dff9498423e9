"""A studio's take as a page shows it: what was heard, its picture with its places, every hit to choose from.

Conventions: what was heard comes as the JSON of docs/json.md; markup is safe to stand in a page. Notes count
from 1 for people, positions from 0 in values.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from evenhand.acts.takes.seen import read_take
from evenhand.errors import EvenhandError, WrongOptions
from evenhand.measuring.values import HeardTake
from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.music.exercise import Exercise
from evenhand.music.text import parse_exercise
from evenhand.report.take.folded import places_of
from evenhand.report.take.picture import folded_figure
from evenhand.report.take.report import (
    HEARD_ONLY,
    NARROW_ENGRAVING_PX,
    WIDE_ENGRAVING_PX,
    facts_of,
    method,
)
from evenhand.report.take.small import blind_figure
from evenhand.report.take.start_to_end import start_to_end
from evenhand.report.take.table import figures_table, findings_list
from evenhand.report.take.watched import seen_part
from evenhand.report.words.figures import count
from evenhand.report.words.remarks import doubts_of
from evenhand.report.words.take import top_sentence
from evenhand.studio.takes.corrected import KINDS, Correction, corrected_hits
from evenhand.studio.typed import whole_number
from evenhand.studio.values import StudioTake

KEPT = 64


@dataclass(frozen=True, slots=True)
class HitChoice:
    """One hit to be put right: its time as the JSON has it, what it is now, and its words."""

    time: str
    words: str
    repetition: int
    position: int | None
    grace: bool = False


@dataclass(frozen=True, slots=True)
class PlayedRow:
    """One time through, to be played: seconds of the recording."""

    repetition: int
    start_s: float
    end_s: float
    words: str


@dataclass(frozen=True, slots=True)
class ShownTake:
    """All that was heard, ready for a page."""

    sentence: str
    facts: tuple[str, ...]
    cautions: tuple[str, ...]
    corrected: int
    offset_unknown: bool  # there was a click that it could not be held against
    can_correct: bool
    figure: str
    seen: str
    course: str
    findings: str
    figures: str
    method: str
    places: dict[str, Any]
    rows: tuple[PlayedRow, ...]
    hits: tuple[HitChoice, ...]
    notes: tuple[tuple[int, str], ...]  # the exercise's notes, by number and hand
    graces: bool


@lru_cache(maxsize=KEPT)
def shown_heard(heard: str, *, unmeasured: bool = False, model: bool = False) -> ShownTake:
    """Lay out what was heard; ``unmeasured``: it was played to headphones of a device of unknown delay.

    Of a ``model`` nothing is said to practise.

    Raises
    ------
    WrongUse
        Where the text is not the JSON of a heard take.
    """
    take, watched = read_take(heard)
    seen = HEARD_ONLY if watched is None else seen_part(watched)
    exercise = take.exercise
    blind = exercise is None or take.heard.unlike is not None
    drawn = None if exercise is None else engravings(take.exercise_text or "")
    places = {} if drawn is None else places_of(take, *drawn)
    return ShownTake(
        sentence=top_sentence(take),
        facts=tuple(facts_of(take)),
        cautions=(*doubts_of(take), *seen.cautions),
        corrected=corrected_hits(take.heard.warnings),
        offset_unknown=unmeasured and not blind and take.heard.clock != "click",
        can_correct=not blind and bool(take.heard.hits),
        figure=blind_figure(take)
        if drawn is None or not places
        else folded_figure(take, *drawn, seen.heights),
        seen=seen.inside,
        course="" if blind else start_to_end(take),
        findings=findings_list(take, practise=not model),
        figures="" if take.measures is None else figures_table(take.measures),
        method=method(take, seen.method),
        places=places,
        rows=_played_rows(places, take),
        hits=() if exercise is None or blind else tuple(_choices(take, exercise)),
        notes=() if exercise is None else tuple(_note_names(exercise)),
        graces=exercise is not None and exercise.has_graces,
    )


@lru_cache(maxsize=KEPT)
def engravings(exercise_text: str, prefix: str = "") -> tuple[EngravedExercise, EngravedExercise]:
    """Engrave an exercise for a desk and for a phone; the same text is engraved once."""
    exercise = parse_exercise(exercise_text)
    return (
        engrave(exercise, width=WIDE_ENGRAVING_PX, id_prefix=f"{prefix}wide"),
        engrave(exercise, width=NARROW_ENGRAVING_PX, id_prefix=f"{prefix}narrow"),
    )


def _played_rows(places: dict[str, Any], take: HeardTake) -> tuple[PlayedRow, ...]:
    """List the times through, with what was lost or too much in each."""
    lost: dict[int, int] = {}
    for note in take.heard.missed:
        lost[note.repetition] = lost.get(note.repetition, 0) + 1
    out = []
    for repetition, start_s, end_s in places.get("rows", ()):
        words = count(lost[repetition], "note not heard", "notes not heard") if repetition in lost else ""
        if start_s >= 0:
            out.append(PlayedRow(int(repetition), start_s, end_s, words))
    return tuple(out)


def _choices(take: HeardTake, exercise: Exercise) -> list[HitChoice]:
    """List every hit and every extra hit, in order of time."""
    found = [
        HitChoice(
            f"{hit.time_s:.7f}",
            f"{note_name(exercise, hit.position or 0, grace=hit.grace)}, {hit.time_s:.2f} s",
            hit.repetition or 1,
            hit.position,
            hit.grace,
        )
        for hit in take.heard.hits
    ]
    times = [hit.time_s for hit in take.heard.hits]
    for extra in take.heard.extra:
        before = bisect_left(times, extra.time_s)
        repetition = found[max(0, before - 1)].repetition
        why = "" if extra.reason == "between" else f" ({extra.reason})"
        words = f"extra hit{why}, {extra.time_s:.2f} s"
        found.append(HitChoice(f"{extra.time_s:.7f}", words, repetition, None))
    return sorted(found, key=lambda each: float(each.time))


def note_name(exercise: Exercise, position: int, *, grace: bool = False) -> str:
    """Name a note for people.

    >>> note_name(parse_exercise("1/8: RLRR LRLL"), 1)
    'note 2 (L)'
    """
    before = "grace before " if grace else ""
    return f"{before}note {position + 1} ({exercise.notes[position].letter})"


def _note_names(exercise: Exercise) -> list[tuple[int, str]]:
    return [
        (position + 1, f"{position + 1} ({exercise.notes[position].hand})") for position in exercise.struck
    ]


def read_correction(form: dict[str, str]) -> Correction:
    """Read what a teacher says of one hit.

    Raises
    ------
    WrongOptions
        Naming what cannot be read.
    """
    kind = next((each for each in KINDS if each == form.get("kind")), None)
    if kind is None:
        raise WrongOptions(got="nothing chosen", must_be="no hit, an extra hit, a note's, or one to be added")
    time_s = _seconds(form.get("at" if kind == "added" else "hit", ""))
    if kind in {"no hit", "extra"}:
        return Correction(time_s, kind)
    repetition, note = (_whole(form.get(key, ""), key) for key in ("repetition", "note"))
    return Correction(time_s, kind, repetition, note - 1, form.get("grace") == "yes")


def begins_at(form: dict[str, str]) -> float | None:
    """Read the hit that the exercise is said to begin with; None where the form says something else."""
    return _seconds(form.get("hit", "")) if form.get("kind") == "begins" else None


def _seconds(text: str) -> float:
    """Read a moment of the recording."""
    try:
        time_s = float(text)
    except ValueError:
        time_s = math.nan
    if not math.isfinite(time_s):
        raise WrongOptions(got="no hit chosen", must_be="one of the take's hits, or its time in seconds")
    return time_s


def _whole(text: str, name: str) -> int:
    number = whole_number(text.strip())
    if number is None:
        raise WrongOptions(got=f"{name} {text!r}", must_be="a whole number from 1")
    return number


def others_beside(take: StudioTake, takes: Sequence[StudioTake], most: int = 12) -> list[StudioTake]:
    """Choose what a take may be put beside: the teacher's models, then the same exercise, newest first."""
    heard = [each for each in takes if each.id != take.id and each.status == "heard" and each.exercise]
    same = [each for each in heard if same_exercise(each.exercise, take.exercise)]
    models = [each for each in same if each.model]
    return [*models, *(each for each in same if not each.model)][:most]


@lru_cache(maxsize=1024)
def same_exercise(one: str, other: str) -> bool:
    """Tell whether two texts write the same notes."""
    if one == other:
        return True
    try:
        return parse_exercise(one).notes == parse_exercise(other).notes
    except EvenhandError:
        return False
