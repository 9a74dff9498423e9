"""A report is written for every take, with the music where it can be drawn."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest

import evenhand.report.take.report as writing
from evenhand.errors import CannotEngrave
from evenhand.report.take.report import report_text
from tests.builders import a_blind_take, a_heard_take


def words(page: str) -> str:
    """Take a page's text, with plain spaces."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def test_the_music_is_engraved_for_desk_and_phone_with_ids_of_their_own() -> None:
    page = report_text(a_heard_take())
    assert page.count("= 140") >= 2
    ids = [part.split('"')[0] for part in page.split(' id="')[1:]]
    assert len(ids) == len(set(ids))


def test_blind_there_is_no_music() -> None:
    assert "2 hits in 0.5 s" in words(report_text(a_blind_take()))


def test_a_report_comes_without_its_staff_where_the_music_cannot_be_drawn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fails(*_: Any, **__: Any) -> None:
        raise CannotEngrave(got="nothing")

    monkeypatch.setattr(writing, "engrave", fails)
    assert "The left hand is 3.5 dB weaker" in words(report_text(a_heard_take()))
