"""What stands on a student's stand today: the day of the week's plan, and how much of it was played.

Conventions: the plan's days and a day's items count from 1; which day it is says ``practice_day``.
Seconds; a day's take in rests. Dates are local.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time

from evenhand.acts.weeks.document import date_of_day, plan_from_json
from evenhand.errors import EvenhandError, WrongOptions
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.strokes.heights import stroke_class
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem
from evenhand.studio.typed import full_tempo, whole_number
from evenhand.studio.values import StudioTake, Week
from evenhand.studio.weeks.day import Standing, day_to_practise, standing_of
from evenhand.take import Remark

ENOUGH = 0.75  # share of an item's seconds that counts as done: a count-in and a last bar may be short
FREE_REPETITIONS, FREE_S = 1, 60.0
MOST_FREE_NOTES = 512  # to draw many more takes seconds, and anybody with a link may ask


@dataclass(frozen=True, slots=True)
class StandItem:
    """One item of a day, and how much of it was recorded."""

    number: int
    item: PracticeItem
    played_s: float = 0.0

    @property
    def share(self) -> float:
        """Share of the item's seconds, its pauses left out, that was recorded, 0 to 1."""
        asked_s = self.item.seconds - (self.item.goes - 1) * self.item.pause_s
        return min(1.0, self.played_s / asked_s) if asked_s > 0 else 0.0

    @property
    def done(self) -> bool:
        """Tell whether it was practised as long as was asked."""
        return self.share >= ENOUGH

    @property
    def title(self) -> str:
        """What it is called: its title, or its sticking."""
        return self.item.title or self.sticking

    @property
    def sticking(self) -> str:
        """The exercise's text."""
        return print_exercise(self.item.exercise)


@dataclass(frozen=True, slots=True)
class StandDay:
    """One day of a week, on the stand; ``begun`` where something of it was recorded."""

    week: Week
    number: int
    of: int
    on: date
    items: tuple[StandItem, ...]
    story: tuple[Remark, ...] = ()
    standing: Standing = "running"
    is_today: bool = False

    @property
    def begun(self) -> bool:
        """Tell whether anything of it was recorded."""
        return any(each.played_s > 0 for each in self.items)

    @property
    def seconds(self) -> float:
        """Seconds of the whole day, rests too."""
        return sum(each.item.seconds + each.item.rest_s for each in self.items)

    @property
    def minutes(self) -> int:
        """The day's minutes, at least one."""
        return max(1, round(self.seconds / 60))

    @property
    def next(self) -> StandItem | None:
        """The first item that is not done yet."""
        return next((each for each in self.items if not each.done), None)

    @property
    def done(self) -> bool:
        """Tell whether nothing is left."""
        return self.next is None

    def item(self, number: int) -> StandItem | None:
        """Find an item by its number."""
        return next((each for each in self.items if each.number == number), None)


def stand_day(
    week: Week, today: date, takes: Sequence[StudioTake] = (), *, wanted: int | None = None
) -> StandDay:
    """Choose the day of a week that is to be practised, and say what of it was played.

    ``wanted`` asks for a day by its number.

    Raises
    ------
    BadPlan
        Where the week's plan cannot be read.
    """
    plan = plan_from_json(week.plan, name="this week's plan")
    days = {
        number: _day(week, number, len(plan.days), day, takes)
        for number, day in enumerate(plan.days, start=1)
        if day.items
    }
    chosen = days.get(wanted or 0)
    if chosen is None:
        begun = {number for number, day in days.items() if day.begun}
        done = {number for number, day in days.items() if day.done}
        chosen = days[day_to_practise({n: day.on for n, day in days.items()}, begun, done, today)]
    chosen = replace(chosen, story=plan.story)
    return replace(chosen, standing=standing_of(week, today), is_today=chosen.on == today)


def takes_since(week: Week) -> datetime:
    """Return from when on a week's takes come: it may be begun early, as soon as there is such a week."""
    first = datetime.combine(week.starts, time()).astimezone()
    return first if week.created_at is None else min(first, week.created_at)


def _day(week: Week, number: int, of: int, day: PracticeDay, takes: Sequence[StudioTake]) -> StandDay:
    on = date_of_day(week.starts, number - 1, of)
    items = tuple(StandItem(i, item) for i, item in enumerate(day.items, start=1))
    bare = StandDay(week, number, of, on, items)
    played: dict[int, float] = {}
    for item, take in takes_of_day(bare, takes):
        played[item] = played.get(item, 0.0) + seconds_of(take)
    return replace(bare, items=tuple(replace(each, played_s=played.get(each.number, 0.0)) for each in items))


def takes_of_day(day: StandDay, takes: Sequence[StudioTake]) -> Iterator[tuple[int, StudioTake]]:
    """Give the takes that were of a day's items, each with its item's number."""
    for take in takes:
        item = _item_of(day, take)
        if item is not None:
            yield item, take


def _item_of(day: StandDay, take: StudioTake) -> int | None:
    """Say which item of a day a take was of: as the stand noted it, else by the day and the exercise."""
    if take.status == "failed" or take.model or take.source == "teacher":
        return None
    facts = take.facts
    if facts.get("week"):
        same = facts["week"] == day.week.id and facts.get("day") == str(day.number)
        return whole_number(facts.get("item", "")) if same else None
    if take.recorded_at.astimezone().date() != day.on:
        return None
    exercise = _exercise_of(take)
    return next((each.number for each in day.items if each.item.exercise == exercise), None)


def _exercise_of(take: StudioTake) -> Exercise | None:
    try:
        return parse_exercise(take.exercise) if take.exercise else None
    except EvenhandError:
        return None


def seconds_of(take: StudioTake) -> float:
    """Return how long a take is: as it was heard, before that as the device said."""
    if take.seconds is not None:
        return take.seconds
    try:
        said = float(take.facts.get("seconds", "0"))
    except ValueError:
        return 0.0
    return said if 0 < said < 86_400 else 0.0  # no NaN passes


def free_item(exercise_text: str, tempo_text: str, stroke: str = "") -> StandItem:
    """Make an item of what a student typed, to be played as long as they like.

    A tempo that is a number alone is of the exercise's own beat.

    Raises
    ------
    BadExercise, BadTempo
        Where it cannot be read.
    WrongOptions
        Where it has more notes than the stand draws for whoever asks.
    """
    exercise, tempo = parse_exercise(exercise_text), Tempo.parse(full_tempo(tempo_text, exercise_text))
    if len(exercise.notes) > MOST_FREE_NOTES:
        got = f"an exercise of {len(exercise.notes):,} notes"
        raise WrongOptions(got=got, must_be=f"{MOST_FREE_NOTES} notes at most, to play here")
    return StandItem(0, PracticeItem(exercise, tempo, FREE_REPETITIONS, FREE_S, stroke_class(stroke)))
