"""An exercise as it stands on a phone's stand: engraved, with what the click and the live picture need.

Conventions: px of the engraving's own units; note places as in ``music/engraving/engraved.py``.
``band_px`` is half the width of the pale band behind a note: what an ear can't tell, drawn equally wide
at every tempo.

What was heard of a student's take, as a part of the stand's page: the report's words and picture.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

from evenhand.acts.takes.document import heard_take_of
from evenhand.acts.takes.request import is_unmeasured
from evenhand.acts.takes.seen import read_take
from evenhand.errors import CannotEngrave
from evenhand.measuring.values import AUDIBLE_SHARE_OF_INTERVAL, SMALLEST_AUDIBLE_MS, HeardTake
from evenhand.music.bars import ClickBar, click_bars, count_in_bars, count_in_length
from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine
from evenhand.music.exercise import FASTEST_BPM, SLOWEST_BPM, Exercise, Tempo
from evenhand.music.text import parse_exercise
from evenhand.report.plots.dropping import drop_guide
from evenhand.report.take.layout import column_room
from evenhand.report.take.report import stand_result
from evenhand.report.take.watched import stand_seen
from evenhand.report.words.take import student_sentence
from evenhand.studio.stand.drops import drops_result, hands_dropped
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake

NARROW_PX = 340.0
BARE: Mapping[str, Any] = {"width": NARROW_PX, "notes": []}  # a line without music, to draw drops on
LIVE_BAND_SHARE = 0.14  # of half a column: a hand four times further off than an ear can tell is still inside


@dataclass(frozen=True, slots=True)
class StandMusic:
    """An engraved exercise; ``facts`` are for the page's script."""

    lines: tuple[str, ...]
    facts: dict[str, Any]


@lru_cache(maxsize=256)
def engraved_narrow(exercise_text: str, id_prefix: str = "") -> EngravedExercise:
    """Engrave an exercise for a phone; the same text is engraved once."""
    return engrave(parse_exercise(exercise_text), width=NARROW_PX, spacing="time", id_prefix=id_prefix)


def stand_music(exercise_text: str, tempo: Tempo, repetitions: int | None) -> StandMusic:
    """Engrave an exercise, and gather what click, recording and picture need.

    ``repetitions`` is None where it is played as long as the player likes.
    """
    exercise = parse_exercise(exercise_text)
    engraved = engraved_narrow(exercise_text)
    apart = _interval_beats(exercise, tempo)
    columns = column_room(engraved, exercise, 1.0)  # so that a ms stands for the typical interval
    facts = {
        "exercise": exercise_text,
        "beat": f"{tempo.beat.numerator}/{tempo.beat.denominator}",
        "bpm": tempo.bpm,
        "slowest": SLOWEST_BPM,
        "fastest": FASTEST_BPM,
        "bars": bars_in_beats(click_bars(exercise, tempo), tempo),
        "counted": bars_in_beats(count_in_bars(exercise, tempo), tempo),
        "count_in": float(count_in_length(exercise, tempo) / tempo.beat),
        "repetitions": repetitions,
        "beats": float(exercise.length / tempo.beat),  # of one repetition
        "interval_beats": apart,
        "audible": {"least_ms": SMALLEST_AUDIBLE_MS, "share": AUDIBLE_SHARE_OF_INTERVAL},
        "half_px": round(columns.half_px, 2),
        "band_px": round(LIVE_BAND_SHARE * columns.half_px, 2),
        "px_per_beat": round(columns.music_px_per_ms / apart, 3),
        "lines": [_line(line, exercise) for line in engraved.lines],
    }
    if drops := hands_dropped(exercise):
        return StandMusic((drop_guide(drops),), {**facts, "drops": drops, "lines": [BARE]})
    return StandMusic(tuple(line.svg for line in engraved.lines), facts)


def bars_in_beats(bars: Sequence[ClickBar], tempo: Tempo) -> list[dict[str, Any]]:
    """Return bars as the page's click reads them: all in the tempo's beats."""
    return [
        {
            "length": float(bar.length / tempo.beat),
            "beats": [float(at / tempo.beat) for at in (*bar.beats.places, bar.beats.end)],
            "skipped": float(bar.beats.skipped / tempo.beat),
            "accented": bar.accented,
        }
        for bar in bars
    ]


def _line(line: EngravedLine, exercise: Exercise) -> dict[str, Any]:
    notes = [
        {"position": note.position, "x": round(note.x, 2), "hand": exercise.notes[note.position].hand}
        for note in line.notes
        if not exercise.notes[note.position].is_rest
    ]
    return {"width": round(line.width, 2), "notes": notes}


def _interval_beats(exercise: Exercise, tempo: Tempo) -> float:
    """Return the typical distance of neighbouring notes in beats."""
    return exercise.usual_step / float(tempo.beat) if exercise.struck else 1.0


@dataclass(frozen=True, slots=True)
class StandResult:
    """The markup of what was heard. ``offset_unknown``: there was a click it could not be held against."""

    markup: str
    offset_unknown: bool


def result_of(studio: Studio, take: StudioTake, now: datetime) -> StandResult | None:
    """Return what was heard of a take, while it is heard again too; None where it was not heard yet."""
    if take.status == "failed" or not take.heard:
        return None
    dropped = drops_result(studio, take, now)
    if dropped is not None:
        return StandResult(dropped, offset_unknown=False)
    heard, seen = read_take(take.heard)
    unknown = heard.exercise is not None and heard.heard.clock != "click"
    markup = stand_result(heard, _engraved(heard), practise=not take.model) + (
        "" if seen is None else stand_seen(seen)
    )
    return StandResult(markup, unknown and is_unmeasured(take.facts, take.latency_ms))


def sentence_of(take: StudioTake) -> str:
    """Say in one sentence what was heard of a take; "" where it was not heard yet."""
    if take.status == "failed" or not take.heard:
        return ""
    return student_sentence(heard_take_of(take.heard))


def _engraved(take: HeardTake) -> EngravedExercise | None:
    if take.exercise_text is None:
        return None
    try:
        return engraved_narrow(take.exercise_text)
    except CannotEngrave:
        return None
