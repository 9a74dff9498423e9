"""Choose exercises for a student: what loads what the last takes showed to be weak."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evenhand.acts.documents import json_of
from evenhand.acts.takes.findings import HeardTakes
from evenhand.measuring.values import Finding
from evenhand.music.book import Book, Entry, print_book
from evenhand.music.exercise import HAND_NAMES, Exercise, Hand, Tempo
from evenhand.music.text import print_exercise
from evenhand.music.writing.difficulty import difficulties, easy_to_hard
from evenhand.planning.choosing import (
    Weakness,
    Weaknesses,
    choose,
    choose_by_coverage,
    new_hand_changes,
    unloaded,
    weaknesses,
)
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.remarks import all_remarks, weakness_words

NOTHING_STANDS_OUT = "Nothing audible stands out; chosen by coverage."


@dataclass(frozen=True, slots=True)
class ChosenExercise:
    """One exercise of the book, and why it was chosen."""

    entry: Entry
    reason: str


@dataclass(frozen=True, slots=True)
class ChosenSet:
    """The chosen, easy to hard; the weaknesses they load, if any; and what else is to be said."""

    chosen: tuple[ChosenExercise, ...]
    weak: tuple[Weakness, ...]
    notes: tuple[str, ...]
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
            "notes": self.notes,
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
    reasons = {
        each.place: "; ".join(all_remarks(each.reasons)) for each in choose(exercises, shown.found, count)
    }
    notes = _notes(heard, shown, unloaded(exercises, shown.found))
    if not reasons:
        places = choose_by_coverage(exercises, count)
        new = new_hand_changes([exercises[place] for place in places])
        reasons = {place: _by_coverage(n) for place, n in zip(places, new, strict=True)}
        why = "No exercise of the book works on what was weak; chosen by coverage."
        notes = (why if shown.found else NOTHING_STANDS_OUT, *notes)
    elif len(reasons) < count:
        notes = (*notes, f"Only {len(reasons)} exercises of the book work on what was weak.")
    chosen = tuple(ChosenExercise(order[place], reasons[place]) for place in sorted(reasons))
    return ChosenSet(chosen, shown.found, notes, len(heard.takes))


def _by_coverage(n_new: int) -> str:
    """Say what an exercise adds to those before it."""
    if not n_new:
        return "its hand changes of four notes are all in those before"
    return f"{n_new} hand {'change' if n_new == 1 else 'changes'} of four notes that those before don't have"


def _notes(heard: HeardTakes, shown: Weaknesses, missing: Sequence[Weakness]) -> tuple[str, ...]:
    """Say what was left out, and what no sticking mends."""
    return (
        *(f"{name} was heard without an exercise: nothing is known of its hands." for name in heard.blind),
        *(f"{name}: which hand is which can't be told; it was left out." for name in shown.untold),
        *(f"In {take.name}: {_said(finding, take.exercise)}" for take, finding in shown.beside),
        *(f"The book has nothing for {_named(each)} more than the rest." for each in missing),
    )


def _said(finding: Finding, exercise: Exercise) -> str:
    return f"{finding_words(finding, exercise)} {remedy_words(finding, exercise)}".rstrip()


def _named(weakness: Weakness) -> str:
    """Name a need."""
    hand = HAND_NAMES[weakness.need.hand]
    return {
        "hand": f"the {hand} hand",
        "second_notes": f"the {hand} hand's doubles",
        "hand_change": f"the hand change {weakness.need.change}",
        "heights": f"the {hand} hand's accents",
        "graces": f"flams or drags to the {hand} hand",
    }[weakness.need.kind]
