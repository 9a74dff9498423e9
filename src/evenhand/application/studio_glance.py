"""A heard take at a glance: the one or two things found, and its picture in small.

Conventions: what was heard comes as the JSON of docs/json.md. A take that was heard blind, or whose
JSON is another's, has no picture and no findings: that is None, not an error.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Any, Protocol

from evenhand.application.finding_json import finding_of
from evenhand.application.studio_kept import Kept
from evenhand.craft.text import parse_exercise
from evenhand.domain.audible import audible_ms
from evenhand.domain.exercise import Hand
from evenhand.domain.studio import StudioTake
from evenhand.pages.small_folded import (
    MOST_COLUMNS,
    MOST_ROWS,
    SmallHit,
    SmallRow,
    SmallTake,
    small_folded,
)
from evenhand.pages.words_findings import finding_sentences

Json = Mapping[str, Any]

MOST_FINDINGS = 2
KEPT = 512  # glances kept: a studio's newest takes, some 10 kB each
LEAST_RANGE_DB = 10.0  # an even take's sticks shall not look uneven
CENTRED_FROM = (
    1.5  # so many times what an ear can tell: a whole take off the clock is drawn around its middle
)
_NOTHING_FOUND = frozenset({"even", "cannot_tell"})


@dataclass(frozen=True, slots=True)
class Glance:
    """What is seen at a glance. ``found`` tells whether there is something to work at; ``picture`` is SVG."""

    findings: tuple[str, ...]
    found: bool
    picture: str


class FindsTakes(Protocol):
    """The part of a studio that gives a take whole."""

    def take(self, id: str) -> StudioTake | None:  # noqa: A002 - the studio's word
        """Find a take, with what was heard."""
        ...


class Glances:
    """The glances at a studio's newest takes, kept, so that the desk need not read them each time.

    A take that was corrected by hand is read anew each time; any other is heard the same from the same
    recording, so long as the same is asked of it.
    """

    def __init__(self, most: int = KEPT) -> None:
        self._kept: Kept[Glance | None] = Kept(most)

    def at(self, studio: FindsTakes, take: StudioTake) -> Glance | None:
        """Glance at a heard take; None where what was heard cannot be read."""
        if take.corrected:
            return _read(studio, take)
        key = (take.id, take.exercise, take.tempo, take.click, take.latency_ms)
        return self._kept.get(key, lambda: _read(studio, take))


def _read(studio: FindsTakes, take: StudioTake) -> Glance | None:
    whole = studio.take(take.id)
    return glance_at(whole.heard) if whole and whole.heard else None


def glance_at(heard: str) -> Glance | None:
    """Glance at what was heard; None where it cannot be read."""
    try:
        found = json.loads(heard)
        small = small_take(found)
        return Glance(_findings(found), _is_found(found), small_folded(small) if small else "")
    except (ValueError, KeyError, TypeError, AttributeError):
        return None


def _findings(found: Json) -> tuple[str, ...]:
    """Choose what is said, in the report's own order: what was found; where nothing was, what there is."""
    findings = found["findings"]
    if _is_found(found):
        findings = [each for each in findings if each["kind"] not in _NOTHING_FOUND]
    else:
        findings = sorted(findings, key=lambda each: each["kind"] == "cannot_tell")
    exercise = None if found["exercise"] is None else parse_exercise(found["exercise"])
    return tuple(finding_sentences(finding_of(each), exercise)[0] for each in findings[:MOST_FINDINGS])


def _is_found(found: Json) -> bool:
    return any(each["kind"] not in _NOTHING_FOUND for each in found["findings"])


def small_take(found: Json) -> SmallTake | None:
    """Take from the JSON what the small picture draws; None where no hand is known."""
    hits = [hit for hit in found["hits"] if hit["repetition"] is not None and not hit["grace"]]
    columns = sorted({hit["position"] for hit in hits})[:MOST_COLUMNS]
    if len(hits) < 2 or not columns:
        return None
    place = {position: column for column, position in enumerate(columns)}
    hands: dict[int, Hand] = {hit["position"]: hit["hand"] for hit in hits}
    rows = sorted({hit["repetition"] for hit in hits})[-MOST_ROWS:]
    audible = audible_ms(_interval_ms(hits))
    lates = {id(hit): _late_ms(hit, found["clock"]) for hit in hits}
    centre = _centre([late for late in lates.values() if late is not None], audible)
    strength = _strengths([hit["level_db"] for hit in hits])
    drawn: dict[int, list[SmallHit]] = {row: [] for row in rows}
    for hit in hits:
        if hit["repetition"] in drawn and hit["position"] in place:
            late = lates[id(hit)]
            loud = strength(hit["level_db"])
            drawn[hit["repetition"]].append(
                SmallHit(place[hit["position"]], 0.0 if late is None else late - centre, loud)
            )
    missed = _missed(found, place)
    return SmallTake(
        tuple(hands[position] for position in columns),
        tuple(SmallRow(tuple(drawn[row]), tuple(missed.get(row, ()))) for row in rows),
        audible,
    )


def _late_ms(hit: Json, clock: str) -> float | None:
    value = hit["asynchrony_ms"] if clock == "click" else hit["deviation_ms"]
    return None if value is None else float(value)


def _interval_ms(hits: Sequence[Json]) -> float:
    """Return the typical time between neighbouring hits of one repetition."""
    steps = [
        (b["time_s"] - a["time_s"]) * 1000 for a, b in pairwise(hits) if a["repetition"] == b["repetition"]
    ]
    return median(steps) if steps else 0.0


def _centre(lates: Sequence[float], audible: float) -> float:
    """Return the take's middle where all of it lies off the clock, else nought."""
    middle = median(lates) if lates else 0.0
    return middle if abs(middle) > CENTRED_FROM * audible else 0.0


def _strengths(levels_db: Sequence[float]) -> Any:  # noqa: ANN401 - a function of a level
    """Return how loud a level is drawn, 0 to 1, on the take's own range."""
    ranked = sorted(levels_db)
    low, high = ranked[int(0.03 * len(ranked))], ranked[int(0.97 * (len(ranked) - 1))]
    spare = max(0.0, LEAST_RANGE_DB - (high - low)) / 2
    low, high = low - spare, high + spare
    return lambda level_db: min(1.0, max(0.0, (level_db - low) / (high - low)))


def _missed(found: Json, place: Mapping[int, int]) -> dict[int, list[int]]:
    missed: dict[int, list[int]] = {}
    for note in found["missed"]:
        if not note["grace"] and note["position"] in place:
            missed.setdefault(note["repetition"], []).append(place[note["position"]])
    return missed
