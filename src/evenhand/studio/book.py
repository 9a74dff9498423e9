"""The studio's book: what is in it, exercises engraved as they are typed, sets generated and cut short."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evenhand.acts.exercises.choose import cover_list
from evenhand.acts.exercises.generate import USUAL_TEMPO, Generated, Options, generate_exercises
from evenhand.errors import EvenhandError, WrongOptions
from evenhand.music.book import Book, Entry, print_book, split_mark
from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.engraved import whole_svg
from evenhand.music.equivalence import UpTo, same_groups
from evenhand.music.exercise import Hand, Tempo
from evenhand.music.text import assumed_in, parse_exercise, print_exercise
from evenhand.report.words.exercises import covering_words, found_words
from evenhand.studio.typed import whole_number
from evenhand.studio.values import BookEntry

MOST_SHOWN = 48
LONGEST_GENERATED = 16
TYPED_PX = 760.0
UP_TO: tuple[UpTo, ...] = ("none", "rotation", "rotation-reversal", "rotation-swap")


@dataclass(frozen=True, slots=True)
class Typed:
    """An exercise as it was typed: its music and its canonical text, or what is wrong and where.

    ``assumed`` tells whether it left open what was then taken as a beginner means it.
    """

    svg: str
    text: str
    wrong: str = ""
    assumed: bool = False


@dataclass(frozen=True, slots=True)
class ShownExercises:
    """Exercises that were generated or chosen, each with why it stands there, and a sentence about all."""

    said: str
    exercises: tuple[tuple[str, str], ...]  # text, why


def typed(text: str, width: float = TYPED_PX) -> Typed:
    """Engrave what is typed; while it cannot be read, say what is wrong."""
    if not text.strip():
        return Typed("", "")
    try:
        exercise = parse_exercise(text.strip())
        music = engrave(exercise, width=width, spacing="note", rolls="typed")
        return Typed(
            whole_svg(music, title=print_exercise(exercise)),
            print_exercise(exercise),
            assumed=bool(assumed_in(text.strip())),
        )
    except EvenhandError as error:
        return Typed("", "", str(error))


def generated(form: Mapping[str, object]) -> ShownExercises:
    """Generate by what a form asks."""
    options = Options(
        length=_whole(form, "length", 2, LONGEST_GENERATED),
        value=str(form.get("value") or "1/8"),
        longest_run=_whole(form, "longest_run", 1, LONGEST_GENERATED) if form.get("longest_run") else None,
        around=bool(form.get("around")),
        balanced=bool(form.get("balanced")),
        lead=_hand(form.get("lead")),
        up_to=next((each for each in UP_TO if each == form.get("up_to")), "none"),
        sort="easy",
        limit=MOST_SHOWN,
    )
    return _listed(generate_exercises(options))


def _listed(found: Generated) -> ShownExercises:
    if not found.count:
        return ShownExercises(f"There is none: {found.why}", ())
    said = found_words(found.count, found.asked, len(found.texts))
    return ShownExercises(said, tuple(zip(found.texts, found.ranks, strict=True)))


def covering(texts: Sequence[str], changes: int) -> ShownExercises:
    """Choose the fewest of some exercises that hold all their hand changes."""
    if not texts:
        raise WrongOptions(got="no exercises", must_be="at least one exercise ticked")
    book = Book(tuple(Entry(parse_exercise(text)) for text in texts))
    found = cover_list(book, changes, Tempo.parse(USUAL_TEMPO), time_limit_s=5.0)
    needed = None if found.optimal else found.bound
    said = covering_words(len(found.chosen), len(texts), changes=found.of, notes=changes, needed=needed)
    chosen = (print_exercise(entry.exercise) for entry in found.chosen)
    return ShownExercises(said, tuple(zip(chosen, found.ranks, strict=True)))


def same_as(text: str, entries: Sequence[BookEntry]) -> str | None:
    """Return the text of an entry that is the same up to where it begins and the hands' swap."""
    new = Entry(parse_exercise(text))
    for entry in entries:
        if same_groups((new, Entry(parse_exercise(entry.text)))):
            return entry.text
    return None


def book_of(entries: Sequence[BookEntry], title: str = "") -> Book:
    """Make a book of the studio's entries."""
    return Book(
        tuple(
            Entry(parse_exercise(each.text), each.title, each.section, split_mark(each.mark)[1])
            for each in entries
        ),
        title,
    )


def book_text(entries: Sequence[BookEntry]) -> str:
    """Write the studio's book as text."""
    return print_book(book_of(entries)) if entries else ""


def _whole(form: Mapping[str, object], key: str, least: int, most: int) -> int:
    text = str(form.get(key) or "").strip()
    number = whole_number(text)
    if number is None or not least <= number <= most:
        raise WrongOptions(
            got=f"{key.replace('_', ' ')} {text[:40]!r}", must_be=f"a whole number, {least} to {most}"
        )
    return number


def _hand(text: object) -> Hand | None:
    return "R" if text == "R" else "L" if text == "L" else None
