"""Which click is on: what sounds in a bar, which bars are silent, how it fades.

One value for all who must agree on it: the file that is written, the stand's page, and the ear that takes the
click out again. Its text is one line, such as ``2-and-4 silent=2:2`` (docs/click.md has the grammar).

Conventions: written time is a ``Fraction`` of a whole note; bars count from 0 after the count-in, and the
count-in is every beat, whatever the pattern.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Literal

from evenhand.errors import WrongOptions

ClickKind = Literal["first", "beat", "between"]
Sounds = Literal["beats", "2-and-4", "offbeats", "bar", "groups"]

EVEN = Fraction(1, 2)
LEAST_SWING, MOST_SWING = (
    EVEN,
    Fraction(4, 5),
)  # 1:1 to 4:1; up to 3.5:1 was measured (Friberg & Sundstrom 2002)
MOST_BETWEEN = 4
MOST_SILENT_IN_A_ROW = 2  # of drawn bars: longer than that it is no longer the pulse that is asked for
FADED_DB = -24.0
MOST_BARS = 9999


@dataclass(frozen=True, slots=True)
class ClickPlace:
    """One click: where it is written, what it marks, and how loud it is beside a usual one."""

    at: Fraction
    kind: ClickKind
    level_db: float = 0.0


@dataclass(frozen=True, slots=True)
class BarBeats:
    """Where a bar's beats are, from its beginning, and where the last one ends; they may be unequal.

    ``skipped`` is the part of the bar that is left out before a pickup.
    """

    places: tuple[Fraction, ...]
    end: Fraction
    skipped: Fraction = Fraction(0)

    @classmethod
    def even(cls, length: Fraction, beat: Fraction) -> BarBeats:
        """Part a bar into equal beats; the last may go beyond its end."""
        count = -(-length // beat)
        return cls(tuple(k * beat for k in range(count)), count * beat)

    @property
    def spans(self) -> Iterator[tuple[Fraction, Fraction]]:
        """Each beat's beginning and end."""
        return pairwise((*self.places, self.end))


@dataclass(frozen=True, slots=True)
class Silence:
    """So many bars with sound, then so many without, and so on."""

    heard: int
    silent: int

    def is_silent(self, bar: int) -> bool:
        """Tell whether a bar is silent."""
        return bar % (self.heard + self.silent) >= self.heard

    def __str__(self) -> str:
        return f"silent={self.heard}:{self.silent}"


