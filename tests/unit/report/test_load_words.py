"""A load's words say what its figures rest on, and never more."""

from __future__ import annotations

from datetime import date

from evenhand.music.exercise import Hand
from evenhand.planning.load import HandLoad, WeekLoad, WeeklyLoad, jumps_of
from evenhand.report.words.progress import NO_LIMIT, jump_lines, load_words, note_lines


def week(number: int, right: int, left: int, *, unknown: int = 0, empty_before: int = 0) -> WeekLoad:
    hands: dict[Hand, HandLoad] = {"R": HandLoad(right, 5.0), "L": HandLoad(left, 5.0)}
    monday = date.fromisocalendar(2026, number, 1)
    return WeekLoad(f"2026-W{number:02d}", monday, 1, 2, 5.0, hands, unknown, empty_before)


def recorded(*weeks: WeekLoad, begins: date = date(2026, 3, 9)) -> WeeklyLoad:
    return WeeklyLoad("recorded", weeks, jumps_of(weeks), begins)


def test_strokes_without_a_hand_are_in_the_sum_and_said_apart() -> None:
    course = recorded(week(11, 100, 90, unknown=1200))
    assert load_words(course) == "Recorded: 1,390 strokes in 2 takes on 1 day, 1 week."
    assert any(line.startswith("1,200 strokes are counted for no hand") for line in note_lines(course))


def test_a_break_is_said_and_the_week_after_it_held_against_the_last_with_playing() -> None:
    course = recorded(week(11, 100, 100), week(14, 200, 110, empty_before=2))
    assert jump_lines(course) == ["2026-W14 over 2026-W11: right hand strokes +100 %."]
    assert any("after 2 weeks with nothing recorded" in line for line in note_lines(course))


def test_a_record_that_begins_on_a_monday_needs_no_word_about_it() -> None:
    weeks = (week(11, 100, 100), week(12, 200, 100))
    assert not any("begins on" in line for line in note_lines(recorded(*weeks)))
    assert any(
        "begins on a Wednesday" in line for line in note_lines(recorded(*weeks, begins=date(2026, 3, 11)))
    )


def test_a_steady_load_says_that_none_jumps() -> None:
    assert load_words(recorded(week(11, 100, 100), week(12, 110, 100))).endswith(
        "No week jumps by more than a quarter."
    )


def test_the_convention_is_called_one() -> None:
    assert "a convention, no limit and no diagnosis" in NO_LIMIT
