"""The part of the stand with the exercise, the click and the recording: what it shows, whoever shows it.

The day that is shown on the stand, and what it is called: the same on every page.

The choice of a stroke height, the same in every form that asks for it.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from markupsafe import Markup
from starlette.requests import Request

from evenhand.acts.weeks.document import DAYS_A_WEEK
from evenhand.music.strokes.heights import STROKE_CLASSES, Unit
from evenhand.planning.practice import PracticeItem
from evenhand.report.plots.markup import prose
from evenhand.report.words.figures import capitalised, count_words, duration
from evenhand.report.words.practice import BLOCK_NAMES, announcement, item_words, stroke_pieces
from evenhand.report.words.remarks import all_remarks, why_words
from evenhand.studio.stand.day import StandDay, StandItem, stand_day, takes_since
from evenhand.studio.stand.music import StandResult, result_of, stand_music
from evenhand.studio.stand.sent import CLICK_PLACES
from evenhand.studio.takes.models import Model, model_of
from evenhand.studio.typed import whole_number
from evenhand.studio.values import Device, Student, StudioTake
from evenhand.studio.weeks.day import WeeksNow, standing_of, weeks_now
from evenhand.web.pages import now, today, weekday_words
from evenhand.web.requests import studio_of


def stroke_choices(unit: Unit | None = None) -> list[tuple[str, str]]:
    """List the values and their words, any height first; with a unit the heights are said, too."""
    named = [
        (stroke, ", ".join(stroke_pieces(stroke, unit)) if unit else stroke) for stroke in STROKE_CLASSES
    ]
    return [("", "any"), *named]


# Which clicks the stand offers, in the words of ``music/click_pattern.py``; the page seeds what is drawn.
CLICK_PATTERNS = {
    "": "every beat",
    "2-and-4": "2 and 4",
    "offbeats": "between the beats",
    "bar": "once a bar",
    "bar/2": "once in two bars",
    "silent=2:2": "two bars on, two silent",
    "drawn=1/4": "a bar missing now and then",
    "fade=4:8": "fading after four bars",
}


TOLD = (
    "Your microphone is on while you play, and the studio listens to draw your hits. "
    "When you stop, the recording goes to your teacher."
)

# Where the stick is held, offered until a student names others (common practice).
USUAL_GRIPS = ("thumb and first finger", "thumb and middle finger", "whole hand")


@dataclass(frozen=True, slots=True)
class ItemHead:
    """What stands over an item's music: its block, its title, how it is played, what it is for, its model."""

    number: int
    title: str
    sticking: str
    block: str
    how: Markup
    purpose: Markup
    model: Model | None = None


@dataclass(frozen=True, slots=True)
class Widget:
    """All that the part with the exercise, the click and the recording shows.

    ``run`` is what one tap plays, an item after the other, each as the script needs it; ``heads`` are theirs,
    and ``musics`` their lines of music, each written once. ``base`` is where its recordings go.
    """

    head: ItemHead
    whole_day: bool
    begun: bool
    run: list[dict[str, Any]]
    heads: list[ItemHead]
    musics: list[tuple[str, ...]]
    bpm: str
    places: tuple[str, ...]
    patterns: dict[str, str]
    upload_key: str
    hidden: dict[str, str]
    strokes: list[tuple[str, str]]
    rest_words: str
    next: str
    base: str = "/stand"
    onward: str = "Next"
    told: str = TOLD
    grips: tuple[str, ...] = USUAL_GRIPS

    @property
    def clicks(self) -> bool:
        """Tell whether a click sounds anywhere in it; drops fall without one."""
        return not all(each.get("drops") for each in self.run)

    @property
    def starts(self) -> bool:
        """Tell whether there is anything to start: a day, a click or a recording."""
        return bool(self.whole_day or self.clicks or self.run[0]["may_record"])


def widget_of(
    student: Student,
    item: StandItem,
    day: StandDay | None,
    left: Sequence[StandItem] = (),
    *,
    devices: list[Device],
    unit: Unit,
    models: Sequence[StudioTake] = (),
    free: bool | None = None,
) -> Widget:
    """Gather what the part shows for an item of a day, or, without a day, for a free exercise.

    ``left`` is what one tap plays where that is the day: the item first. What is ``free`` is played as
    long as one likes.
    """
    free = day is None if free is None else free
    may = {
        "student": student.id,
        "may_record": student.may_record,
        "devices": {each.id: each.latency_ms for each in devices if each.latency_ms is not None},
    }
    musics: dict[str, tuple[int, tuple[str, ...]]] = {}
    run = []
    played = tuple(left or (item,))
    for place_of_day, each in enumerate(played, start=1):
        music = stand_music(each.sticking, each.item.tempo, None if free else each.item.repetitions)
        said = announcement(each.item, place_of_day, len(played))
        place, _ = musics.setdefault(each.sticking, (len(musics), music.lines))
        run.append({**music.facts, **may, **_facts_of(each, day), "music": place, "said": said})
    return Widget(
        head=_head(item, unit, models, free=free),
        whole_day=bool(left),
        begun=day is not None and day.begun and not day.done,
        run=run,
        heads=[_head(each, unit, models, free=free) for each in left],
        musics=[lines for _, lines in musics.values()],
        bpm=f"{item.item.tempo.bpm:g}",
        places=tuple(place for place in CLICK_PLACES if student.may_record or place != "off"),
        patterns=CLICK_PATTERNS,
        upload_key=secrets.token_urlsafe(24),
        hidden=_sent(item, day),
        strokes=stroke_choices(unit),
        rest_words=duration(item.item.rest_s, "seconds") if item.item.rest_s else "",
        next=_next_link(day, item),
    )


