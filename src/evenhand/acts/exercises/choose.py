"""Choose exercises for a student: what loads what the last takes showed to be weak."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evenhand.acts.documents import json_of
from evenhand.acts.takes.findings import HeardTakes
from evenhand.measuring.values import Finding
from evenhand.music.book import Book, Entry, print_book
from evenhand.music.exercise import Hand, Tempo
from evenhand.music.text import print_exercise
from evenhand.music.writing.difficulty import difficulties, easy_to_hard
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
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.remarks import all_remarks, weakness_words
from evenhand.take import Remark


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
