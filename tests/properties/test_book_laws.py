"""Laws of books, and of which exercises are the same."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from evenhand.errors import BadBook
from evenhand.music.book import Book, Entry, parse_book, print_book
from evenhand.music.equivalence import canonical, least_rotation, same_groups, turn_between
from evenhand.music.exercise import Exercise, Note
from evenhand.music.text import mirrored, parse_exercise
from tests.strategies import VALUES, exercises, notes

titles = st.text(st.characters(exclude_categories=("Cc", "Cs")), max_size=12).map(
    lambda t: " ".join(t.split())
)
entries = st.builds(Entry, exercises(max_runs=1, max_run=4), titles, titles)
paragraphs = st.lists(titles.filter(bool), min_size=1, max_size=2).map("\n".join)


@st.composite
def books(draw: st.DrawFn) -> Book:
    """Draw a book; the book itself and some of its sections are opened by a text."""
    inside = tuple(draw(st.lists(entries, min_size=1, max_size=5)))
    sections = dict.fromkeys(["", *(entry.section for entry in inside)])
    opened = tuple((section, draw(paragraphs)) for section in sections if draw(st.booleans()))
    return Book(inside, draw(titles), opened)


@st.composite
def short(draw: st.DrawFn) -> Exercise:
    """Draw an exercise of few notes of few kinds, so that two are often the same."""
    kinds = st.sampled_from(
        (
            Note("R", VALUES[3]),
            Note("L", VALUES[3]),
            Note("R", VALUES[3], accent=True),
            Note("L", VALUES[3], accent=True),
            Note(None, VALUES[3]),
            Note("R", VALUES[3], graces=("L",)),
            Note("L", VALUES[3], graces=("R",)),
        )
    )
    return Exercise(tuple(draw(st.lists(kinds, min_size=1, max_size=5))))


def begun_later(exercise: Exercise, notes_later: int) -> Exercise:
    at = notes_later % len(exercise.notes)
    return replace(exercise, notes=exercise.notes[at:] + exercise.notes[:at], bar_lines=())


def by_brute_force(one: Exercise, other: Exercise, *, rotation: bool, swap: bool) -> bool:
    forms = [one, mirrored(one)] if swap else [one]
    turns = range(len(one.notes)) if rotation else range(1)
    return any(begun_later(form, turn).notes == other.notes for form in forms for turn in turns)


@given(books())
def test_a_book_that_is_printed_is_read_back_with_any_line_ends(book: Book) -> None:
    text = print_book(book)
    assert parse_book(text) == book
    assert parse_book("\ufeff" + text.replace("\n", "\r\n")) == book


@given(st.text() | st.text(alphabet="RL18/:# \n\t>", max_size=80))
def test_any_text_is_a_book_or_a_named_error(text: str) -> None:
    try:
        book, said = parse_book(text, name="a.txt"), ""
    except BadBook as error:
        book, said = Book((Entry(parse_exercise("1/8: RL")),)), str(error)
    assert said.startswith("a.txt") or not said
    assert parse_book(print_book(book)) == book


@given(exercise=exercises(), notes_later=st.integers(0, 99), swapped=st.booleans())
def test_begun_later_or_swapped_an_exercise_keeps_its_key(
    exercise: Exercise, notes_later: int, *, swapped: bool
) -> None:
    turned = begun_later(mirrored(exercise) if swapped else exercise, notes_later)
    assert canonical(turned) == canonical(exercise)
    if not swapped:
        assert canonical(turned, swap=False) == canonical(exercise, swap=False)


@given(one=short(), other=short(), rotation=st.booleans(), swap=st.booleans())
def test_two_share_a_key_if_and_only_if_one_can_be_turned_into_the_other(
    one: Exercise, other: Exercise, *, rotation: bool, swap: bool
) -> None:
    shared = canonical(one, rotation=rotation, swap=swap) == canonical(other, rotation=rotation, swap=swap)
    assert shared == by_brute_force(one, other, rotation=rotation, swap=swap)


@given(exercises(), st.data())
def test_changing_one_note_of_an_exercise_that_has_no_like_changes_its_key(
    exercise: Exercise, data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(exercise.notes) - 1))
    changed = data.draw(notes(data.draw(st.sampled_from(VALUES))))
    other = replace(exercise, notes=(*exercise.notes[:at], changed, *exercise.notes[at + 1 :]))
    alike = by_brute_force(exercise, other, rotation=True, swap=True)
    assert (canonical(exercise) == canonical(other)) == alike


@given(exercise=exercises(), notes_later=st.integers(0, 99), swapped=st.booleans())
def test_the_turn_that_is_said_leads_there(exercise: Exercise, notes_later: int, *, swapped: bool) -> None:
    other = begun_later(mirrored(exercise) if swapped else exercise, notes_later)
    turn = turn_between(exercise, other)
    assert turn is not None
    assert turn.notes_later <= notes_later % len(exercise.notes)
    form = mirrored(exercise) if turn.hands_swapped else exercise
    assert begun_later(form, turn.notes_later).notes == other.notes


@given(st.text(alphabet="abc", min_size=1, max_size=24))
def test_the_least_rotation_is_the_least_of_all(word: str) -> None:
    at = least_rotation(word)
    assert word[at:] + word[:at] == min(word[i:] + word[:i] for i in range(len(word)))


@given(st.lists(short().map(Entry), max_size=8))
def test_groups_are_what_comparing_each_with_each_gives(listed: list[Entry]) -> None:
    group_of = {index: group for group in same_groups(listed) for index in group}
    for i, one in enumerate(listed):
        for j, other in enumerate(listed):
            together = i == j or j in group_of.get(i, ())
            assert together == by_brute_force(one.exercise, other.exercise, rotation=True, swap=True)
