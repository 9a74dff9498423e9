"""One search over the studio: students, exercises and takes.

Conventions: what is typed is cut into words, in any order; each must be the beginning of a word of what is
found, capitals and accents aside. Words that begin a student's name choose students, and the rest looks among
their takes: by exercise, title, tempo and day, such as ``nora paradiddle november``. Letters R and L alone,
three or more, are a sticking: it is looked for in the exercises as it is played.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from evenhand.report.words.figures import DAY_NAMES, day_words
from evenhand.studio.desk import Cache
from evenhand.studio.shelves import ShelvedExercise, library_shelf, own_shelf
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Student, TakeOutline, day_recorded
from evenhand.studio.weeks.next import title_of, titles_of

MOST_LETTERS, MOST_WORDS = 200, 12
MOST_FOUND = 20  # of each kind
LATELY = timedelta(weeks=12)  # among everybody's takes
_EVER = datetime(1970, 1, 2, tzinfo=UTC)
_STICKING = re.compile(r"[RLrl\s]{3,}")
_NO_WORD = re.compile(r"[^\w/.]+")
_NO_HAND = re.compile(r"\d+/\d+:|[^RL]")
_WORDS: Cache[tuple[str, ...]] = Cache(8192)


@dataclass(frozen=True, slots=True)
class FoundTake:
    """A take that was found, whose it is, and its exercise's title."""

    take: TakeOutline
    student: Student
    title: str


@dataclass(frozen=True, slots=True)
class Found:
    """What was found, at most ``MOST_FOUND`` of a kind; ``more`` is how many there are beyond, by kind."""

    students: tuple[Student, ...] = ()
    exercises: tuple[ShelvedExercise, ...] = ()
    takes: tuple[FoundTake, ...] = ()
    more: tuple[int, int, int] = (0, 0, 0)


def words_in(text: str) -> tuple[str, ...]:
    """Cut text into words without accents and capitals.

    >>> words_in("Nóra Véldt, 1/8 = 150")
    ('nora', 'veldt', '1/8', '150')
    """
    plain = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return tuple(word for word in _NO_WORD.split(letters) if word)


def fits(asked: Iterable[str], words: Sequence[str]) -> bool:
    """Tell whether each word that is asked for begins one that is there.

    >>> fits(["nor"], ["nora", "veldt"]), fits(["ora"], ["nora", "veldt"])
    (True, False)
    """
    return all(any(word.startswith(each) for word in words) for each in asked)


def sticking_of(text: str) -> str:
    """Return an exercise's sticking alone.

    >>> sticking_of("1/8: >RL lRR L | 1/16: R~L")
    'RLRRLRL'
    """
    return _NO_HAND.sub("", text)


def search(studio: Studio, text: str, now: datetime) -> Found:
    """Find what is asked for; nothing where nothing is."""
    text = text[:MOST_LETTERS]
    asked = words_in(text)[:MOST_WORDS]
    if not asked:
        return Found()
    entries = studio.book.all()
    exercises = _exercises([*own_shelf(entries), *library_shelf()], text, asked)
    everybody = studio.students.all(archived=None)
    students = [each for each in everybody if fits(asked, words_in(each.name))]
    takes = _takes(studio, everybody, text, asked, now, titles_of(entries))
    found = students, exercises, takes
    more = tuple(max(len(each) - MOST_FOUND, 0) for each in found)
    return Found(
        tuple(students[:MOST_FOUND]),
        tuple(exercises[:MOST_FOUND]),
        tuple(takes[:MOST_FOUND]),
        (more[0], more[1], more[2]),
    )


def _sought_sticking(text: str) -> str:
    return "".join(text.split()).upper() if _STICKING.fullmatch(text.strip()) else ""


def _exercises(shelf: Iterable[ShelvedExercise], text: str, asked: Sequence[str]) -> list[ShelvedExercise]:
    """Find exercises by title, section and text, or by sticking; of those alike the first."""
    sought = _sought_sticking(text)
    found: dict[str, ShelvedExercise] = {}
    for each in shelf:
        named = f"{each.title} {each.section} {each.shelf} {each.text}"
        words = _WORDS.get(named, lambda named=named: words_in(named))  # type: ignore[misc]
        if (sought and sought in 2 * sticking_of(each.text)) or fits(asked, words):
            found.setdefault(each.text, each)
    return list(found.values())


def _takes(
    studio: Studio,
    students: Sequence[Student],
    text: str,
    asked: Sequence[str],
    now: datetime,
    titles: dict[str, str],
) -> list[FoundTake]:
    """Find takes: those of the students who are named, else everybody's of late."""
    named, rest = _named(students, asked)
    by_id = {each.id: each for each in named or students}
    if named:
        takes = [take for who in named for take in studio.takes.outlines(_EVER, student_id=who.id)]
    else:
        takes = studio.takes.outlines(now - LATELY)
    sought = "" if named else _sought_sticking(text)
    return [
        FoundTake(take, by_id[take.student_id], title_of(take.exercise, titles))
        for take in takes
        if take.student_id in by_id and _is_meant(take, rest, sought, titles, now)
    ]


def _named(students: Sequence[Student], asked: Sequence[str]) -> tuple[list[Student], list[str]]:
    """Return the students whom words begin the names of, and the words that name nobody."""

    def names(word: str) -> Callable[[Student], bool]:
        return lambda student: fits([word], words_in(student.name))

    naming = [word for word in asked if len(word) > 1 and any(map(names(word), students))]
    chosen = [each for each in students if naming and fits(naming, words_in(each.name))]
    return chosen, [word for word in asked if word not in naming] if chosen else list(asked)


def _is_meant(
    take: TakeOutline, asked: Sequence[str], sought: str, titles: dict[str, str], now: datetime
) -> bool:
    """Tell whether a take is what the words mean."""
    if sought and sought in 2 * sticking_of(take.exercise):
        return True
    day = day_recorded(take, now)
    on = f"{day.isoformat()} {day_words(day, year=True)} {DAY_NAMES[day.weekday()]}"
    said = f"{take.exercise} {take.tempo} {on}"
    words = _WORDS.get(said, lambda: words_in(said))
    return fits(asked, (*words, *words_in(title_of(take.exercise, titles))))
