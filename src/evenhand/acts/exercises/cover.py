"""Choose the fewest exercises of a list that hold all its hand changes, and show how far a few of them go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evenhand.acts.documents import json_of
from evenhand.errors import WrongOptions
from evenhand.music.book import Book, Entry, print_book
from evenhand.music.exercise import Hand, Tempo
from evenhand.music.text import print_exercise
from evenhand.music.writing.covering import TIME_LIMIT_S, Held, best_of, cover, greedy, shares, union
from evenhand.music.writing.difficulty import difficulties, easy_to_hard, hand_changes
from evenhand.report.words.exercises import explain

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
    hold. No choice of fewer than ``bound`` would do.
    """

    chosen: tuple[Entry, ...]
    ranks: tuple[str, ...]
    changes: int
    covered: int
    of: int
    listed: int
    bound: int
    shares: Shares | None = None

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
) -> Covered:
    """Choose the fewest exercises that hold all hand changes of so many notes that the list holds.

    Raises
    ------
    WrongOptions
        Where ``changes`` or the time cannot be.
    """
    if not time_limit_s > 0:
        raise WrongOptions(got=f"{time_limit_s:g} s to choose in", must_be="a time above 0")
    asks = difficulties([entry.exercise for entry in book.entries], tempo, weak_hand)
    order = easy_to_hard(asks)
    holds = [frozenset(hand_changes(book.entries[place].exercise, changes)) for place in order]
    found = cover(holds, time_limit_s)
    return Covered(
        chosen=tuple(book.entries[order[place]] for place in found.chosen),
        ranks=tuple(explain([asks[order[place]] for place in found.chosen])),
        changes=changes,
        covered=len(union(holds[place] for place in found.chosen)),
        of=len(union(holds)),
        listed=len(book.entries),
        bound=found.bound,
        shares=_shares(holds, order, time_limit_s) if show_shares else None,
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
