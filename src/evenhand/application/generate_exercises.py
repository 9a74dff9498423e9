"""Generate exercises by their properties: options in, texts out, or why there are none."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from evenhand.application.generating_options import (
    Options,
    accents_of,
    in_words,
    meter_of,
    value_of,
    wanted_of,
)
from evenhand.craft.difficulty import Batch, Demands, demands_of, rows_of
from evenhand.craft.generating import Stickings, generate
from evenhand.craft.impossible import why_none
from evenhand.craft.ranking import explain
from evenhand.craft.spelling import hands_and_accents, texts
from evenhand.domain.exercise import Hand
from evenhand.domain.tempo import Tempo
from evenhand.errors import WrongOptions

MOST_LISTED = 1_000_000
MOST_SORTED = 2_000_000
SORTED_AT_A_TIME = 100_000


@dataclass(frozen=True, slots=True)
class Generated:
    """All that were found (``count``), those listed as text, and in words what was asked for.

    ``ranks`` say why each stands where it stands, where they were sorted. ``why`` says why there are none.
    """

    count: int
    texts: tuple[str, ...]
    asked: str
    ranks: tuple[str, ...] = ()
    why: str | None = None

    @property
    def is_cut(self) -> bool:
        """Tell whether there are more than are listed."""
        return len(self.texts) < self.count

    @property
    def json(self) -> str:
        """The contract's JSON."""
        written: dict[str, object] = {"count": self.count, "exercises": self.texts}
        if self.is_cut:
            written |= {"listed": len(self.texts), "of": self.count}
        if self.ranks:
            written["ranks"] = self.ranks
        if self.why is not None:
            written["why"] = self.why
        return json.dumps(written, ensure_ascii=False, indent=1) + "\n"

    @property
    def book(self) -> str:
        """The text of a book with those listed, what was asked for as their section."""
        return f"# {self.asked}\n" + "".join(f"{text}\n" for text in self.texts)


def generate_exercises(options: Options) -> Generated:
    """Generate exercises by their properties.

    Raises
    ------
    WrongOptions, BadTempo
        Where an option cannot be read, or what is asked is too much to go through.
    """
    wanted, accents = wanted_of(options), accents_of(options)
    value, meter, tempo = value_of(options.value), meter_of(options.meter), Tempo.parse(options.tempo)
    found = generate(wanted, accents, options.up_to)
    words = in_words(options, wanted)
    if not len(found):
        return Generated(0, (), words, why=why_none(wanted))
    listed = _picked(found, options)
    ranks: tuple[str, ...] = ()
    most = slice(0, MOST_LISTED if options.limit is None else min(options.limit, MOST_LISTED))
    if options.sort == "easy":
        listed = listed.at(_easy_to_hard(listed, value, tempo, options.weak_hand)).at(most)
        ranks = _ranks(listed, value, tempo, options.weak_hand)
    return Generated(len(found), tuple(texts(listed.at(most), value, meter)), words, ranks)


def _picked(found: Stickings, options: Options) -> Stickings:
    """Take as many as were asked for at random, in order or shuffled."""
    shuffled = options.sort == "random"
    if not shuffled and (options.pick is None or options.pick >= len(found)):
        return found
    n = len(found) if options.pick is None else min(options.pick, len(found))
    places = np.random.default_rng(options.seed).choice(len(found), n, replace=False)
    return found.at(places if shuffled else np.sort(places))


def _easy_to_hard(stickings: Stickings, value: Fraction, tempo: Tempo, weak_hand: Hand) -> NDArray[np.intp]:
    """Return places in order, easy to hard; those alike stay as they stood."""
    if len(stickings) > MOST_SORTED:
        raise WrongOptions(
            got=f"{len(stickings):,} exercises to sort",
            must_be=f"at most {MOST_SORTED:,}; ask for more properties, or for some at random (--pick)",
        )
    loads = [demands.loads for demands in _demands(stickings, value, tempo, weak_hand)]
    return np.argsort(np.round(np.concatenate(loads), 6), kind="stable")


def _ranks(stickings: Stickings, value: Fraction, tempo: Tempo, weak_hand: Hand) -> tuple[str, ...]:
    """Say of each why it stands where it stands."""
    batches = _demands(stickings, value, tempo, weak_hand)
    return tuple(explain([each for batch in batches for each in rows_of(batch, weak_hand)]))


def _demands(stickings: Stickings, value: Fraction, tempo: Tempo, weak_hand: Hand) -> Iterator[Demands]:
    """Work out what the stickings ask for, so many at a time."""
    note_s = float(value) * tempo.whole_note_s
    for start in range(0, len(stickings), SORTED_AT_A_TIME):
        is_left, accented = hands_and_accents(stickings.at(slice(start, start + SORTED_AT_A_TIME)))
        no_ornaments = np.zeros(len(is_left), dtype=np.int64)
        starts_s = np.arange(stickings.n, dtype=np.float64) * note_s
        yield demands_of(Batch(is_left, accented, no_ornaments, starts_s, stickings.n * note_s), weak_hand)
