"""How high each stem ends, and which beams lie under one another, on a staff of one line.

Conventions: the engraver's units (a staff space is 180), y from the staff line, downwards: going up is
negative. On one line there is no reason for a stem to be longer than its neighbour's: all stems go up and all
beams of an exercise lie level, so that the eye reads the rhythm. They are raised where grace notes stand
under them, or slashes need the room.

The signs' outlines come scaled and turned the page's way, as relative SVG path data: font units are 1/1000 em
with y upwards; page units are px-like with y downwards. An outline placed at a point is ``M x y`` and the
relative data behind it, so that many glyphs share one path element and no ids are needed.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property, lru_cache
from pathlib import Path

from evenhand.music.engraving.notation import (
    Beam,
    Group,
    beam_parts,
    flags_of,
    groups_of,
    has_head,
    shape_at,
    spans_of,
    struck_in,
)
from evenhand.music.exercise import Exercise


@dataclass(frozen=True, slots=True)
class Glyph:
    """A sign's box and outline, font units, y upwards."""

    left: float
    bottom: float
    width: float
    height: float
    outline: str


@cache
def _signs() -> dict[str, Glyph]:
    """Read the signs by their code, as ``scripts/cut_signs.py`` cut them."""
    with Path(__file__).with_name("signs.json").open(encoding="utf-8") as file:
        return {code: Glyph(*sign) for code, sign in json.load(file).items()}


def sign_of(code: str) -> Glyph:
    """Return the sign of a code in the Standard Music Font Layout."""
    return _signs()[code]


_COMMANDS = re.compile(r"([Mchlsvz])([^A-Za-z]*)")
_NUMBERS = re.compile(r"-?\d*\.?\d+")


def number(value: float) -> str:
    """Write a coordinate with two decimals at most.

    >>> number(12.0), number(-0.001), number(3.14159)
    ('12', '0', '3.14')
    """
    short = f"{value:.2f}"
    if short[-1] == "0":
        short = short[:-1] if short[-2] != "0" else short[:-3]
    return "0" if short == "-0" else short


def escaped(text: str) -> str:
    """Make words safe to stand in SVG, between tags and in quotes.

    >>> escaped('<"R&L">')
    '&lt;&quot;R&amp;L&quot;&gt;'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")


def placed(code: str, x: float, y: float, scale: float) -> str:
    """Return a glyph's outline with its origin at x, y; ``scale`` is px a font unit."""
    return f"M{number(x)} {number(y)}{_scaled(code, round(scale, 6))}"


def middle(code: str) -> float:
    """Return where a glyph's middle lies right of its origin, font units."""
    sign = sign_of(code)
    return sign.left + sign.width / 2


def bottom_and_top(code: str) -> tuple[float, float]:
    """Return how far a glyph reaches above its origin: lowest and highest, font units."""
    sign = sign_of(code)
    return sign.bottom, sign.bottom + sign.height


@lru_cache(maxsize=512)
def _scaled(code: str, scale: float) -> str:
    """Make an outline relative to its origin, px, y downwards.

    The font's outlines begin each contour with an absolute M; all else is relative.
    """
    parts: list[str] = []
    x = y = start_x = start_y = 0.0
    for command, values in _commands(sign_of(code).outline):
        step = values
        if command == "M":
            step = [values[0] - x, values[1] - y]
            start_x, start_y = values
        if command == "z":
            x, y = start_x, start_y
        else:
            x += 0.0 if command == "v" else step[-1 if command == "h" else -2]
            y += 0.0 if command == "h" else step[-1]
        parts.append(command.lower() + " ".join(number(value) for value in _page(command, step, scale)))
    return "".join(parts)


def _commands(outline: str) -> list[tuple[str, list[float]]]:
    """Split path data into commands with their numbers."""
    return [
        (command, [float(value) for value in _NUMBERS.findall(values)])
        for command, values in _COMMANDS.findall(outline)
    ]


def _page(command: str, step: list[float], scale: float) -> list[float]:
    """Scale a step and turn it over."""
    if command == "h":
        return [step[0] * scale]
    if command == "v":
        return [-step[0] * scale]
    return [value * (-scale if index % 2 else scale) for index, value in enumerate(step)]


MUSIC_SIZE, GRACE_SIZE = 0.72, 0.54  # engraver's units a font unit
HEAD_HEIGHT_UNITS = 90.0  # half of it
STEM_UNITS, FLAGGED_STEM_UNITS = 480.0, 510.0
LOWEST_BEAM_UNITS = 450.0  # the upper edge of the beam nearest to the heads
BEAM_UNITS, BEAM_PITCH_UNITS = 90.0, 135.0
LONGEST_SINGLE_UNITS = 600.0  # a stem without a beam is not made longer
GRACE_BEAMS_TOP_UNITS, GRACE_STEM_UNITS = 405.0, 382.0
GRACE_GAP_UNITS = 45.0  # between a grace note's top and a beam over it
ON_STEM_GAP_UNITS = 40.0  # between slashes, and the head and beams around them
ACCENT, STRONG, ACCENT_GAP_UNITS = "E4A0", "E4AC", 67.0  # between an accent and a beam or stem
SLASHES = {1: "E220", 2: "E221", 3: "E222", 4: "E223", 5: "E224"}
BUZZ = "E22A"  # the z of a buzz roll


