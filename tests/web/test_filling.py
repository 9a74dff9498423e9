"""A demonstration that is being filled says so on its pages, and the day fills while one looks."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenhand.studio.demo.fill import filling_of, say_filling
from evenhand.studio.store.layout import FILLING
from tests.desks import ADesk, a_desk, words_of

BEGINS, ON = "the students begin to play", "7 of 54 takes are played and heard"


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    made = a_desk(tmp_path, monkeypatch, demo=True)
    made.studio.students.add("Nora Veldt", stage="tap", lesson_day=2)
    return made


def test_every_page_says_how_far_it_is_until_it_is_filled(desk: ADesk, tmp_path: Path) -> None:
    data = tmp_path / "studio"
    say_filling(data, 0, 0)
    assert BEGINS in words_of(desk.get("/students").text)
    say_filling(data, 7, 54)
    for path in ("/", "/students", "/settings"):
        assert words_of(desk.get(path).text).count(ON) == 1, path
    (data / FILLING).unlink()
    for path in ("/", "/students", "/settings"):
        assert "being filled" not in desk.get(path).text


def test_the_day_looks_again_by_itself_while_it_is_filled(desk: ADesk, tmp_path: Path) -> None:
    polls = 'hx-trigger="every 4s, came from:body"'
    assert polls not in desk.get("/").text
    say_filling(tmp_path / "studio", 7, 54)
    assert polls in desk.get("/").text


def test_a_file_that_says_nothing_is_no_filling(tmp_path: Path) -> None:
    assert filling_of(tmp_path) is None
    (tmp_path / FILLING).write_text("[7")
    assert filling_of(tmp_path) is None
