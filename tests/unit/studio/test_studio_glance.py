"""A heard take at a glance: what is said first, and what the small picture takes from the JSON."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from evenhand.acts.takes.document import json_text
from evenhand.measuring.values import Evidence, Finding, HeardTake, Measure
from evenhand.report.take.small import small_take
from evenhand.studio.desk import Glances, glance_at
from evenhand.studio.whole.triage import Gists
from evenhand.take import Heard, Hit, MissedNote
from tests.builders import a_blind_take, a_heard_take, in_words
from tests.studios import NOON, a_new_take, a_studio


def heard(findings: list[tuple[Any, str]], hits: tuple[Hit, ...] = (), **changes: Any) -> HeardTake:
    """Give a take of hits, in which something was found; ``changes`` are of what was heard."""
    told = tuple(in_words(kind, text, None, "") for kind, text in findings)
    return a_heard_take(heard=Heard(hits, **{"clock": "smooth", **changes}), findings=told)


def hits(*lates: float, repetitions: int = 2) -> tuple[Hit, ...]:
    """Give repetitions of notes 200 ms apart, by right and left, each late by its ms."""
    return tuple(
        Hit(
            (repetition * len(lates) + i) * 0.2,
            -20.0,
            1.0,
            "R" if i % 2 == 0 else "L",
            repetition + 1,
            i,
            deviation_ms=late,
        )
        for repetition in range(repetitions)
        for i, late in enumerate(lates)
    )


@pytest.mark.parametrize(
    ("findings", "said", "found"),
    [
        ([("late_hand", "Late."), ("even", "Even."), ("weak_hand", "Weak.")], ("Late.", "Weak."), True),
        (
            [("cannot_tell", "Can't tell."), ("even", "Even to the ear.")],
            ("Even to the ear.", "Can't tell."),
            False,
        ),
        ([("even", "Even.")], ("Even.",), False),
        ([("unlike_exercise", "Unlike.")], ("Unlike.",), True),
        ([], (), False),
    ],
)
def test_what_was_found_is_said_before_what_was_not(
    findings: list[tuple[str, str]],
    said: tuple[str, ...],
    found: bool,  # noqa: FBT001 - a table's column
) -> None:
    glance = glance_at(json_text(heard(findings)))
    assert glance is not None
    assert (glance.findings, glance.found) == (said, found)


def test_no_more_than_two_things_are_said() -> None:
    glance = glance_at(json_text(heard([("late_hand", f"Thing {n}.") for n in range(5)])))
    assert glance is not None
    assert glance.findings == ("Thing 0.", "Thing 1.")


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", "null", '{"findings": 3}', '{"findings": [{}], "hits": []}']
)
def test_what_is_no_heard_take_is_none(text: str) -> None:
    assert glance_at(text) is None


def test_how_many_repetitions_would_tell_is_left_to_the_take() -> None:
    evidence = Evidence("balance.level_db", 0.8, "dB", 40, (0.3, 1.3), 1.0)
    figures = {"repetitions": Measure(40, 8, "repetitions")}
    open_one = Finding("cannot_tell", evidence, "weak_hand", figures)
    glance = glance_at(json_text(a_heard_take(findings=(open_one,))))
    assert glance is not None
    said = "Can't tell yet whether the left hand is softer: 0.8 dB (0.3 to 1.3), audible from 1 dB."
    assert glance.findings == (said,)


def test_the_picture_has_the_last_rows_and_each_notes_hand() -> None:
    small = small_take(heard([], hits(0.0, 5.0, 0.0, 5.0, repetitions=9)))
    assert small is not None
    assert small.hands == ("R", "L", "R", "L")
    assert len(small.rows) == 6
    assert [hit.late_ms for hit in small.rows[-1].hits] == [0.0, 5.0, 0.0, 5.0]


def test_the_band_is_what_an_ear_can_tell_at_this_pace() -> None:
    """Friberg & Sundberg 1995: 2.5 % of the interval, here 400 ms, so 10 ms; never under 6 ms."""
    take = heard([], hits(0.0, 0.0))
    assert take.measures is not None
    slow, fast = (
        small_take(replace(take, measures=replace(take.measures, interval_ms=ms))) for ms in (400.0, 100.0)
    )
    assert slow is not None
    assert fast is not None
    assert slow.audible_ms == pytest.approx(10.0)
    assert fast.audible_ms == pytest.approx(6.0)


def test_a_take_that_lies_off_the_clock_as_a_whole_is_drawn_around_its_middle() -> None:
    """A constant latency of the device is nobody's lateness."""
    shifted = tuple(replace(hit, asynchrony_ms=40.0 + (hit.position == 1) * 4) for hit in hits(0.0, 0.0, 0.0))
    small = small_take(heard([], shifted, clock="click"))
    assert small is not None
    assert [hit.late_ms for hit in small.rows[0].hits] == pytest.approx([0.0, 4.0, 0.0])


def test_levels_stand_on_the_takes_own_range_of_ten_db_or_more() -> None:
    """By hand: -25 and -20 dB lie at 2.5 and 7.5 of a range of 10 dB about them."""
    levels = tuple(replace(hit, level_db=-25.0 if hit.hand == "L" else -20.0) for hit in hits(0.0, 0.0))
    small = small_take(heard([], levels))
    assert small is not None
    assert [hit.strength for hit in small.rows[0].hits] == pytest.approx([0.75, 0.25])


def test_sixteen_notes_are_drawn_of_a_longer_exercise_and_its_lost_notes() -> None:
    missed = (MissedNote(2, 3), MissedNote(2, 19), MissedNote(2, 4, grace=True))
    small = small_take(heard([], hits(*([0.0] * 20)), missed=missed))
    assert small is not None
    assert len(small.hands) == 16
    assert small.rows[1].missed == (3,)


def test_a_blind_take_has_no_picture() -> None:
    assert small_take(a_blind_take()) is None


def test_a_take_heard_again_from_another_beginning_is_read_anew(tmp_path: Path) -> None:
    """Its exercise, tempo and click stay as they were; what is kept of the first hearing is over."""
    glances, gists = Glances(), Gists()
    with a_studio(tmp_path) as studio:
        new = a_new_take(studio.students.add("Ida Quill").id)
        take, _ = studio.takes.receive(new, b"fLaC" + bytes(60))
        for said, begins_at in (("Late.", "1.5"), ("Weak.", "2.5")):
            studio.queue.took_heard(take.id, json_text(heard([("late_hand", said)])), 3.0)
            (outline,) = studio.takes.outlines(NOON - timedelta(days=1))
            glance = glances.at(studio, studio.takes.get(take.id))
            assert glance is not None
            assert (glance.findings, gists.of(studio, [outline])[take.id].said) == ((said,), said)
            studio.queue.hear_again(
                take.id, exercise=take.exercise, tempo=take.tempo, click=take.click, begins_at=begins_at
            )
