"""Generate exercises by their properties: options in, texts out, or why there are none.

What is asked of generated exercises, as it is typed, and how it is read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.acts.documents import json_of
from evenhand.errors import BadExercise, WrongOptions
from evenhand.music.equivalence import UpTo
from evenhand.music.exercise import Hand, Meter, Tempo
from evenhand.music.text import parse_exercise
from evenhand.music.writing.demands import Batch, Demands, demands_of
from evenhand.music.writing.difficulty import rows_of
from evenhand.music.writing.generation import (
    Accents,
    Stickings,
    conflict_in,
    generate,
    hands_and_accents,
    texts,
)
from evenhand.music.writing.properties import Ends, Span, StickingQuery, asked
from evenhand.report.words.exercises import explain, why_none
from evenhand.report.words.figures import count

Sort = Literal["written", "easy", "random"]

USUAL_TEMPO = "1/4=90"
ALL_PERCENT = 100
_SPAN = re.compile(r"\s*(\d{1,4})\s*(?:(\+)|-\s*(\d{1,4}))?\s*%?\s*", re.ASCII)
_NUMBERS = re.compile(r"\s*\d{1,4}\s*(?:,\s*\d{1,4}\s*)*", re.ASCII)


@dataclass(frozen=True, slots=True)
class Options:
    """What is asked for, as it was typed; ``StickingQuery`` says what the properties mean.

    ``pairs``, ``rights`` and ``weak_share`` (percent) are spans: 4, 2-4 or 3+. ``accent_on`` are notes from
    1, commas between. ``pick`` takes so many at random, and ``sort`` "random" shuffles, both by ``seed``;
    ``limit`` lists so many.
    """

    length: int
    value: str = "1/16"
    meter: str | None = None
    longest_run: int | None = None
    around: bool = False
    balanced: bool = False
    lead: Hand | None = None
    ends: Ends | None = None
    mirrored: bool = False
    pairs: str | None = None
    rights: str | None = None
    weak_share: str | None = None
    weak_hand: Hand = "L"
    accents: int | None = None
    accent_on: str | None = None
    up_to: UpTo = "none"
    sort: Sort = "written"
    tempo: str = USUAL_TEMPO
    limit: int | None = None
    pick: int | None = None
    seed: int = 0


def wanted_of(options: Options) -> StickingQuery:
    """Read the properties."""
    share = _span(options.weak_share, "a share of the weak hand")
    if share is not None and max(share.low, share.high or 0) > ALL_PERCENT:
        raise WrongOptions(got=f"a share of {options.weak_share} %", must_be=f"0 to {ALL_PERCENT} %")
    return StickingQuery(
        options.length,
        longest_run=options.longest_run,
        around=options.around,
        balanced=options.balanced,
        lead=options.lead,
        ends=options.ends,
        mirrored_halves=options.mirrored,
        pairs=_span(options.pairs, "a number of pairs"),
        rights=_span(options.rights, "a number of rights"),
        weak_percent=share,
        weak_hand=options.weak_hand,
    )


def accents_of(options: Options) -> Accents | None:
    """Read where accents go, if anywhere."""
    if options.accents is not None and options.accent_on is not None:
        raise WrongOptions(got="both a number of accents and their places", must_be="one of the two")
    if options.accent_on is None:
        return None if options.accents is None else Accents(options.accents)
    if not _NUMBERS.fullmatch(options.accent_on):
        raise WrongOptions(
            got=f"accents on {options.accent_on!r}", must_be="notes from 1, commas between, such as 1,5"
        )
    return Accents(places=tuple(int(number) - 1 for number in options.accent_on.split(",")))


def value_of(text: str) -> Fraction:
    """Read a note value, such as ``1/16``.

    >>> value_of("1/12")
    Fraction(1, 12)
    """
    try:
        return parse_exercise(f"{text.strip().removesuffix(':')}: R").notes[0].value
    except BadExercise as error:
        must_be = "a note value in lowest terms, such as 1/16, from 1/192 to 2/1"
        raise WrongOptions(got=f"the value {text!r}", must_be=must_be) from error


def meter_of(text: str | None) -> Meter | None:
    """Read a meter, such as ``4/4``.

    >>> str(meter_of("6/8"))
    '6/8'
    """
    if text is None:
        return None
    try:
        return parse_exercise(f"{text.strip()} 1/8: R").meter
    except BadExercise as error:
        raise WrongOptions(got=f"the meter {text!r}", must_be="a meter, such as 4/4 or 6/8") from error


def in_words(options: Options, wanted: StickingQuery) -> str:
    """Say what was asked for."""
    parts = [count(wanted.length, "note")]
    parts += [each.words for each in asked(wanted)]
    if options.accents is not None:
        parts.append(count(options.accents, "accent"))
    if options.accent_on is not None:
        parts.append(f"accents on {options.accent_on}")
    same = {
        "swap": "with the hands swapped",
        "rotation": "from another note on",
        "rotation-reversal": "from another note on, or backwards",
        "rotation-swap": "from another note on, or with the hands swapped",
    }.get(options.up_to)
    order = f"; easy to hard at {Tempo.parse(options.tempo)}" if options.sort == "easy" else ""
    return ", ".join(parts) + (f"; left out: the same {same}" if same else "") + order


def _span(text: str | None, what: str) -> Span | None:
    """Read ``4``, ``2-4`` or ``3+``."""
    if text is None:
        return None
    found = _SPAN.fullmatch(text)
    if found is None or (found[3] and int(found[3]) < int(found[1])):
        raise WrongOptions(got=f"{what} of {text!r}", must_be="a number, such as 4, 2-4 or 3+")
    low = int(found[1])
    return Span(low, None if found[2] else int(found[3] or low))


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
        return json_of(written)

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
        conflict = conflict_in(wanted)
        return Generated(0, (), words, why=None if conflict is None else why_none(conflict))
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
