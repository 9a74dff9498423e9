"""What people typed is made fit for print."""

from __future__ import annotations

import pytest

from evenhand.report.plots.markup import shortened
from evenhand.report.print.setting import is_address, one_line, paragraphs


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("  Mira \t Anselm\r\n", "Mira Anselm"),
        ("bell\a null\0 escape\x1b[31m", "bell null escape[31m"),
        ("half \ud800 of a letter", "half of a letter"),
        ("no-break\u00a0space", "no-break space"),
        ("Zoë Łucja Ελένη Юлия 山田", "Zoë Łucja Ελένη Юлия 山田"),
    ],
)
def test_control_letters_go_and_all_others_stay(typed: str, printed: str) -> None:
    assert one_line(typed) == printed


def test_a_word_wider_than_a_page_may_be_broken_and_loses_nothing() -> None:
    word = "x" * 100
    assert one_line(word).replace("\u200b", "") == word
    assert max(map(len, one_line(word).split("\u200b"))) == 16


def test_lines_that_say_nothing_are_no_paragraphs() -> None:
    assert paragraphs("a\n \n\tb\r\nc\n") == ["a", "b", "c"]


def test_a_text_is_shortened_where_it_is_too_long_only() -> None:
    assert shortened("12345", 5) == "12345"
    assert shortened("1234 6", 6) == "1234 6"
    assert shortened("1234 67", 6) == "1234…"


@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        ("https://studio.example/p/9?a=1&b=2#c", True),
        ("HTTP://studio.example", True),
        ("ftp://studio.example", False),
        ("https://", False),
        ("https://studio.example/\u0007", False),
        ('https://studio.example/"', False),
        ("data:text/html,x", False),
    ],
)
def test_an_address_is_one_of_the_web(text: str, is_one: bool) -> None:  # noqa: FBT001 - a column of the table
    assert is_address(text) is is_one
