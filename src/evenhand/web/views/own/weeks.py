"""A student's own weeks: one curve and one sentence, the days practised, what the teacher hears next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from evenhand.acts.weeks.document import plan_from_json
from evenhand.acts.weeks.progress import show_progress
from evenhand.errors import BadPlan
from evenhand.music.text import print_exercise
from evenhand.progress.history import History
from evenhand.progress.trends.clearest import clearest_change
from evenhand.report.plots.progress import one_curve
from evenhand.report.words.own_weeks import curve_name, own_figures, own_sentence
from evenhand.studio.desk import Cache, is_students
from evenhand.studio.practised import counted_since, practised_weeks
from evenhand.studio.store.studio import Studio
from evenhand.studio.students import heard_digest, heard_takes, read_once
from evenhand.studio.typed import whole_number
from evenhand.studio.values import Student, StudioTake, Week
from evenhand.studio.weeks.day import weeks_now
from evenhand.studio.whole.lessons import almanac_of
from evenhand.web.pages import now, page
from evenhand.web.requests import studio_of
from evenhand.web.views.stand import about_student, own_student

SAID: Cache[dict[str, str]] = Cache(256)


@dataclass(frozen=True, slots=True)
class ToRecord:
    """An exercise of the week that the teacher compares from week to week, and how often it was recorded."""

    title: str
    times: int


def own_weeks(request: Request) -> Response:
    """Show a student's own weeks; no points, no rows of days to keep up."""
    student, studio, at = own_student(request), studio_of(request), now().astimezone()
    counted = studio.takes.all(student.id, since=counted_since(at))
    return page(
        request,
        "stand_weeks.html",
        **about_student(request, student),
        **_said(studio, student, at),
        weeks=practised_weeks(counted, at),
        lesson=almanac_of(studio).next_lesson(student, at.date()),
        to_record=list(_to_record(studio, student, counted, at)),
        waits=sum(is_students(take) and take.listened_at is None for take in counted),
    )


def _said(studio: Studio, student: Student, at: datetime) -> dict[str, Any]:
    """Say and draw what changed most clearly; once for the same takes."""
    takes = heard_takes(studio, student, at)
    return SAID.get((student.id, heard_digest(takes)), lambda: _found(read_once(takes, student, at)[0]))


def _found(history: History) -> dict[str, str]:
    untried = tuple(replace(take, tried=()) for take in history.takes)  # no tempo ceiling is asked for here
    found = clearest_change(show_progress(replace(history, takes=untried)))
    sentence = own_sentence(found)
    drawn = {"curve": "", "exercise": ""}
    if found is not None:
        drawn = {
            "curve": one_curve(found.course, found.of.takes[0].day, curve_name(found.course), sentence),
            "exercise": print_exercise(found.of.exercise),
        }
    return {"sentence": sentence, "figures": own_figures(found), **drawn}


def _to_record(studio: Studio, student: Student, takes: list[StudioTake], at: datetime) -> Iterator[ToRecord]:
    """List what the week asks to be recorded for the teacher, each exercise once."""
    week = weeks_now(studio.weeks.all(student.id), at.date()).week
    titles = {} if week is None else _recorded_items(week)
    for title in dict.fromkeys(titles.values()):
        of_it = {place for place, named in titles.items() if named == title}
        yield ToRecord(title, sum(_place_of(take, week) in of_it for take in takes))


def _recorded_items(week: Week) -> dict[tuple[int, int], str]:
    """Return the titles of a week's items to record, by day and number; none where it cannot be read."""
    try:
        plan = plan_from_json(week.plan, name="the week's plan")
    except BadPlan:
        return {}
    days = ((number, day) for number, day in enumerate(plan.days, start=1))
    return {
        (number, place): item.title or print_exercise(item.exercise)
        for number, day in days
        for place, item in enumerate(day.items, start=1)
        if item.block == "record"
    }


def _place_of(take: StudioTake, week: Week | None) -> tuple[int, int] | None:
    """Return of which day and item of a week a take was."""
    if week is None or take.facts.get("week") != week.id or take.status == "failed":
        return None
    day, item = (whole_number(take.facts.get(name, "")) for name in ("day", "item"))
    return None if day is None or item is None else (day, item)
