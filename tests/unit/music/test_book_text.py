"""Books as text: what is read, what is printed, and what an error says."""

from __future__ import annotations

import time

import pytest

from evenhand.errors import BadBook
from evenhand.music.book import Book, Entry, UseMark, parse_book, parse_numbered, print_book
from evenhand.music.text import parse_exercise

WINTER = """\
# Winter

# Singles
1/16: RLRL RLRL  # Slow and even
1/12: RLR LRL

# Paradiddles
1/16: >RLRR >LRLL  # Accent #1
"""


def entry(text: str, title: str = "", section: str = "") -> Entry:
    return Entry(parse_exercise(text), title, section)


def test_a_line_is_an_exercise_with_its_title_and_section() -> None:
    assert parse_book(WINTER) == Book(
        (
            entry("1/16: RLRLRLRL", "Slow and even", "Singles"),
            entry("1/12: RLRLRL", "", "Singles"),
            entry("1/16: >RLRR>LRLL", "Accent #1", "Paradiddles"),
        ),
        "Winter",
    )


def test_a_book_is_printed_one_way() -> None:
    assert print_book(parse_book(WINTER)) == WINTER


def test_lines_are_counted_as_an_editor_counts_them() -> None:
    assert parse_numbered(WINTER).lines == (4, 5, 8)
    assert parse_numbered(WINTER.replace("\n", "\r\n")).lines == (4, 5, 8)


@pytest.mark.parametrize(
    "text",
    [
        "\ufeff# A\r\n\r\n1/8: RL  # t\r\n",  # as Windows writes it
        "# A\r1/8: RL # t",  # as an old Macintosh did
        "  ## A ##\n\t1/8:\tRL\t#\t t \t",  # tabs, and more signs than one
        "#A\n\n\n1/8:RL#t\n\n",  # nothing between
    ],
)
def test_many_spellings_of_one_book(text: str) -> None:
    assert parse_book(text.replace(" ##\n", "\n")) == Book((entry("1/8: RL", "t", "A"),))


def test_one_heading_is_a_section_and_two_at_the_top_are_a_title_and_a_section() -> None:
    assert parse_book("# A\n1/8: RL").title == ""
    assert parse_book("# A\n# B\n1/8: RL") == Book((entry("1/8: RL", "", "B"),), "A")
    assert parse_book("# A\n#\n1/8: RL") == Book((entry("1/8: RL"),), "A")


def test_a_bare_sign_closes_a_section() -> None:
    book = Book((entry("1/8: R"), entry("1/8: L", "", "A"), entry("1/8: RL")))
    assert print_book(book) == "1/8: R\n\n# A\n1/8: L\n\n#\n1/8: RL\n"
    assert parse_book(print_book(book)) == book


def test_a_title_is_written_on_one_line() -> None:
    assert print_book(Book((entry("1/8: RL", "two\n  lines"),))) == "1/8: RL  # two lines\n"


@pytest.mark.parametrize(
    ("text", "title", "mark"),
    [
        ("1/8: RL  # My turn [use]", "My turn", UseMark("use")),
        ("1/8: RL  # [ Never : tap,  slow  doubles ]", "", UseMark("never", ("tap", "slow doubles"))),
        ("1/8: RL  # My turn [twice] [also]", "My turn [twice]", UseMark("also")),
        ("1/8: RL  # My turn [useful]", "My turn [useful]", None),
        ("1/8: RL  # [use] my turn", "[use] my turn", None),
    ],
)
def test_a_mark_stands_at_the_end_of_a_title(text: str, title: str, mark: UseMark | None) -> None:
    (found,) = parse_book(text).entries
    assert (found.title, found.mark) == (title, mark)
    assert parse_book(print_book(Book((found,)))).entries == (found,)


def test_a_mark_holds_at_its_stages_and_elsewhere_the_exercise_is_taken_also() -> None:
    for text, at_tap, at_full in (
        ("[use]", "use", "use"),
        ("[use: tap]", "use", "also"),
        ("[never: Tap]", "never", "also"),
        ("", "also", "also"),
    ):
        (found,) = parse_book(f"1/8: RL  # Mine {text}").entries
        assert (found.use_at("tap"), found.use_at("full")) == (at_tap, at_full)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "w.txt: got no exercises; must be one exercise a line, such as 1/8: RLRR LRLL  # its title."),
        ("# Only\n\n# headings\n", "w.txt: got no exercises"),
        ("# A\n\n1/8: RLX  # t", "w.txt, line 3, column 8: got 'X'; must be R, L, a grace"),
        ("1/8: RL\n  RL 1/8: R", "w.txt, line 2, column 3: got 'R'; must be a note value first"),
        ("4/4 1/8: RLR | L", "w.txt, line 1, column 14: got a bar line where bar 1 holds 3/8"),
        ("1/8: RL  # be\x1bll", "w.txt, line 1, column 14: got the character U\\+001B; must be a title"),
        ("1/8: R\u00a0L", "w.txt, line 1, column 7: got .*no-break space.*; must be a plain space"),
    ],
)
def test_an_error_names_file_line_and_column(text: str, message: str) -> None:
    with pytest.raises(BadBook, match=message):
        parse_book(text, name="w.txt")


def test_ten_thousand_lines_are_read_in_seconds() -> None:
    """By hand: half a millisecond a line of eight notes is slow already."""
    text = "1/16: >RLRR >LRLL  # Paradiddle\n" * 10_000
    since = time.process_time()
    assert len(parse_book(text).entries) == 10_000
    assert time.process_time() - since < 5
