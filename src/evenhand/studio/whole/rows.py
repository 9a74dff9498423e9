"""What a studio's table has in a row: a hit, a take, or a week of a student. docs/table.md says each column.

Conventions: a cell that is not there (nothing heard, too few to judge) is None. Ids are the studio's own and
stay; a name stands beside its id only where it is asked for. Moments are in UTC, days and weeks (by their
Monday) on the teacher's own clock. A measure of a take is four columns: its value, of how many (``_n``), and
its 95 % range (``_low``, ``_high``). A week has the median of its takes' values, of how many takes
(``_takes``), and the least and the most of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import Literal

from evenhand.acts.takes.document import heard_take_of, measures_with_places
from evenhand.acts.takes.figures import MEASURES, Row, column_name, figures_of
from evenhand.errors import BadDocument
from evenhand.measuring.values import HeardTake
from evenhand.planning.load import monday_of, week_of
from evenhand.studio.stand.day import seconds_of
from evenhand.studio.values import StudioTake, Week
from evenhand.take import ExtraHit, Hit

RowsOf = Literal["hits", "takes", "weeks"]
Holds = Literal["text", "number", "count", "yes", "moment", "day"]
TakeAsRead = tuple[StudioTake, HeardTake | None]

MEDIAN_DIGITS = 4


@dataclass(frozen=True, slots=True)
class TableColumn:
    """One column: its name, what its cells hold, and the unit of numbers; "" where they have none."""

    name: str
    holds: Holds = "text"
    unit: str = ""


OF_A_WEEK = (
    "balance.level_db",
    "balance.timing_ms",
    *(f"hands.{hand}.{which}" for which in ("timing_sd_ms", "level_sd_db") for hand in ("R", "L")),
)


def _of_measure(place: str, count: str, *ends: str) -> Iterator[TableColumn]:
    name, unit = column_name(place), MEASURES[place]
    yield TableColumn(name, "number", unit)
    yield TableColumn(name + count, "count")
    yield from (TableColumn(name + end, "number", unit) for end in ends)


_WHO = (TableColumn("student_id"), TableColumn("student"))
_TAKE = (*_WHO, TableColumn("take_id"), TableColumn("recorded_at", "moment"))
COLUMNS: Mapping[RowsOf, tuple[TableColumn, ...]] = {
    "hits": (
        *_TAKE,
        TableColumn("number", "count"),
        TableColumn("time_s", "number", "s"),
        TableColumn("time_se_ms", "number", "ms"),
        TableColumn("level_db", "number", "dB"),
        TableColumn("confidence", "number"),
        TableColumn("hand"),
        TableColumn("repetition", "count"),
        TableColumn("position", "count"),
        TableColumn("grace", "yes"),
        TableColumn("written", "number", "whole notes"),
        TableColumn("stretch", "count"),
        TableColumn("asynchrony_ms", "number", "ms"),
        TableColumn("deviation_ms", "number", "ms"),
        TableColumn("extra"),
    ),
    "takes": (
        *_TAKE,
        TableColumn("received_at", "moment"),
        TableColumn("day", "day"),
        TableColumn("exercise"),
        TableColumn("tempo"),
        TableColumn("asked_bpm", "number", "bpm"),
        TableColumn("stroke"),
        TableColumn("click"),
        TableColumn("source"),
        TableColumn("status"),
        TableColumn("corrected", "yes"),
        TableColumn("latency_ms", "number", "ms"),
        TableColumn("seconds", "number", "s"),
        TableColumn("ear", "count"),
        TableColumn("clock"),
        TableColumn("clear", "yes"),
        TableColumn("hits", "count"),
        TableColumn("missed", "count"),
        TableColumn("hidden", "count"),
        TableColumn("extra", "count"),
        TableColumn("findings"),
        *(column for place in MEASURES for column in _of_measure(place, "_n", "_low", "_high")),
    ),
    "weeks": (
        *_WHO,
        TableColumn("week", "day"),
        TableColumn("stage"),
        TableColumn("assigned", "yes"),
        TableColumn("takes", "count"),
        TableColumn("heard", "count"),
        TableColumn("days", "count"),
        TableColumn("recorded_s", "number", "s"),
        TableColumn("exercises", "count"),
        TableColumn("hits_R", "count"),
        TableColumn("hits_L", "count"),
        TableColumn("missed", "count"),
        *(column for place in OF_A_WEEK for column in _of_measure(place, "_takes", "_least", "_most")),
    ),
}


def as_read(take: StudioTake) -> TakeAsRead:
    """Read what was heard of a take: None where nothing was, or where what is stored cannot be read."""
    try:
        return take, heard_take_of(take.heard) if take.status == "heard" and take.heard else None
    except BadDocument:
        return take, None


def hit_rows(take: StudioTake, read: HeardTake | None) -> Iterator[Row]:
    """Give every hit of a take in order of time, also those that no written note accounts for."""
    if read is None:
        return
    same = _of_take(take)
    blows: list[Hit | ExtraHit] = [*read.heard.hits, *read.heard.extra]
    for number, blow in enumerate(sorted(blows, key=lambda each: each.time_s), start=1):
        found = {"extra": blow.reason} if isinstance(blow, ExtraHit) else _as_row(blow, _OF_A_HIT)
        yield {**same, "number": number, "time_s": blow.time_s, "level_db": blow.level_db, **found}


_OF_A_HIT = (
    "confidence",
    "hand",
    "repetition",
    "position",
    "grace",
    "asynchrony_ms",
    "deviation_ms",
    "stretch",
    "written",
    "time_se_ms",
)


def take_row(take: StudioTake, read: HeardTake | None) -> Row:
    """Give a take: what was asked, what became of it, and every measure with its count and range."""
    row = {
        **_of_take(take),
        **_as_row(take, _AS_KEPT),
        "day": day_of(take),
        "status": "unreadable" if read is None and take.status == "heard" else take.status,
        "seconds": seconds_of(take) or None,
    }
    if read is None:
        return row
    return row | figures_of(read)


_AS_KEPT = ("received_at", "exercise", "tempo", "stroke", "click", "source", "corrected", "latency_ms")


def week_rows(student_id: str, takes: Iterator[TakeAsRead], weeks: Sequence[Week]) -> Iterator[Row]:
    """Give a student's weeks in order: each in which something was assigned or recorded.

    What could not be heard counts for nothing, as in the student's days.
    """
    sent = {week_of(week.starts): week for week in weeks if week.sent_at is not None}
    rows: dict[int, _WeekSoFar] = {number: _WeekSoFar() for number in sent}
    for take, read in takes:
        if take.status != "failed":
            rows.setdefault(week_of(day_of(take)), _WeekSoFar()).add(take, read)
    for number in sorted(rows):
        week = sent.get(number)
        yield {
            "student_id": student_id,
            "week": monday_of(number),
            "stage": None if week is None else week.stage,
            "assigned": week is not None,
            **rows[number].row(),
        }


class _WeekSoFar:
    """A week that is being counted."""

    def __init__(self) -> None:
        self._seconds = 0.0
        self._counts = dict.fromkeys(("takes", "heard", "hits_R", "hits_L", "missed"), 0)
        self._days, self._exercises = set[date](), set[str]()
        self._figures: dict[str, list[float]] = {place: [] for place in OF_A_WEEK}

    def add(self, take: StudioTake, read: HeardTake | None) -> None:
        """Count a take."""
        self._seconds += seconds_of(take)
        self._days.add(day_of(take))
        self._counts["takes"] += 1
        if read is None:
            return
        self._exercises.add(take.exercise)
        hands = [hit.hand for hit in read.heard.hits]
        more = (1, hands.count("R"), hands.count("L"), len(read.heard.missed))
        for name, count in zip(("heard", "hits_R", "hits_L", "missed"), more, strict=True):
            self._counts[name] += count
        found = measures_with_places(read.measures)
        for place, values in self._figures.items():
            if place in found and (value := found[place].value) is not None:
                values.append(value)

    def row(self) -> Row:
        """Give what was counted."""
        row: Row = {**self._counts, "days": len(self._days), "recorded_s": round(self._seconds, 3)}
        row["exercises"] = len(self._exercises)
        for place, values in self._figures.items():
            name = column_name(place)
            row[f"{name}_takes"] = len(values)
            if values:
                row[name] = round(median(values), MEDIAN_DIGITS)
                row |= {f"{name}_least": min(values), f"{name}_most": max(values)}
        return row


def day_of(take: StudioTake) -> date:
    """Say on which day a take was recorded, on the teacher's own clock."""
    return take.recorded_at.astimezone().date()


def _as_row(value: object, names: Sequence[str]) -> Row:
    return {name: getattr(value, name) for name in names}


def _of_take(take: StudioTake) -> Row:
    return {"student_id": take.student_id, "take_id": take.id, "recorded_at": take.recorded_at}
