"""What was heard of a student's take, as a part of the stand's page: the report's words and picture."""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.application.heard_again import heard_take_of
from evenhand.application.known_by_device import known_by_device
from evenhand.application.studio_stand_music import engraved_narrow
from evenhand.domain.engraved import EngravedExercise
from evenhand.domain.heard_take import HeardTake
from evenhand.domain.studio import StudioTake
from evenhand.errors import CannotEngrave
from evenhand.pages.stand_result import stand_result


@dataclass(frozen=True, slots=True)
class StandResult:
    """The markup of what was heard. ``offset_unknown``: there was a click it could not be held against."""

    markup: str
    offset_unknown: bool


def result_of(take: StudioTake) -> StandResult | None:
    """Return what was heard of a take, while it is heard again too; None where it was not heard yet."""
    if take.status == "failed" or not take.heard:
        return None
    heard = known_by_device(heard_take_of(take.heard), take.facts, take.latency_ms)
    unknown = (
        take.facts.get("click") == "headphones"
        and heard.exercise is not None
        and heard.heard.clock != "click"
        and take.latency_ms is None
    )
    return StandResult(stand_result(heard, _engraved(heard)), unknown)


def _engraved(take: HeardTake) -> EngravedExercise | None:
    if take.exercise_text is None:
        return None
    try:
        return engraved_narrow(take.exercise_text)
    except CannotEngrave:
        return None
