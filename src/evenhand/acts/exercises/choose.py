"""Choose exercises: what loads what was weak, or the fewest that hold all hand changes of a list.

What was found in takes is read from the JSON files that ``evenhand listen`` wrote (docs/json.md).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from evenhand.acts.documents import json_of
from evenhand.acts.takes.document import heard_take_in
from evenhand.errors import BadList, WrongOptions
from evenhand.measuring.values import Finding
from evenhand.music.book import Book, Entry, print_book
from evenhand.music.exercise import Hand, Tempo
from evenhand.music.text import print_exercise
from evenhand.music.writing.covering import TIME_LIMIT_S, Held, best_of, cover, greedy, shares, union
from evenhand.music.writing.difficulty import difficulties, easy_to_hard, hand_changes
from evenhand.music.writing.features import FEATURES, Feature, held
from evenhand.planning.choosing import (
    TakeFindings,
    Weakness,
    Weaknesses,
    choose,
    choose_by_coverage,
    new_hand_changes,
    unloaded,
    weaknesses,
)
from evenhand.report.words.exercises import NOT_WEIGHED, explain
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.remarks import all_remarks, weakness_words
from evenhand.take import Remark

SUFFIX = ".json"
_MUST_BE = "a JSON file written by evenhand listen --json, or a folder of such files"


@dataclass(frozen=True, slots=True)
class HeardTakes:
    """The takes that were read, and the names of those heard blind: nothing is known of their hands."""

    takes: tuple[TakeFindings, ...]
    blind: tuple[str, ...]


def read_takes(paths: Sequence[Path]) -> HeardTakes:
    """Read takes from files, and from folders of ``*.json``.

    Raises
    ------
    BadList
        Naming the first file that is no heard take, and what is wrong with it.
    """
    takes, blind = [], []
    for path in [file for each in paths for file in _files(each)]:
        take = heard_take_in(path, _MUST_BE)
        if take.exercise is None:
            blind.append(path.name)
        else:
            takes.append(TakeFindings(path.name, take.exercise, take.findings))
    return HeardTakes(tuple(takes), tuple(blind))


def _files(path: Path) -> list[Path]:
    """List the files that a path stands for."""
    if not path.is_dir():
        return [path]
    inside = sorted(each for each in path.iterdir() if each.suffix.lower() == SUFFIX and each.is_file())
    if not inside:
        raise BadList(where=str(path), got="a folder with no *.json in it", must_be=_MUST_BE)
    return inside


@dataclass(frozen=True, slots=True)
class ChosenExercise:
    """One exercise of the book, and why it was chosen."""

    entry: Entry
    reasons: tuple[Remark, ...]

    @property
    def reason(self) -> str:
        """The reasons in words."""
        return "; ".join(all_remarks(self.reasons))


@dataclass(frozen=True, slots=True)
class ChosenSet:
    """The chosen, easy to hard; the weaknesses they load, if any; and what else is to be said."""

    chosen: tuple[ChosenExercise, ...]
    weak: tuple[Weakness, ...]
    notes: tuple[Remark, ...]
    n_takes: int

    @property
    def json(self) -> str:
        """All of it as JSON."""
        written = {
            "chosen": [
                {
                    "exercise": print_exercise(each.entry.exercise),
                    "title": each.entry.title,
                    "section": each.entry.section,
                    "reason": each.reason,
                }
                for each in self.chosen
            ],
            "by": "weaknesses" if self.weak else "coverage",
            "weaknesses": [
                {"need": each.need.kind, "hand": each.need.hand, "change": each.need.change or None,
                 "told": weakness_words(each.told), "takes": each.n_takes}
                for each in self.weak
            ],
            "takes": self.n_takes,
            "notes": all_remarks(self.notes),
            "not_weighed": NOT_WEIGHED,
        }  # fmt: skip
        return json_of(written)

    @property
    def book(self) -> str:
        """The text of a book with the chosen."""
        return print_book(Book(tuple(replace(each.entry, section="") for each in self.chosen)))


def choose_exercises(
    book: Book, heard: HeardTakes, tempo: Tempo, *, count: int = 6, weak_hand: Hand = "L"
) -> ChosenSet:
    """Choose up to ``count`` exercises of a book by what takes showed, easy to hard at a tempo."""
    shown = weaknesses(heard.takes)
    entries = book.entries
    asks = difficulties([entry.exercise for entry in entries], tempo, weak_hand)
    order = [entries[place] for place in easy_to_hard(asks)]
    exercises = [entry.exercise for entry in order]
    reasons = {each.place: each.reasons for each in choose(exercises, shown.found, count)}
    notes = _notes(heard, shown, unloaded(exercises, shown.found))
    if not reasons:
        places = choose_by_coverage(exercises, count)
        new = new_hand_changes([exercises[place] for place in places])
        reasons = {p: (Remark("new hand changes", {"n": n}),) for p, n in zip(places, new, strict=True)}
        notes = (Remark("book works on none" if shown.found else "chosen by coverage"), *notes)
    elif len(reasons) < count:
        notes = (*notes, Remark("book works on few", {"n": len(reasons)}))
    chosen = tuple(ChosenExercise(order[place], reasons[place]) for place in sorted(reasons))
    return ChosenSet(chosen, shown.found, notes, len(heard.takes))


def _notes(heard: HeardTakes, shown: Weaknesses, missing: Sequence[Weakness]) -> tuple[Remark, ...]:
    """Say what was left out, and what no sticking mends."""
    return (
        *(Remark("heard without an exercise", {"name": name}) for name in heard.blind),
        *(Remark("hands not told in a take", {"name": name}) for name in shown.untold),
        *(
            Remark("found in a take", {"name": take.name, "said": _said(each, take)})
            for take, each in shown.beside
        ),
        *(
            Remark("nothing in the book for", {"need": need.kind, "hand": need.hand, "change": need.change})
            for need in (each.need for each in missing)
        ),
    )


def _said(finding: Finding, take: TakeFindings) -> str:
    return f"{finding_words(finding, take.exercise)} {remedy_words(finding, take.exercise)}".rstrip()


MOST_SHOWN = 24  # of the first, the best and the quickest choices of so many


@dataclass(frozen=True, slots=True)
class Shares:
    """How many hand changes the first n of a list hold, n = 1, 2, ...; and others of n in their place.

    ``easiest`` are the first n when sorted easy to hard, ``greedy`` are chosen one by one, ``best`` are the
    best n there are; ``proven`` says of which n that is proven.
    """

    first: tuple[int, ...]
    easiest: tuple[int, ...]
    greedy: tuple[int, ...]
    best: tuple[int, ...]
    proven: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class Covered:
    """The chosen, easy to hard, and in words why each comes after the one before.

    ``of`` are the hand changes of ``changes`` notes that the list holds, ``covered`` those that the chosen
    hold. No choice of fewer than ``bound`` would do. ``beside`` says of each feature that the list has
    (accents, ornaments, rolls, lead) how many of its kinds the chosen hold, of how many.
    """

    chosen: tuple[Entry, ...]
    ranks: tuple[str, ...]
    changes: int
    covered: int
    of: int
    listed: int
    bound: int
    shares: Shares | None = None
    beside: tuple[tuple[Feature, int, int], ...] = ()

    @property
    def optimal(self) -> bool:
        """Tell whether it is proven that no fewer do."""
        return len(self.chosen) == self.bound

    @property
    def json(self) -> str:
        """The contract's JSON."""
        written: dict[str, object] = {
            "chosen": [print_exercise(entry.exercise) for entry in self.chosen],
            "covered": self.covered,
            "of": self.of,
            "optimal": self.optimal,
            "bound": self.bound,
            "changes": self.changes,
            "listed": self.listed,
            "titles": [entry.title for entry in self.chosen],
            "ranks": self.ranks,
            "beside": {name: {"covered": n, "of": of} for name, n, of in self.beside},
        }
        if self.shares is not None:
            written["shares"] = {name: getattr(self.shares, name) for name in Shares.__slots__}
        return json_of(written)

    @property
    def book(self) -> str:
        """The text of a book with the chosen."""
        section = f"{len(self.chosen)} of {self.listed}, with all hand changes of {self.changes} notes"
        return print_book(Book(tuple(replace(entry, section=section) for entry in self.chosen)))


