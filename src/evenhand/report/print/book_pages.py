"""A printed book of exercises: title, how to practise, contents, and the music in sections.

Conventions: exercises are numbered through; one that is an earlier one's other form says so, with its
page. An opening text may name an exercise in brackets, ``[Single paradiddle]``: its number and page then
stand there. Lengths in pt, but music's own px. ``book_pages.typ`` sets what is given here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Literal, get_args

from evenhand.music.book import Book, Entry
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.music.equivalence import same_groups, turn_between
from evenhand.music.exercise import Exercise
from evenhand.music.text import mirrored
from evenhand.report.plots.markup import shortened
from evenhand.report.print.setting import one_line, printed_lines, set_pages
from evenhand.report.words.figures import EXERCISES_CAUTION, count
from evenhand.report.words.practice import turn_words

BookPaper = Literal["a4", "letter", "pocket"]
Edition = Literal["right", "left"]
PAPERS: tuple[BookPaper, ...] = get_args(BookPaper)


@dataclass(frozen=True, slots=True)
class BookLayout:
    """A paper's measures, pt; ``scale`` is a px of music in pt."""

    name: str  # the setter's
    width: float
    height: float
    margin: float
    scale: float
    size: float  # of the text
    gap: float  # the least between two exercises
    number: float  # the column of their numbers


LAYOUTS: Mapping[BookPaper, BookLayout] = {
    "a4": BookLayout("a4", 595.28, 841.89, 56, 0.46, 10.5, 25, 26),  # ISO 216
    "letter": BookLayout("us-letter", 612.0, 792.0, 58, 0.46, 10.5, 21, 26),  # ANSI Y14.1
    "pocket": BookLayout("a6", 297.64, 419.53, 26, 0.34, 8.5, 14, 18),  # ISO 216
}
DEFAULT_TITLE = "Exercises"
LONG_LINES = 8  # an exercise of more lines may be broken over pages
MOST_LISTED = 200  # titles in the contents; of a longer book its sections stand there
FEW = 10  # a book of so few has no title page
FEWEST_A_PAGE = 4  # sections of so many, at the mean, begin on a page of their own
LONGEST_FOOT = 80  # letters
LETTER_EM = 0.46  # a letter's width at the mean, rather too wide
EDITIONS: Mapping[Edition, str] = {"right": "Right-handed edition", "left": "Left-handed edition"}

# Common practice, but the third of four: that is how a ceiling is found (docs/minute.md).
HOW_TO_PRACTISE = (
    ("Loose first", "Begin so slowly that every stroke is easy: the stick falls, and rebounds by itself."),
    ("Both hands alike", "One height and one sound from both hands. Then let the other hand begin."),
    ("In time", "Play to a click, no louder than you need, eight repetitions or more without stopping."),
    (
        "Faster in small steps",
        "Three goes in four in control: a few beats a minute more. Where it gets tight, go back.",
    ),
    ("Short and often", "A little every day does more than much on one. Rest as long as you played."),
)
_SWAPPED = {"right": "left", "left": "right"}
_HAND = re.compile(r"\b(right|left)\b", re.IGNORECASE)
_NAMED = re.compile(r"\[([^\[\]]+)\]")


def music_px(paper: BookPaper) -> float:
    """Return how wide a line of music may be engraved, px."""
    layout = LAYOUTS[paper]
    return (layout.width - 2 * layout.margin - layout.number) / layout.scale


def left_handed(book: Book) -> Book:
    r"""Return the book for players who lead with the left: hands swapped, in the music and in its words.

    >>> from evenhand.music.book import parse_book, print_book
    >>> swapped = left_handed(parse_book("# Right hand first\n1/8: RLRR  # More for the right"))
    >>> print(print_book(swapped), end="")
    # Left hand first
    1/8: LRLL  # More for the left
    """
    return Book(
        tuple(
            replace(
                entry,
                exercise=mirrored(entry.exercise),
                title=_other_hand(entry.title),
                section=_other_hand(entry.section),
            )
            for entry in book.entries
        ),
        _other_hand(book.title),
        tuple((_other_hand(section), _other_hand(text)) for section, text in book.openings),
    )


def _other_hand(text: str) -> str:
    def other(found: re.Match[str]) -> str:
        word = _SWAPPED[found[0].lower()]
        return word.title() if found[0][0].isupper() else word

    return _HAND.sub(other, text)


def book_pdf(
    book: Book,
    music: Sequence[EngravedExercise],
    *,
    title: str = "",
    paper: BookPaper = "a4",
    edition: Edition | None = None,
) -> bytes:
    """Return a book as PDF; ``music`` is each entry's, engraved at most ``music_px(paper)`` wide.

    Raises
    ------
    UnprintableText, CannotPrint
        Where a letter is in no font that is there, or the pages cannot be set.
    """
    return set_pages("book_pages.typ", book_data(book, music, title=title, paper=paper, edition=edition))


def book_data(
    book: Book,
    music: Sequence[EngravedExercise],
    *,
    title: str = "",
    paper: BookPaper = "a4",
    edition: Edition | None = None,
) -> dict[str, object]:
    """Return what the template reads."""
    heading = one_line(title) or one_line(book.title) or DEFAULT_TITLE
    layout, many = LAYOUTS[paper], len(book.entries)
    numbers = {one_line(entry.title).casefold(): at for at, entry in reversed([*enumerate(book.entries, 1)])}
    parts = _parts(book, music, layout, numbers)
    sections = any(entry.section for entry in book.entries)
    return {
        "title": heading,
        "date": None,
        "heading": heading,
        "edition": EDITIONS[edition] if edition else "",
        "count": count(many, "exercise"),
        "foot": shortened(heading, LONGEST_FOOT),
        "opening": _pieces(book.opening(""), numbers),
        "sections": sections,
        "depth": _depth(book),
        "opens": many > FEW,
        "paged": sections and many > FEW and many >= FEWEST_A_PAGE * len(parts),
        "parts": parts,
        "how": [list(each) for each in HOW_TO_PRACTISE],
        "signs": _signs([entry.exercise for entry in book.entries]),
        "caution": EXERCISES_CAUTION,
        "paper": layout.name,
        "margin": layout.margin,
        "size": layout.size,
        "gap": layout.gap,
        "number_width": layout.number,
    }


