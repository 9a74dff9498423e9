"""The demonstration studio: played, recorded, really heard, and told of nothing else."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.studio.demo.fill import fill_demo, lesson_time
from evenhand.studio.demo.people import PEOPLE, Person, Sitting
from evenhand.studio.stand.drops import grips_so_far
from evenhand.studio.store.studio import Studio
from evenhand.studio.weeks.day import weeks_now
from evenhand.studio.weeks.next import read_plan, titles_of
from evenhand.synthesis.faults import with_faults
from evenhand.synthesis.playing import Player
from tests.studios import a_studio

NOW = datetime(2026, 11, 25, 9, 0).astimezone()  # a Wednesday


@pytest.mark.slow  # two processes start, and hear
def test_a_demonstration_is_played_and_heard(tmp_path: Path) -> None:
    """Put in: the left hand 30 ms late. What is said of it comes from the sound alone."""
    late = Sitting(2, 2, "1/8: RLRR LRLL", "1/8=140", ("late-hand=L:30",), "tap", 6, words="Let it lead.")
    silent = Sitting(1, 1, "1/8: RLRR LRLL", "1/8=140", (), "tap", 2, silent=True)
    dropped = Sitting(3, 1, "1/2: R- L-", "1/4=60", repetitions=3, kept=0.8, grip="whole hand")
    person = Person("Nora Veldt", "tap", 0, 0, (late, silent), weeks=2, has_model=True, drops=(dropped,))
    people = (person,)
    told = list[tuple[int, int]]()
    with a_studio(tmp_path, demo=True) as studio:
        assert fill(studio, people, lambda done, of: told.append((done, of)))
        (student,) = studio.students.all()
        takes = studio.takes.all(student.id, with_heard=True)
        assert [take.status for take in takes] == ["failed", "heard", "heard", "heard", "heard"]
        assert [take.model for take in takes] == [False, False, False, False, True]
        (right, left) = grips_so_far(studio, student, NOW)
        assert [(hand.hand, [(g.label, g.free) for g in hand.grips]) for hand in (right, left)] == [
            ("R", [("whole hand", 3)]),
            ("L", [("whole hand", 3)]),
        ]
        assert [each.text for each in studio.threads.of_take(takes[1].id)] == ["Let it lead."]
        assert takes[2].recorded_at < takes[1].recorded_at < NOW
        found = json.loads(takes[1].heard or "")["findings"]
        assert any(each["kind"] == "late_hand" for each in found)
        assert studio.takes.recording(takes[1]).suffix == ".flac"
        week = weeks_now(studio.weeks.all(student.id), NOW.date()).week
        assert week is not None
        assert week.starts == NOW.date() - timedelta(days=7)
        assert len(studio.weeks.all(student.id)) == 2
        called = titles_of(studio.book.all())
        plan = read_plan(week)
        assert plan is not None
        items = [item for day in plan.days for item in day.items if print_exercise(item.exercise) in called]
        assert items
        assert any(called[print_exercise(item.exercise)] == item.title for item in items)
        assert called["1/8: RLRR LRLL"] == "Single paradiddle"
        was = studio.takes.all(student.id), studio.weeks.all(student.id), studio.book.all()
        assert fill(studio, people, lambda done, of: told.append((done, of)))  # again: all is left as it is
        assert (studio.takes.all(student.id), studio.weeks.all(student.id), studio.book.all()) == was
    assert told == [(0, 5), (1, 5), (2, 5), (3, 5), (4, 5), (5, 5), (5, 5)]


@pytest.mark.slow  # two processes start, and hear
def test_one_that_breaks_off_goes_on_and_is_then_the_same(tmp_path: Path) -> None:
    """Broken off after the first take, it has that one; filled on, it has what one fill would have made."""
    people = (Person("Nora Veldt", "tap", 0, 0, (Sitting(2, 3, "1/8: RLRR", "1/8=140", repetitions=4),)),)
    told = list[int]()
    (tmp_path / "whole").mkdir()
    with a_studio(tmp_path, demo=True) as studio, a_studio(tmp_path / "whole", demo=True) as whole:
        assert not fill(studio, people, lambda done, _of: told.append(done), lambda: not told or told[-1] < 1)
        (student,) = studio.students.all()
        assert [take.upload_key for take in studio.takes.all(student.id)] == ["demonstration-1"]
        assert fill(studio, people, lambda done, _of: told.append(done))
        assert fill(whole, people, lambda _done, _of: None)
        assert taken(studio) == taken(whole)
    assert told == [0, 1, 1, 2, 3]


def fill(
    studio: Studio,
    people: tuple[Person, ...],
    progress: Callable[[int, int], None],
    goes_on: Callable[[], bool] = lambda: True,
) -> bool:
    return fill_demo(studio, NOW, progress=progress, goes_on=goes_on, people=people)


def taken(studio: Studio) -> list[tuple[object, ...]]:
    """Give all that the studio's takes are, but for their ids, which are drawn by lot."""
    (student,) = studio.students.all()
    takes = studio.takes.all(student.id, with_heard=True)
    return [(take.upload_key, take.recorded_at, take.recording, take.heard) for take in takes]


def test_everybody_in_it_can_be_played_and_is_on_the_path() -> None:
    names = [person.name for person in PEOPLE]
    assert len(set(names)) == len(names) >= 5
    for person in PEOPLE:
        assert COMMON_PATH.stage(person.stage) is not None
        for sitting in (*person.sittings, *person.drops):
            parse_exercise(sitting.exercise)
            Tempo.parse(sitting.tempo)
            with_faults(Player(), sitting.faults)
            assert 0 < sitting.days_ago <= 42


def test_there_is_a_minor_with_consent_and_one_without() -> None:
    minors = [person for person in PEOPLE if person.minor]
    assert {bool(person.consent_by) for person in minors} == {True, False}
    assert not any(person.sittings for person in minors if not person.consent_by)


@pytest.mark.parametrize(
    ("clock", "first"),
    [
        ("09:00", "15:30"),
        ("15:09", "15:30"),
        ("15:11", "16:00"),
        ("17:50", "18:30"),
        ("19:50", "20:30"),
        ("20:11", "15:30"),
        ("23:30", "15:30"),
    ],
)
def test_the_demonstrations_next_lesson_is_still_to_come_unless_the_day_is_over(
    clock: str, first: str
) -> None:
    """By hand: from half past three on, or the next half hour that is twenty minutes away."""
    assert lesson_time(datetime.fromisoformat(f"2026-11-25 {clock}").astimezone(), 0) == first