def cover_list(
    book: Book,
    changes: int,
    tempo: Tempo,
    *,
    weak_hand: Hand = "L",
    time_limit_s: float = TIME_LIMIT_S,
    show_shares: bool = False,
    hold: Sequence[str] = (),
) -> Covered:
    """Choose the fewest exercises that hold all hand changes of so many notes that the list holds.

    With ``hold`` they hold all accents, ornaments, rolls or leads of the list, too.

    Raises
    ------
    WrongOptions
        Where ``changes``, the time or what is to be held cannot be.
    """
    if not time_limit_s > 0:
        raise WrongOptions(got=f"{time_limit_s:g} s to choose in", must_be="a time above 0")
    asked = tuple(each for each in FEATURES if each in hold)
    unknown = next((each for each in hold if each not in FEATURES), None)
    if unknown is not None:
        raise WrongOptions(got=f"--hold {unknown}", must_be=f"one of {', '.join(FEATURES)}")
    asks = difficulties([entry.exercise for entry in book.entries], tempo, weak_hand)
    order = easy_to_hard(asks)
    holds = [frozenset(hand_changes(book.entries[place].exercise, changes)) for place in order]
    features = {name: [held(book.entries[place].exercise, name) for place in order] for name in FEATURES}
    wanted = [
        changes_held.union(*(features[name][at] for name in asked)) for at, changes_held in enumerate(holds)
    ]
    found = cover(wanted, time_limit_s)
    return Covered(
        chosen=tuple(book.entries[order[place]] for place in found.chosen),
        ranks=tuple(explain([asks[order[place]] for place in found.chosen])),
        changes=changes,
        covered=len(union(holds[place] for place in found.chosen)),
        of=len(union(holds)),
        listed=len(book.entries),
        bound=found.bound,
        shares=_shares(holds, order, time_limit_s) if show_shares else None,
        beside=tuple(
            (name, len(union(kinds[place] for place in found.chosen)), len(union(kinds)))
            for name, kinds in features.items()
            if union(kinds)
        ),
    )


def _shares(holds: Sequence[Held], order: Sequence[int], time_limit_s: float) -> Shares:
    """Count what the first, the easiest, a quick choice and the best choice of n hold."""
    of, chosen = len(union(holds)), greedy(holds)
    n_most = min(len(holds), MOST_SHOWN)
    as_listed = sorted(range(len(order)), key=lambda place: order[place])
    best = [best_of(holds, n, time_limit_s / n_most) for n in range(1, min(len(chosen), n_most) + 1)]
    return Shares(
        first=_counts(as_listed[:n_most], holds, of),
        easiest=_counts(range(n_most), holds, of),
        greedy=_counts(chosen[:n_most], holds, of),
        best=tuple(each.held for each in best),
        proven=tuple(each.optimal for each in best),
    )


def _counts(places: Sequence[int], holds: Sequence[Held], of: int) -> tuple[int, ...]:
    """Count what is held after each."""
    return tuple(round(share * of) for share in shares(places, holds))
