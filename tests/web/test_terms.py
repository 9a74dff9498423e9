"""A term's report: what it counts, how it says it, what it keeps to itself, and that it prints."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from evenhand.report.plots.term import A_ROW, term_weeks
from evenhand.report.words.term import (
    Term,
    TermLessons,
    TermWeek,
    change_sentences,
    lesson_sentences,
    practice_sentences,
    unchanged_sentence,
)
from evenhand.studio.values import Holiday, LessonChange, Student
from evenhand.studio.whole.term import term_of
from evenhand.web.pages import today
from tests.desks import ADesk, a_desk, a_heard_take, heard_json, words_of

LATER, LATE, EVEN = ("late-hand=L:40",), ("late-hand=L:24",), ()  # as tests beside this one have them


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    return a_desk(tmp_path, monkeypatch)


def at(days_ago: int) -> datetime:
    return datetime.combine(today() - timedelta(days=days_ago), time(18)).astimezone()


def nora(desk: ADesk, *, better: bool = True) -> Student:
    """Let a left hand that was 40 ms late come nearer, on six days of five weeks; or the other way."""
    student = desk.studio.students.add("Nora Veldt", lesson_day=today().weekday())
    first, then = (LATER, LATE) if better else (LATE, LATER)
    for days_ago in (29, 27, 20, 12, 6, 1):
        faults = first if days_ago > 15 else then
        a_heard_take(desk.studio, student.id, at(days_ago), heard=heard_json(faults, 24, 3 + days_ago % 2))
    return student


def term(desk: ADesk, student: Student, days: int = 29, until: int = 0) -> Term:
    last = today() - timedelta(days=until)
    return term_of(desk.studio, student, today() - timedelta(days=days), last, at(0))


def test_what_is_counted_is_the_term_s_own(desk: ADesk) -> None:
    """By hand: six takes of 20 s; five lessons, from today back, one skipped, one moved, one in a holiday."""
    student = nora(desk)
    a_heard_take(desk.studio, student.id, at(40), heard=heard_json(EVEN, 24, 3))
    a_heard_take(desk.studio, student.id, at(2), heard=heard_json(EVEN, 24, 3), source="teacher", model=True)
    back = today() - timedelta(days=7)
    desk.studio.lessons.change(LessonChange("", student.id, back))
    desk.studio.lessons.change(
        LessonChange("", student.id, back - timedelta(days=7), back - timedelta(days=5))
    )
    away = back - timedelta(days=15)
    desk.studio.lessons.add_holiday(Holiday("", away, away + timedelta(days=2)))
    found = term(desk, student)
    assert found.lessons == TermLessons(given=3, moved=1, skipped=1, in_holidays=1)
    assert (found.takes, found.seconds) == (6, 120.0)
    assert sum(week.days for week in found.weeks) == 6
    assert sum(week.of for week in found.weeks) == 30
    assert sum(week.away for week in found.weeks) == 3
    assert [(each.takes, each.days) for each in found.exercises] == [(6, 6)]
    assert term(desk, student, days=29, until=10).takes == 4


def test_a_change_is_said_in_plain_words_with_its_figures_and_only_beyond_chance(desk: ADesk) -> None:
    said = change_sentences(term(desk, nora(desk)))
    (hands,) = [each for each in said if "keep time together better" in each]
    assert "ms (" in hands
    assert "(6 recordings on 6 days)" in hands
    assert not any("score" in each or "%" in each for each in said)


def test_what_went_worse_is_said_too(desk: ADesk) -> None:
    student = nora(desk, better=False)
    assert any("keep time together less well" in each for each in change_sentences(term(desk, student)))


def test_too_few_days_say_so() -> None:
    """Counts by hand."""
    lessons = TermLessons(11, 1, 2, 1)
    weeks = tuple(TermWeek(date(2026, 9, 7) + timedelta(weeks=n), n % 3, 7, 7 * (n == 4)) for n in range(12))
    blank = Term(
        "Nora", "S", date(2026, 9, 7), date(2026, 11, 29), today(), lessons, weeks, 14, 3720.0, (), ()
    )
    assert lesson_sentences(blank) == (
        "11 lessons took place, 1 of them on another day than usual. "
        "2 lessons were left out and 1 lesson fell into holidays."
    )
    assert practice_sentences(blank) == (
        "Practice was recorded on 12 of 84 days, 7 of them holidays, in 8 of 12 weeks: "
        "14 recordings, 1 h 2 min in all."
    )
    assert practice_sentences(replace(blank, takes=0)) == "Nothing was recorded on these 84 days."
    assert unchanged_sentence(blank).startswith("For a change to show")
    drawn, width = term_weeks(weeks * 2)
    assert drawn.count('class="line"') == 24
    assert width == A_ROW * 50


def test_it_prints_on_one_page_with_the_teacher_s_words_and_a_line_to_sign(desk: ADesk) -> None:
    student = nora(desk)
    shown = desk.get(f"/students/{student.id}/report")
    assert "keep time together better" in words_of(shown.text)
    answer = desk.post(
        f"/students/{student.id}/report", first="", last="", words="Well begun.\n*Doubles* next."
    )
    assert answer.headers["content-type"] == "application/pdf"
    pdf = PdfReader(BytesIO(answer.content))
    text = " ".join(pdf.pages[0].extract_text().split())
    assert len(pdf.pages) == 1
    for words in (
        "Nora Veldt",
        "Well begun.",
        "*Doubles* next.",
        "The teacher’s signature",
        "no marks",
        "ms (",
    ):
        assert words in text.replace("'", "’")
    assert (desk.studio.log.newest(1)[0].what, desk.studio.log.newest(1)[0].about) == (
        "report printed",
        student.id,
    )


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        ("soon", "2026-01-01", "must be dates"),
        ("2026-02-01", "2026-01-01", "must not be before"),
        ("2020-01-01", "2026-01-01", "at most 400 days"),
        ("9000-01-01", "9000-01-02", "must not lie ahead"),
    ],
)
def test_a_time_that_cannot_be_is_said(desk: ADesk, first: str, last: str, said: str) -> None:
    student = desk.studio.students.add("Ida Quill")
    for answer in (
        desk.get(f"/students/{student.id}/report?first={first}&last={last}"),
        desk.post(f"/students/{student.id}/report", first=first, last=last, words="Mine."),
    ):
        assert answer.status_code == 422
        assert said in words_of(answer.text)
    assert "Mine." in answer.text
