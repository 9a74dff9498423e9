"""What is asked of generated exercises, as it is typed, and how it is read."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from evenhand.craft.generating import Accents
from evenhand.craft.necklaces import UpTo
from evenhand.craft.properties import Ends, Span, Wanted, asked
from evenhand.craft.text import parse_exercise
from evenhand.domain.exercise import Hand, Meter
from evenhand.domain.tempo import Tempo
from evenhand.errors import BadExercise, WrongOptions

Sort = Literal["written", "easy", "random"]

USUAL_TEMPO = "1/4=90"
ALL_PERCENT = 100
_SPAN = re.compile(r"\s*(\d{1,4})\s*(?:(\+)|-\s*(\d{1,4}))?\s*%?\s*", re.ASCII)
_NUMBERS = re.compile(r"\s*\d{1,4}\s*(?:,\s*\d{1,4}\s*)*", re.ASCII)


@dataclass(frozen=True, slots=True)
class Options:
    """What is asked for, as it was typed; ``craft.properties.Wanted`` says what the properties mean.

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


def wanted_of(options: Options) -> Wanted:
    """Read the properties."""
    share = _span(options.weak_share, "a share of the weak hand")
    if share is not None and max(share.low, share.high or 0) > ALL_PERCENT:
        raise WrongOptions(got=f"a share of {options.weak_share} %", must_be=f"0 to {ALL_PERCENT} %")
    return Wanted(
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


def in_words(options: Options, wanted: Wanted) -> str:
    """Say what was asked for."""
    parts = ["1 note" if wanted.length == 1 else f"{wanted.length} notes"]
    parts += [each.words for each in asked(wanted)]
    if options.accents is not None:
        parts.append("1 accent" if options.accents == 1 else f"{options.accents} accents")
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