def _facts_of(item: StandItem, day: StandDay | None) -> dict[str, Any]:
    """Return what the script needs of an item beside its music."""
    return {
        "number": item.number,
        "title": item.title,
        "sent": _sent(item, day),
        "goes": item.item.goes,
        "pause_s": item.item.pause_s,
        "rest_s": item.item.rest_s,
    }


def _sent(item: StandItem, day: StandDay | None) -> dict[str, str]:
    """Return the fields that go with a take of an item."""
    hidden = {"exercise": item.sticking, "tempo": str(item.item.tempo), "stroke": item.item.stroke or ""}
    if day is not None:
        hidden |= {"week": day.week.id, "day": str(day.number), "item": str(item.number)}
    return hidden


def _head(item: StandItem, unit: Unit, models: Sequence[StudioTake], *, free: bool) -> ItemHead:
    return ItemHead(
        number=item.number,
        title=item.title,
        sticking=item.sticking,
        block=BLOCK_NAMES[item.item.block] if item.item.block else "",
        how=tied(item_words(item.item, unit, free=free)),
        purpose=tied(purpose_words(item.item)),
        model=model_of(models, item.sticking, str(item.item.tempo)),
    )


def purpose_words(item: PracticeItem) -> str:
    """Say what an item is for; its reasons, where a week was written without purposes."""
    return " ".join(all_remarks(item.purpose)) or why_words(item.why)


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


def models_with(request: Request, student: Student) -> Callable[[StandItem], Model | None]:
    """Return what says of an item which model stands with it."""
    models = studio_of(request).takes.models(student.id)
    return lambda each: model_of(models, each.sticking, str(each.item.tempo))


def heard_facts(request: Request, take: StudioTake) -> dict[str, Any]:
    """Return what was heard of a take, and its model; what was heard of a model is the teacher's to see."""
    is_theirs = request.state.session.role == "teacher"
    models = [] if take.model else studio_of(request).takes.models(take.student_id)
    return {
        "result": _result(request, take) if is_theirs or not take.model else None,
        "model": model_of(models, take.exercise, take.tempo) if take.exercise else None,
    }


def _result(request: Request, take: StudioTake) -> StandResult | None:
    return result_of(studio_of(request), take, now().astimezone())


@dataclass(frozen=True, slots=True)
class Shown:
    """The weeks there are, and the day of one of them that is shown."""

    weeks: WeeksNow
    day: StandDay | None


def weeks_of(request: Request, student: Student) -> WeeksNow:
    """Return the weeks that the student can look at."""
    return weeks_now(studio_of(request).weeks.all(student.id), today())


def shown_day(request: Request, student: Student) -> Shown:
    """Return the day that is shown: today's, or the one that the address asks for."""
    weeks = weeks_of(request, student)
    week = weeks.named(request.query_params.get("week", ""))
    if week is None:
        return Shown(weeks, None)
    wanted = request.query_params.get("day", "")
    found = studio_of(request).takes.all(student.id, since=takes_since(week))
    day = stand_day(week, today(), found, wanted=whole_number(wanted))
    return Shown(weeks, day)


def named(request: Request, shown: Shown, day: StandDay) -> dict[str, Any]:
    """Return what the day is called."""
    newer = shown.weeks.week is not None and shown.weeks.week.id != day.week.id
    asked = "day" in request.query_params
    return {
        "day": day,
        "day_title": day_title(day, today()),
        "day_note": day_note(day, today(), asked=asked, newer=newer),
        "beside": beside_words(shown.weeks, day, today()),
    }


def day_title(day: StandDay, on: date) -> str:
    """Call it today's, a day of this or the next week, or last week's."""
    minutes = count_words(day.minutes, "minute")
    if day.is_today:
        return f"Today, {minutes}"
    if day.standing == "early":
        return f"Your next practice, {minutes}"
    if day.standing != "over":
        return f"Day {day.number}, {minutes}"
    if on < day.week.starts + timedelta(days=2 * DAYS_A_WEEK):
        return f"Last week's practice, {minutes}"
    return f"Your practice from {weekday_words(day.week.starts)}, {minutes}"


def day_note(day: StandDay, on: date, *, asked: bool = False, newer: bool = False) -> str:
    """Say which day it is where it is not today's; ``asked`` for by name, or ``newer`` practice is there."""
    if day.is_today:
        return ""
    which = f"day {day.number} of {day.of}"
    if day.standing == "early":
        return f"{capitalised(which)}, for {weekday_words(day.on)}. You may begin early."
    if day.standing == "over":
        return f"{capitalised(which)}.{'' if newer else ' The new practice comes after your lesson.'}"
    if asked:
        return f"{capitalised(which)}, for {weekday_words(day.on)}."
    if day.on < on:
        return f"Nothing new is planned for today. Go on with {which}."
    return f"Nothing is planned for today. You may begin {which} early."


def beside_words(weeks: WeeksNow, shown: StandDay, on: date) -> tuple[str, str] | None:
    """Return the address and the words of the other week that can be looked at."""
    other = next((each for each in (weeks.week, weeks.beside) if each and each.id != shown.week.id), None)
    if other is None:
        return None
    words = {
        "early": f"Your next practice is here, from {weekday_words(other.starts)} on",
        "running": "This week's practice",
        "over": "Last week's practice",
    }
    return f"/stand?week={other.id}", words[standing_of(other, on)]
