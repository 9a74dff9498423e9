"""The part of the stand with the exercise, the click and the recording: what it shows, whoever shows it."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from evenhand.application.studio_stand import StandDay, StandItem, item_words
from evenhand.application.studio_stand_music import stand_music
from evenhand.application.studio_stand_take import CLICK_PLACES
from evenhand.domain.stroke import Unit
from evenhand.domain.studio import Device, Student
from evenhand.pages.markup import prose
from evenhand.pages.practice_words import time_words
from evenhand.web.stroke_field import stroke_choices


@dataclass(frozen=True, slots=True)
class Widget:
    """All that the part with the exercise, the click and the recording shows."""

    title: str
    sticking: str
    how: Markup
    why: Markup
    lines: tuple[str, ...]
    bpm: str
    practice: dict[str, Any]
    places: tuple[str, ...]
    upload_key: str
    hidden: dict[str, str]
    strokes: list[tuple[str, str]]
    rest_words: str
    next: str


def widget_of(
    student: Student, item: StandItem, day: StandDay | None, *, devices: list[Device], unit: Unit
) -> Widget:
    """Gather what the part shows for an item of a day, or, without a day, for a free exercise."""
    free = day is None
    music = stand_music(item.sticking, item.item.tempo, None if free else item.item.repetitions)
    hidden = {"exercise": item.sticking, "tempo": str(item.item.tempo), "stroke": item.item.stroke or ""}
    if day is not None:
        hidden |= {"week": day.week.id, "day": str(day.number), "item": str(item.number)}
    practice_facts = {
        **music.facts,
        "title": item.title,
        "sent": hidden,
        "student": student.id,
        "may_record": student.may_record,
        "devices": {each.id: each.latency_ms for each in devices if each.latency_ms is not None},
    }
    return Widget(
        title=item.title,
        sticking=item.sticking,
        how=tied(item_words(item.item, unit, free=free)),
        why=tied(item.item.why),
        lines=music.lines,
        bpm=f"{item.item.tempo.bpm:g}",
        practice=practice_facts,
        places=tuple(place for place in CLICK_PLACES if student.may_record or place != "off"),
        upload_key=secrets.token_urlsafe(24),
        hidden=hidden,
        strokes=stroke_choices(unit),
        rest_words=time_words(item.item.rest_s) if item.item.rest_s else "",
        next=_next_link(day, item),
    )


def tied(words: str) -> Markup:
    """Keep figures and their units on one line."""
    return Markup(prose(words))  # noqa: S704 - prose escapes


def _next_link(day: StandDay | None, item: StandItem) -> str:
    """Return where "next" leads: the next item of the day, or back to the whole day."""
    if day is None:
        return "/stand"
    if day.item(item.number + 1) is None:
        return f"/stand?week={day.week.id}"
    return f"/stand/practice/{item.number + 1}?week={day.week.id}&day={day.number}"
