"""Pages are set as PDF, or it is said why not."""

from __future__ import annotations

import threading

import pytest

from evenhand.errors import CannotPrint, UnprintableText
from evenhand.music.book import parse_book
from evenhand.music.engraving.engrave import engrave
from evenhand.report.print.book_pages import book_data
from evenhand.report.print.setting import set_pages

UNASSIGNED = "\u0378"  # no letter, and in no font


def a_book(title: str) -> dict[str, object]:
    book = parse_book("1/8: RL # a")
    return book_data(book, [engrave(book.entries[0].exercise, width=500)], title=title)


def test_pages_are_pdf() -> None:
    assert set_pages("book_pages.typ", a_book("x")).startswith(b"%PDF-1.7")


def test_the_same_data_gives_the_same_bytes_in_any_thread() -> None:
    made: list[bytes] = []
    threads = [
        threading.Thread(target=lambda: made.append(set_pages("book_pages.typ", a_book("x"))))
        for _ in range(2)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert made == [set_pages("book_pages.typ", a_book("x"))] * 2


def test_one_page_leaves_nothing_behind_for_the_next() -> None:
    first = set_pages("book_pages.typ", a_book("first"))
    assert set_pages("book_pages.typ", a_book("second")) != first
    assert set_pages("book_pages.typ", a_book("first")) == first


@pytest.mark.parametrize("name", ["Zażółć gęślą jaźń", "Ελένη", "Юлия", "שלום", "مريم", "გიორგი", "Nguyễn"])
def test_letters_of_many_scripts_have_a_font(name: str) -> None:
    """The setter refuses a tagged page with a letter that no font has, so a page means that all are drawn."""
    assert set_pages("book_pages.typ", a_book(name)).startswith(b"%PDF")


def test_a_letter_in_no_font_is_named() -> None:
    with pytest.raises(UnprintableText, match=r"^printing: no font here holds '.+'; install one that does"):
        set_pages("book_pages.typ", a_book(UNASSIGNED))


def test_what_the_setter_cannot_do_is_said_on_one_line() -> None:
    with pytest.raises(CannotPrint, match=r"^printing: .+\.$"):
        set_pages("book_pages.typ", {"title": "no more"})
