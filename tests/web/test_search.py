"""One search: what is found by which words, and that it works as a form."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from evenhand.studio.values import StudioTake
from evenhand.studio.whole.search import MOST_FOUND, Found, search
from tests.desks import ADesk, a_desk, words_of
from tests.studios import a_new_take

AT = datetime(2026, 11, 25, 14, 0).astimezone()  # a Wednesday


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    return a_desk(tmp_path, monkeypatch)


def a_take(desk: ADesk, student_id: str, days_ago: int, text: str = "1/8: RLRR LRLL") -> StudioTake:
    at = AT - timedelta(days=days_ago)
    new = a_new_take(student_id, f"{student_id}-{days_ago}-{text}", recorded_at=at, exercise=text)
    return desk.studio.takes.receive(new, f"{student_id}{at}{text}".encode(), received_at=at)[0]


def found(desk: ADesk, text: str) -> Found:
    return search(desk.studio, text, AT)


def test_a_student_is_found_by_the_beginning_of_any_name_without_accents_or_capitals(desk: ADesk) -> None:
    nora = desk.studio.students.add("Nóra Véldt")
    gone = desk.studio.students.change(desk.studio.students.add("Ida Quill").id, archived=True)
    assert found(desk, "nora").students == (nora,)
    assert found(desk, "VEL n").students == (nora,)
    assert found(desk, "quill").students == (gone,)
    assert found(desk, "ora").students == ()


def test_a_name_with_other_words_looks_among_that_student_s_takes(desk: ADesk) -> None:
    """25 November 2026 is a Wednesday; 40 days before it is 16 October, a Friday."""
    nora, ida = desk.studio.students.add("Nora Veldt"), desk.studio.students.add("Ida Quill")
    desk.studio.book.add("1/8: RLRR LRLL", "Paradiddle in eighths", "")
    new, old = a_take(desk, nora.id, 1), a_take(desk, nora.id, 40)
    doubles = a_take(desk, nora.id, 2, "1/8: RRLL RRLL")
    ids = a_take(desk, ida.id, 1)

    def takes(text: str) -> list[str]:
        return [each.take.id for each in found(desk, text).takes]

    assert takes("nora") == [new.id, doubles.id, old.id]
    assert takes("paradiddle nora") == [new.id, old.id]
    assert takes("nora october") == takes("nora 2026-10-16") == takes("friday nora") == [old.id]
    assert set(takes("paradiddle")) == {new.id, ids.id, old.id}
    assert takes("rrll") == [doubles.id]
    assert takes("nora ida") == []


def test_everybody_s_takes_of_long_ago_are_found_by_the_name_only(desk: ADesk) -> None:
    nora = desk.studio.students.add("Nora Veldt")
    old = a_take(desk, nora.id, 200)
    assert found(desk, "1/8=140").takes == ()
    assert [each.take.id for each in found(desk, "veldt").takes] == [old.id]


def test_an_exercise_is_found_by_title_or_sticking_one_s_own_first(desk: ADesk) -> None:
    entry = desk.studio.book.add("1/8: RLLR LRRL", "My inverted one", "Warm up")
    assert found(desk, "my inverted").exercises[0].id == entry.id
    assert found(desk, "warm").exercises[0].id == entry.id
    by_sticking = found(desk, "rllr lrrl")
    assert by_sticking.exercises[0].id == entry.id
    assert entry.id in [each.id for each in found(desk, "RLRLL").exercises]  # over its end, as it is repeated
    many = found(desk, "rlrl")
    assert len(many.exercises) == MOST_FOUND
    assert many.more[1] > 0


@pytest.mark.parametrize(("text", "address"), [("two-step", "/access/second"), ("musicxml", "/book/import")])
def test_a_page_is_found_by_other_words_for_what_is_there(desk: ADesk, text: str, address: str) -> None:
    assert f'<li><a href="{address}">' in desk.get(f"/search?q={text}").text


@pytest.mark.parametrize("text", ["", "   ", "!!!", "\N{DRUM WITH DRUMSTICKS}", "x" * 5000])
def test_what_says_nothing_finds_nothing(desk: ADesk, text: str) -> None:
    desk.studio.students.add("Nora Veldt")
    assert found(desk, text) == Found()


def test_it_is_a_form_on_every_page_of_the_teacher_s(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora <b>Veldt")
    for page in (
        "/",
        "/students",
        f"/students/{student.id}",
        "/lessons",
        "/hear",
        "/settings",
        "/search?q=holidays",
    ):
        assert '<form class="search" role="search" action="/search">' in desk.get(page).text
    shown = desk.get("/search?q=nora")
    assert "Found for “nora”" in words_of(shown.text)
    assert "Nora &lt;b&gt;Veldt" in shown.text
    assert 'href="/lessons#feed"' in desk.get("/search?q=subscribe").text
    assert "Nothing found for “qqq”" in words_of(desk.get("/search?q=qqq").text)
