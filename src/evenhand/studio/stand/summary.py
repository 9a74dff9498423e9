"""What a day came to: what was played, the one thing to know of it, and what the teacher gets to hear.

Conventions: seconds. The one finding is that of the take to record; where nothing was found in it, the one to
practise first of all that was found in the day's takes (``ORDER``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from evenhand.acts.takes.document import heard_take_of
from evenhand.errors import BadDocument
from evenhand.measuring.values import ORDER, HeardTake
from evenhand.studio.stand.day import StandDay, StandItem, seconds_of, takes_of_day
from evenhand.studio.values import StudioTake

_NOTHING_FOUND = frozenset({"even", "cannot_tell"})


@dataclass(frozen=True, slots=True)
class DaySummary:
    """A day's takes in numbers, and the one that says most: ``heard``, of ``item``.

    ``compared`` is the take that is recorded the same every week, None where it was not recorded.
    """

    day: StandDay
    takes: int
    seconds: float
    waiting: int
    heard: HeardTake | None = None
    item: StandItem | None = None
    compared: StudioTake | None = None


def day_summary(day: StandDay, takes: Sequence[StudioTake]) -> DaySummary:
    """Sum up a day from a student's takes, newest first, each with what was heard of it."""
    of_day = list(takes_of_day(day, takes))
    recorded = {each.number for each in day.items if each.item.block == "record"}
    heard = [(number, found) for number, take in of_day if (found := _heard(take)) is not None]
    heard.sort(key=lambda each: _weight(each[1], recorded=each[0] in recorded))
    number, first = heard[0] if heard else (0, None)
    return DaySummary(
        day=day,
        takes=len(of_day),
        seconds=sum(seconds_of(take) for _, take in of_day),
        waiting=sum(take.status in {"waiting", "hearing"} for _, take in of_day),
        heard=first,
        item=day.item(number),
        compared=next((take for number, take in of_day if number in recorded), None),
    )


def _weight(take: HeardTake, *, recorded: bool) -> tuple[int, int]:
    """Order takes: the recorded one with a finding, then the others by their first, then those without."""
    kinds = [each.kind for each in take.findings if each.kind not in _NOTHING_FOUND]
    if not kinds:
        return len(ORDER), not recorded
    return (-1 if recorded else ORDER[kinds[0]]), 0


def _heard(take: StudioTake) -> HeardTake | None:
    try:
        return heard_take_of(take.heard) if take.heard else None
    except BadDocument:
        return None