def on_stem(exercise: Exercise, position: int, slashes: Mapping[int, int]) -> str | None:
    """Return the glyph on a note's stem: its slashes, or the z of a buzz."""
    if slashes.get(position, 0) > 0:
        return SLASHES[min(slashes[position], 5)]
    return BUZZ if exercise.notes[position].buzz else None


@dataclass(frozen=True)
class Stems:
    """The stems of pieces, with ``slashes`` on some; no beam crosses one of the ``cuts``."""

    exercise: Exercise
    cuts: tuple[int, ...] = ()
    slashes: Mapping[int, int] = field(default_factory=dict)

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """The tuplets, and what lies between them."""
        return groups_of(self.exercise, self.cuts)

    @cached_property
    def spans(self) -> tuple[tuple[int, int], ...]:
        """The first and last note of each beamed stretch."""
        return spans_of(self.exercise, self.cuts)

    @cached_property
    def beams(self) -> tuple[Beam, ...]:
        """All beams, one under another."""
        return tuple(beam for span in self.spans for beam in beam_parts(self.exercise, *span))

    @cached_property
    def ends(self) -> dict[int, float]:
        """Where each note's stem ends, by position; beamed ones on the upper edge of the outermost beam."""
        own = {
            at: -FLAGGED_STEM_UNITS if flags_of(self.exercise, at) else -STEM_UNITS for at in self._stemmed
        }
        beamed: dict[int, float] = {}
        for first, last in self.spans:
            most = max(flags_of(self.exercise, at) for at in struck_in(self.exercise, first, last))
            top = -LOWEST_BEAM_UNITS - BEAM_PITCH_UNITS * (most - 1)
            beamed |= dict.fromkeys(struck_in(self.exercise, first, last), top)
        own |= beamed
        if not own:
            return {}
        highest = min(end - max(self._lift(at, end), 0.0) for at, end in own.items())
        single = max(highest, -LONGEST_SINGLE_UNITS)
        return {at: highest if at in beamed else min(end, single) for at, end in own.items()}

    def free_top(self, position: int, end: float) -> float:
        """Return where a stem that ends there is free of beams."""
        beams = flags_of(self.exercise, position) if self.is_beamed(position) else 0
        return end + BEAM_PITCH_UNITS * (beams - 1) + BEAM_UNITS if beams else end

    def top_over(self, position: int) -> float:
        """Return the upper edge of all that belongs to a note."""
        end = self.ends.get(position, -HEAD_HEIGHT_UNITS)
        note = self.exercise.notes[position]
        accent = ACCENT_GAP_UNITS + bottom_and_top(STRONG if note.strong else ACCENT)[1] * MUSIC_SIZE
        return end - (accent if note.accent else 0.0)

    def is_beamed(self, position: int) -> bool:
        """Tell whether a note hangs on a beam."""
        return position in self._beamed

    @cached_property
    def _beamed(self) -> frozenset[int]:
        return frozenset(at for span in self.spans for at in struck_in(self.exercise, *span))

    @property
    def _stemmed(self) -> Iterator[int]:
        heads = (at for at, note in enumerate(self.exercise.notes) if has_head(note))
        return (at for at in heads if shape_at(self.exercise, at).base >= 2)

    def _lift(self, position: int, end: float) -> float:
        """Return how much higher a stem must end: off graces beneath its beams, with room for slashes."""
        code = on_stem(self.exercise, position, self.slashes)
        lift = 0.0
        if code is not None:
            low, high = bottom_and_top(code)
            needed = HEAD_HEIGHT_UNITS + 2 * ON_STEM_GAP_UNITS + (high - low) * MUSIC_SIZE
            lift = self.free_top(position, end) + needed
        reaching = [
            beam.level
            for beam in self.beams
            if beam.first < position <= beam.last or (beam.last == position and beam.hook < 0)
        ]
        graces = len(self.exercise.notes[position].graces)
        if not graces or not reaching:
            return lift
        lowest = end + BEAM_PITCH_UNITS * max(reaching) + BEAM_UNITS
        grace_top = GRACE_BEAMS_TOP_UNITS if graces > 1 else GRACE_STEM_UNITS
        return max(lift, lowest + GRACE_GAP_UNITS + grace_top)