def _depth(book: Book) -> int:
    """Say how deep the contents go: to the titles, to the sections, or (0) that there are none."""
    titled = any(entry.title for entry in book.entries)
    sections = any(entry.section for entry in book.entries)
    if titled and len(book.entries) <= MOST_LISTED:
        return 3 if sections else 2
    return 2 if sections else 0


def _parts(
    book: Book, music: Sequence[EngravedExercise], layout: BookLayout, numbers: Mapping[str, int]
) -> list[dict[str, object]]:
    """Return the sections in their order, each with its opening text and its exercises."""
    first, opened = _firsts(book.entries), {""}
    numbered = zip(range(1, len(book.entries) + 1), book.entries, music, strict=True)
    parts: list[dict[str, object]] = []
    for section, entries in groupby(numbered, key=lambda each: each[1].section):
        text = "" if section in opened else book.opening(section)
        opened.add(section)
        there = list(entries)
        begin = page_starts(_heights([each[2] for each in there], layout), *_rooms(text, layout))
        exercises = [
            {
                "number": number,
                "begins": at in begin,
                "title": one_line(entry.title),
                "level": 3 if section else 2,
                "like": first.get(number),
                "music": printed_lines(entry.exercise, engraved, layout.scale),
                "long": len(engraved.lines) > LONG_LINES,
            }
            for at, (number, entry, engraved) in enumerate(there)
        ]
        parts.append(
            {"section": one_line(section), "opening": _pieces(text, numbers), "exercises": exercises}
        )
    return parts


def _heights(music: Sequence[EngravedExercise], layout: BookLayout) -> list[float]:
    """Return how high each exercise stands with its title and the gap after it, pt."""
    lines = [[line.height * layout.scale + 5 for line in each.lines] for each in music]
    return [1.3 * layout.size + sum(each) + layout.gap for each in lines]


def _rooms(text: str, layout: BookLayout) -> tuple[float, float]:
    """Return what a section's first page has for exercises, and what a whole page has, pt."""
    whole = layout.height - 2.1 * layout.margin
    letters = (layout.width - 2 * layout.margin) / (LETTER_EM * layout.size)
    lines = sum(1.5 + len(line) // letters for line in text.splitlines())
    return whole - 2.4 * layout.size - layout.gap - 1.5 * layout.size * lines, whole


def page_starts(heights: Sequence[float], first_room: float, room: float) -> frozenset[int]:
    """Say with which exercises a new page begins: as few pages as can be, as evenly filled as can be.

    Parameters
    ----------
    heights : sequence of float
        Of the exercises, pt.
    first_room, room : float
        What the first page and each other page has, pt. An exercise that fits nowhere has a page alone.

    >>> sorted(page_starts([100] * 9, 700, 800))
    [4]
    """
    best: list[tuple[int, float, int]] = [
        (0, 0.0, 0)
    ]  # pages, squares of what is left over, the last's start
    for end in range(1, len(heights) + 1):
        ways: list[tuple[int, float, int]] = []
        filled = 0.0
        for start in range(end - 1, -1, -1):
            filled += heights[start]
            left = (room if start else first_room) - filled
            if left < 0 and start < end - 1:
                break
            pages, squares, _ = best[start]
            ways.append((pages + 1, squares + left**2, start))
        best.append(min(ways))
    starts, end = set[int](), len(heights)
    while end:
        end = best[end][2]
        starts.add(end)
    return frozenset(starts - {0})


def _firsts(entries: Sequence[Entry]) -> dict[int, list[object]]:
    """Return the numbers of exercises that are an earlier one in another form: which, and how."""
    found: dict[int, list[object]] = {}
    for first, *others in same_groups(entries):
        for other in others:
            turn = turn_between(entries[first].exercise, entries[other].exercise)
            if turn is not None:
                found[other + 1] = [first + 1, turn_words(turn)]
    return found


def _pieces(text: str, numbers: Mapping[str, int]) -> list[list[list[object]]]:
    """Cut a text into paragraphs of ``[words, number]``: the number of the exercise they name, or 0."""
    paragraphs = [one_line(line) for line in text.splitlines()]
    return [[_piece(part, numbers) for part in _cut(line)] for line in paragraphs if line]


def _cut(line: str) -> list[str]:
    return [part for part in re.split(r"(\[[^\[\]]+\])", line) if part]


def _piece(part: str, numbers: Mapping[str, int]) -> list[object]:
    named = _NAMED.fullmatch(part)
    number = numbers.get(named[1].casefold(), 0) if named else 0
    return [named[1] if named and number else part, number]


def _signs(exercises: Sequence[Exercise]) -> list[str]:
    """Say what the signs mean that the book has."""
    notes = [note for exercise in exercises for note in exercise.notes]
    has = {
        "R right hand, L left hand": True,
        "both letters: both hands at once": any(note.both for note in notes),
        "a small letter: a grace note by that hand": any(note.graces for note in notes),
        "> an accent": any(note.accent for note in notes),
        "brackets: a ghost note, hardly there": any(note.ghost for note in notes),
        "z: a buzz": any(note.buzz for note in notes),
    }
    return [said for said, there in has.items() if there]
