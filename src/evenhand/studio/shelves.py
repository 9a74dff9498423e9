"""The book and the library side by side, to browse: shelves of exercises, searched, drawn a page at a time.

Conventions: a shelf is the studio's own book or a track of the library. The own one stands in the teacher's
order, a track easy to hard. How hard an exercise is, is said by thirds of the library (``hardness``,
docs/choosing.md); what it trains, by what is written. An exercise is read and weighed once for its text.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from evenhand.errors import EvenhandError
from evenhand.music.engraving.engrave import engrave
from evenhand.music.exercise import HANDS, Exercise, Hand, Tempo
from evenhand.music.library.letters import goes_to_the_other_hand
from evenhand.music.library.tracks import TRACKS, library
from evenhand.music.search import LIES, StickingFound, find_sticking, read_query
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.music.writing.difficulty import Difficulty, difficulties, hardness
from evenhand.music.writing.features import is_roll, longest_run
from evenhand.planning.choosing import Need, load
from evenhand.report.words.exercises import explain
from evenhand.studio.arranged import by_section
from evenhand.studio.desk import Cache
from evenhand.studio.values import BookEntry

OWN, ALL = "own", ""
A_PAGE = 24
CARD_PX = 400.0
AT = Tempo.parse("1/4=60")  # as the library's tracks are put in order
MOST_FACTS = 8192
THIRDS = ("easy", "middle", "hard")
SORTS = ("stands", "easy")


@dataclass(frozen=True, slots=True)
class ShelvedExercise:
    """One exercise on a shelf; ``id`` is the book's, "" of the library's."""

    text: str
    title: str
    shelf: str
    section: str = ""
    id: str = ""
    found: StickingFound | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class ExerciseFacts:
    """What an exercise can be looked for by."""

    leads: Hand | None  # None where it goes to the other hand by itself
    works: Mapping[Hand, float]
    runs: Mapping[Hand, int]
    exercise: Exercise
    asks: Difficulty


@dataclass(frozen=True, slots=True)
class ShelfQuery:
    """What is looked for: each "" for anything. ``swap`` takes the sticking with the hands swapped, too."""

    shelf: str = OWN
    sticking: str = ""
    swap: bool = False
    hand: str = ""
    trains: str = ""
    hard: str = ""
    sort: str = "stands"
    page: int = 1

    @property
    def searches(self) -> bool:
        """Tell whether anything is looked for."""
        return bool(self.sticking.strip() or self.hand or self.trains or self.hard)


@dataclass(frozen=True, slots=True)
class ShelfPage:
    """One page of what was found, and how many there are in all, on how many pages."""

    exercises: tuple[ShelvedExercise, ...]
    count: int
    page: int
    pages: int


def _both(facts: ExerciseFacts) -> bool:
    return all(facts.runs[hand] for hand in HANDS)


# What can be asked of the hands, and what an exercise trains: by what is written.
BY_HAND: Mapping[str, Callable[[ExerciseFacts], bool]] = {
    "R leads": lambda facts: facts.leads == "R" and _both(facts),
    "L leads": lambda facts: facts.leads == "L" and _both(facts),
    "in turn": lambda facts: facts.leads is None,
    "works R": lambda facts: facts.works["R"] > facts.works["L"],
    "works L": lambda facts: facts.works["L"] > facts.works["R"],
    "R alone": lambda facts: not facts.runs["L"],
    "L alone": lambda facts: not facts.runs["R"],
}
TRAINS: Mapping[str, Callable[[ExerciseFacts], bool]] = {
    "singles": lambda facts: _both(facts) and max(facts.runs.values()) == 1,
    "doubles": lambda facts: any(load(facts.exercise, Need("second_notes", hand)) > 0 for hand in HANDS),
    "three in a row": lambda facts: _both(facts) and max(facts.runs.values()) > 2,
    "rolls": lambda facts: is_roll(facts.exercise),
    "heights": lambda facts: any(load(facts.exercise, Need("heights", hand)) > 0 for hand in HANDS),
    "flams": lambda facts: any(len(note.graces) == 1 for note in facts.exercise.notes),
    "drags": lambda facts: any(len(note.graces) > 1 for note in facts.exercise.notes),
    "ghosts": lambda facts: any(note.ghost for note in facts.exercise.notes),
    "dynamics": lambda facts: any(note.dynamic or note.swell for note in facts.exercise.notes),
    "buzzes": lambda facts: any(note.buzz for note in facts.exercise.notes),
    "triplets": lambda facts: any(note.value.denominator % 3 == 0 for note in facts.exercise.notes),
    "values": lambda facts: len({facts.exercise.notes[at].value for at in facts.exercise.struck}) > 1,
    "rests": lambda facts: any(note.is_rest for note in facts.exercise.notes),
}


@cache
def library_shelf() -> tuple[ShelvedExercise, ...]:
    """Return the library's exercises with their texts: a second's work, done once."""
    return tuple(ShelvedExercise(print_exercise(each.exercise), each.title, each.track) for each in library())


def prepare(entries: Sequence[BookEntry]) -> None:
    """Do what the first search would wait for."""
    facts_of([each.text for each in (*library_shelf(), *own_shelf(entries)) if _is_readable(each.text)])


@lru_cache(maxsize=MOST_FACTS)
def _parsed(text: str) -> Exercise:
    return parse_exercise(text)


def _is_readable(text: str) -> bool:
    """Tell whether an exercise can be read: one from another form of the text may not be."""
    try:
        _parsed(text)
    except EvenhandError:
        return False
    return True


@cache
def _thirds() -> tuple[float, float]:
    """Return the hardness at which the library's second and last third begin."""
    rising = sorted(each.hardness for each in library())
    return rising[len(rising) // 3], rising[2 * len(rising) // 3]


_FACTS: Cache[ExerciseFacts] = Cache(MOST_FACTS)


def facts_of(texts: Iterable[str]) -> list[ExerciseFacts]:
    """Return what exercises can be looked for by; those that are alike in time are weighed together."""
    texts = list(texts)
    found = {text: facts for text in texts if (facts := _FACTS.look(text)) is not None}
    new = [text for text in dict.fromkeys(texts) if text not in found]
    exercises = [_parsed(text) for text in new]
    for text, exercise, asks in zip(new, exercises, difficulties(exercises, AT), strict=True):
        found[text] = _facts(exercise, asks)
        _FACTS.put(text, found[text])
    return [found[text] for text in texts]


def _facts(exercise: Exercise, asks: Difficulty) -> ExerciseFacts:
    first = exercise.notes[exercise.struck[0]].hand
    return ExerciseFacts(
        None if goes_to_the_other_hand(exercise) else first,
        {hand: load(exercise, Need("hand", hand)) for hand in HANDS},
        {hand: longest_run(exercise, hand) for hand in HANDS},
        exercise,
        asks,
    )


def third_of(text: str) -> str:
    """Return in which third of the library an exercise's hardness lies; "" where it cannot be read."""
    if not _is_readable(text):
        return ""
    return THIRDS[bisect_right(_thirds(), hardness(_parsed(text)))]


def own_shelf(entries: Sequence[BookEntry]) -> list[ShelvedExercise]:
    """Lay out the studio's book: in its order, what is of one section together."""
    return [
        ShelvedExercise(each.text, each.title, OWN, each.section, each.id) for each in by_section(entries)
    ]


def counts() -> dict[str, int]:
    """Count each track's exercises."""
    found = library_shelf()
    return {track: sum(each.shelf == track for each in found) for track in TRACKS}


def browse(query: ShelfQuery, entries: Sequence[BookEntry]) -> ShelfPage:
    """Find what is asked for, and give one page of it.

    Raises
    ------
    WrongOptions
        Where the sticking that is looked for cannot be read.
    """
    found = _matching(query, entries)
    count = len(found)
    pages = max(1, -(-count // A_PAGE))
    page = min(max(query.page, 1), pages)
    shown = found[(page - 1) * A_PAGE : page * A_PAGE]
    if query.sort == "easy":
        shown = _explained(found, (page - 1) * A_PAGE, shown)
    return ShelfPage(tuple(shown), count, page, pages)


def _matching(query: ShelfQuery, entries: Sequence[BookEntry]) -> list[ShelvedExercise]:
    on = [] if query.shelf not in {OWN, ALL} else own_shelf(entries)
    if query.shelf != OWN:
        on += [each for each in library_shelf() if query.shelf in {ALL, each.shelf}]
    if query.searches or query.sort == "easy":
        on = [each for each in on if _is_readable(each.text)]
    if query.searches:
        on = _searched(query, on)
    if query.sort == "easy":
        asks = [facts.asks.load for facts in facts_of(each.text for each in on)]
        order = sorted(range(len(on)), key=lambda at: round(asks[at], 6))
        on = [on[at] for at in order]
    return on


def _searched(query: ShelfQuery, on: Sequence[ShelvedExercise]) -> list[ShelvedExercise]:
    """Keep what fits; where a sticking is looked for, the nearest ways that it lies there first."""
    facts = dict(zip((each.text for each in on), facts_of(each.text for each in on), strict=True))
    tests = [
        table[asked] for table, asked in ((BY_HAND, query.hand), (TRAINS, query.trains)) if asked in table
    ]
    kept = [each for each in on if all(test(facts[each.text]) for test in tests)]
    if query.hard in THIRDS:
        kept = [each for each in kept if third_of(each.text) == query.hard]
    if not query.sticking.strip():
        return kept
    sought = read_query(query.sticking)
    found = [(each, find_sticking(facts[each.text].exercise, sought, swap=query.swap)) for each in kept]
    held = [replace(each, found=place) for each, place in found if place is not None]
    return sorted(held, key=_nearness)


def _nearness(each: ShelvedExercise) -> tuple[bool, bool, int]:
    place = each.found
    if place is None:
        return True, True, 0
    return place.rests_between, place.hands_swapped, LIES.index(place.lies)


def _explained(
    found: Sequence[ShelvedExercise], start: int, shown: Sequence[ShelvedExercise]
) -> list[ShelvedExercise]:
    """Say of each on a page why it stands after the one before."""
    before = 1 if start else 0
    asks = [
        facts.asks for facts in facts_of(each.text for each in found[start - before : start + len(shown)])
    ]
    return [replace(each, why=why) for each, why in zip(shown, explain(asks)[before:], strict=True)]


@lru_cache(maxsize=2048)
def drawn(text: str, width: float = CARD_PX) -> tuple[tuple[float, str], ...]:
    """Engrave an exercise for a card: each line's width, px, and its music; nothing where it cannot be drawn.

    The same text is drawn once.
    """
    try:
        engraved = engrave(_parsed(text), width=width, spacing="note", rolls="typed")
    except EvenhandError:
        return ()
    return tuple((line.width, line.svg) for line in engraved.lines)