@dataclass(frozen=True, slots=True)
class DrawnSilence:
    """A share of the bars is silent, drawn by a seed: never the first bar, never more than two in a row."""

    share: Fraction
    seed: int

    def is_silent(self, bar: int) -> bool:
        """Tell whether a bar is silent."""
        return bar in _drawn(self.share, self.seed, bar // 256 * 256 + 256)

    def __str__(self) -> str:
        return f"drawn={self.share}:{self.seed}"


@lru_cache(maxsize=64)
def _drawn(share: Fraction, seed: int, bars: int) -> frozenset[int]:
    """Draw the silent ones of so many bars."""
    silent: set[int] = set()
    for bar in range(1, bars):
        before = range(bar - MOST_SILENT_IN_A_ROW, bar)
        if _mixed(seed, bar) < share * 2**32 and not silent.issuperset(before):
            silent.add(bar)
    return frozenset(silent)


def _mixed(seed: int, k: int) -> int:
    """Mix a seed and a number to 32 bits, as the stand's page does it."""
    x = (seed + 0x9E3779B9 * k) & 0xFFFFFFFF
    for shift, factor in ((16, 0x7FEB352D), (15, 0x846CA68B)):
        x = ((x ^ x >> shift) * factor) & 0xFFFFFFFF
    return x ^ x >> 16


@dataclass(frozen=True, slots=True)
class Fade:
    """So many bars in full, then softer from bar to bar for so many bars, then nothing."""

    after: int
    over: int

    def level_db(self, bar: int) -> float | None:
        """Return a bar's level; None once the click is gone."""
        faded = max(bar - self.after + 1, 0)
        return None if faded > self.over else FADED_DB * faded / self.over

    def __str__(self) -> str:
        return f"fade={self.after}:{self.over}"


@dataclass(frozen=True, slots=True)
class ClickPattern:
    """What clicks sound, and when.

    ``every`` belongs to ``bar``: the first beat of each, of every second or of every fourth bar. ``groups``
    are accent groups of so many ``group_unit``s: the first of each stands out, the others are softer.
    ``between`` parts each beat by softer clicks; ``swing`` is where the half of a beat falls.
    """

    sounds: Sounds = "beats"
    every: int = 1
    groups: tuple[int, ...] = ()
    group_unit: Fraction = Fraction(1, 8)
    between: int = 1
    swing: Fraction = EVEN
    accent: bool = True
    silence: Silence | DrawnSilence | None = None
    fade: Fade | None = None

    def __post_init__(self) -> None:
        parted = self.sounds == "offbeats" or (self.sounds == "beats" and self.between == 2)
        if self.swing != EVEN and not parted:
            raise _wrong("swing where nothing falls on the half of a beat", "with offbeats or between=2")
        if self.between != 1 and self.sounds != "beats":
            raise _wrong(f"clicks between, on {self.sounds}", "with beats")

    @classmethod
    def parse(cls, text: str) -> ClickPattern:
        """Read a pattern.

        >>> ClickPattern.parse("2-and-4 silent=2:2").silence
        Silence(heard=2, silent=2)
        """
        return _parse(text)

    def __str__(self) -> str:
        words = [self._first_word()]
        words += [f"between={self.between}"] * (self.between != 1) + [f"swing={self.swing}"] * (
            self.swing != EVEN
        )
        words += ["plain"] * (not self.accent) + [str(each) for each in (self.silence, self.fade) if each]
        return " ".join(words)

    def _first_word(self) -> str:
        if self.sounds == "groups":
            return f"{'+'.join(map(str, self.groups))}/{self.group_unit.denominator}"
        return self.sounds if self.every == 1 else f"{self.sounds}/{self.every}"

    def is_silent(self, bar: int) -> bool:
        """Tell whether a bar is one of those that are to be silent."""
        return self.silence is not None and self.silence.is_silent(bar)

    def level_db(self, bar: int) -> float | None:
        """Return how loud a bar's clicks are beside usual ones; None where none sounds."""
        if self.is_silent(bar):
            return None
        return 0.0 if self.fade is None else self.fade.level_db(bar)

    def may_change(self, bars: Fraction) -> bool:
        """Tell whether the tempo may change so many bars after the beginning: only amid sound.

        Whoever comes in again after a silence then finds the tempo that was left.
        """
        around = (-(-bars // 1) - 1, bars // 1)
        return all(self.level_db(bar) is not None for bar in around if bar >= 0)

    def in_bar(
        self, number: int, length: Fraction, beats: BarBeats, *, accented: bool = True
    ) -> Iterator[ClickPlace]:
        """Give a bar's clicks, from the bar's beginning; none lies beyond its end, nor before a pickup."""
        level_db = self.level_db(number)
        if level_db is None or (self.sounds == "bar" and number % self.every):
            return
        for at, kind in self._places(beats):
            if beats.skipped <= at < beats.skipped + length:
                plain = kind == "first" and not (accented and self.accent)
                yield ClickPlace(at - beats.skipped, "beat" if plain else kind, level_db)

    def _places(self, beats: BarBeats) -> Iterator[tuple[Fraction, ClickKind]]:
        """Give what sounds in a bar that is heard."""
        if self.sounds == "groups":
            yield from self._grouped(beats.end)
        elif self.sounds == "bar":
            yield Fraction(0), "first"
        elif self.sounds == "2-and-4":
            yield from ((at, "beat") for at in beats.places[1::2])
        elif self.sounds == "offbeats":
            yield from ((at + self.swing * (end - at), "beat") for at, end in beats.spans)
        else:
            for at, end in beats.spans:
                yield at, "beat" if at else "first"
                yield from ((at + part * (end - at), "between") for part in self._parts())

    def _parts(self) -> tuple[Fraction, ...]:
        """Return where the clicks between two beats are, as shares of a beat."""
        if self.between == 2:
            return (self.swing,)
        return tuple(Fraction(part, self.between) for part in range(1, self.between))

    def _grouped(self, length: Fraction) -> Iterator[tuple[Fraction, ClickKind]]:
        """Give each group's first and what is in it, round and round."""
        firsts = {sum(self.groups[:k]) for k in range(len(self.groups))}
        for k in range(-(-length // self.group_unit)):
            in_round = k % sum(self.groups)
            yield k * self.group_unit, "first" if k == 0 else "beat" if in_round in firsts else "between"

    def places(
        self, bar: Fraction, beat: Fraction, bars: int, *, accented: bool = True
    ) -> Iterator[ClickPlace]:
        """Give all clicks of so many bars, from the beginning of the first bar after the count-in.

        >>> [str(click.at) for click in ClickPattern.parse("bar/2").places(Fraction(1), Fraction(1, 4), 4)]
        ['0', '2']
        """
        beats = BarBeats.even(bar, beat)
        for number in range(bars):
            for place in self.in_bar(number, bar, beats, accented=accented):
                yield ClickPlace(number * bar + place.at, place.kind, place.level_db)

    def check(self, bar: Fraction, beat: Fraction) -> None:
        """Refuse a pattern that does not go with a bar of such a length.

        Raises
        ------
        WrongOptions
            Groups that do not fill the bar; beats 2 and 4 of a bar with one beat.
        """
        if self.sounds == "groups" and bar % (sum(self.groups) * self.group_unit):
            raise _wrong(f"groups {self._first_word()} in a bar of {bar}", "groups that fill the bar")
        if self.sounds == "2-and-4" and bar <= beat:
            raise _wrong("2-and-4 in a bar of one beat", "a bar of two beats or more")


EVERY_BEAT = ClickPattern()


def _wrong(got: str, must_be: str) -> WrongOptions:
    return WrongOptions(got=got, must_be=must_be)


_FIRST: dict[str, ClickPattern] = {
    "beats": EVERY_BEAT,
    "2-and-4": ClickPattern("2-and-4"),
    "offbeats": ClickPattern("offbeats"),
    "bar": ClickPattern("bar"),
    "bar/2": ClickPattern("bar", every=2),
    "bar/4": ClickPattern("bar", every=4),
}
_GROUPS = re.compile(r"([1-9]\d?(?:\+[1-9]\d?){0,15})/(4|8|16|32)", re.ASCII)
_PAIR = re.compile(r"(\d{1,4}):(\d{1,9})", re.ASCII)
_SHARE = re.compile(r"(\d{1,3})/(\d{1,3})(?::(\d{1,9}))?", re.ASCII)


@dataclass(slots=True)
class _Words:
    """The words of a pattern after its first: each may stand once."""

    said: dict[str, str] = field(default_factory=dict)

    def add(self, word: str) -> None:
        key, _, value = word.partition("=")
        if key in self.said or key not in {"between", "swing", "plain", "silent", "drawn", "fade"}:
            raise _wrong(f"click pattern {word!r}", "between, swing, plain, silent, drawn or fade, each once")
        self.said[key] = value


def _parse(text: str) -> ClickPattern:
    """Read a pattern's line."""
    first, *others = text.split() or ["beats"]
    if first not in _FIRST and _GROUPS.fullmatch(first) is None and ("=" in first or first == "plain"):
        first, others = "beats", [first, *others]
    words = _Words()
    for word in others:
        words.add(word)
    base, said = _base(first), words.said
    if "silent" in said and "drawn" in said:
        raise _wrong("silent and drawn", "one of them")
    return ClickPattern(
        base.sounds,
        base.every,
        base.groups,
        base.group_unit,
        between=_between(said.get("between", "1")),
        swing=_swing(said.get("swing", "1/2")),
        accent="plain" not in said,
        silence=_silence(said),
        fade=Fade(*_two(said["fade"], "fade", 0)) if "fade" in said else None,
    )


def _base(word: str) -> ClickPattern:
    """Read the first word: what sounds."""
    found = _GROUPS.fullmatch(word)
    if found is not None:
        groups = tuple(int(size) for size in found[1].split("+"))
        return ClickPattern("groups", groups=groups, group_unit=Fraction(1, int(found[2])))
    if word not in _FIRST:
        raise _wrong(f"click pattern {word!r}", f"{', '.join(_FIRST)}, or groups such as 3+3+2/8")
    return _FIRST[word]


def _between(text: str) -> int:
    if text not in {str(parts) for parts in range(1, MOST_BETWEEN + 1)}:
        raise _wrong(f"between={text}", f"1 to {MOST_BETWEEN} parts of a beat")
    return int(text)


def _swing(text: str) -> Fraction:
    found = _SHARE.fullmatch(text)
    swing = Fraction(int(found[1]), int(found[2])) if found and not found[3] and int(found[2]) else None
    if swing is None or not LEAST_SWING <= swing <= MOST_SWING:
        raise _wrong(f"swing={text}", f"a share of the beat from {LEAST_SWING} to {MOST_SWING}, such as 2/3")
    return swing


def _silence(said: dict[str, str]) -> Silence | DrawnSilence | None:
    if "silent" in said:
        return Silence(*_two(said["silent"], "silence", 1))
    if "drawn" not in said:
        return None
    found = _SHARE.fullmatch(said["drawn"])
    share = Fraction(int(found[1]), int(found[2])) if found and found[3] and int(found[2]) else None
    if found is None or share is None or not 0 < share <= EVEN:
        raise _wrong(f"drawn={said['drawn']}", "a share of the bars up to 1/2 and a seed, such as 1/4:7")
    return DrawnSilence(share, int(found[3]))


def _two(text: str, what: str, least: int) -> tuple[int, int]:
    """Read two numbers of bars."""
    found = _PAIR.fullmatch(text)
    if found is not None and least <= int(found[1]) and 1 <= int(found[2]) <= MOST_BARS:
        return int(found[1]), int(found[2])
    must_be = "bars heard and bars silent, 1 or more of each, such as 2:2"
    raise _wrong(f"{what} {text!r}", must_be if least else "bars in full and bars that fade, such as 4:8")
