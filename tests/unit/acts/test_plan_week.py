"""A week from a stage, a book and a history; and as a calendar."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, time

import pytest

from evenhand.acts.exercises.books import stock
from evenhand.acts.weeks.document import calendar_of, day_of_week, plan_from_json, plan_to_json
from evenhand.acts.weeks.plan import WeekRequest, plan_week
from evenhand.errors import WrongOptions
from evenhand.measuring.values import Evidence
from evenhand.music.book import parse_book
from evenhand.music.equivalence import same_groups
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay
from evenhand.progress.ceiling.control import TriedRepetition
from evenhand.progress.history import History, PastTake
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.report.words.figures import PRACTICE_CAUTION
from evenhand.report.words.remarks import all_remarks, remark_words, why_words
from evenhand.take import in_words as remark_in_words
from tests.builders import in_words

PARADIDDLE = parse_exercise("1/8: RLRR LRLL")
MONDAY = date(2026, 11, 30)


def past(*, weak: bool = False, ceiling: float | None = None) -> PastTake:
    """Make a take of the paradiddle."""
    tried: tuple[TriedRepetition, ...] = ()
    if ceiling is not None:
        tried = tuple(
            TriedRepetition("t", i, bpm, 4.0, 6.0, 0, bpm < ceiling, {})
            for bpm in (ceiling * 0.8, ceiling * 0.93, ceiling * 1.07, ceiling * 1.2)
            for i in range(10)
        )
    evidence = Evidence("balance.level_db", 4.0, "dB", 64, (3.5, 4.5), 1.0, tuple(range(8)))
    found = (
        in_words("weak_hand", "The left hand is softer.", replace(evidence, measure="balance.level_db"), "x"),
    )
    return PastTake(
        MONDAY,
        "t.wav",
        PARADIDDLE,
        Tempo.parse("1/8=100"),
        "half",
        60.0,
        {"R": 32, "L": 32},
        {},
        tried,
        found if weak else (),
    )


def test_a_week_for_a_new_student_rests_on_nothing_and_says_so() -> None:
    plan = plan_week(WeekRequest(15, 5, "half", student="Ines Okoro", starts=MONDAY), COMMON_PATH)
    assert [day.seconds for day in plan.days] == [900] * 5
    assert plan.student == "Ines Okoro"
    assert "No take has been heard yet." in remark_words(plan.notes[0])


def test_purposes_and_reasons_are_sentences() -> None:
    """A purpose is one sentence for the student; a reason has a capital and a full stop."""
    plan = plan_week(WeekRequest(20, 5, "tap"), COMMON_PATH)
    for item in (item for day in plan.days for item in day.items):
        purpose = " ".join(all_remarks(item.purpose))
        assert re.fullmatch(r"[A-Z][A-Za-z ,:'-]+\.", purpose), purpose
        assert re.fullmatch(r"[A-Z].+\.", why_words(item.why)), item.why


def test_a_week_tells_its_story_in_two_sentences_with_its_days_named() -> None:
    plan = plan_week(
        WeekRequest(15, 5, "tap", starts=MONDAY), COMMON_PATH, history=History((past(weak=True),))
    )
    first, second = all_remarks(plan.story)
    assert first == "This week’s aim: the left hand sounds as loud as the other."
    assert second.startswith("The left hand alone on Monday, ")
    assert second.endswith(".")


def test_a_part_of_an_exercise_is_named_as_one() -> None:
    plan = plan_week(WeekRequest(15, 5, "half"), COMMON_PATH, history=History((past(weak=True),)))
    titles = {item.title for day in plan.days for item in day.items if item.block == "focus"}
    assert any(title.endswith("left alone") for title in titles)


def test_a_teachers_own_exercise_leads_without_taking_the_week() -> None:
    book = parse_book("1/16: RLRR LRLL # One\n")
    plan = plan_week(WeekRequest(15, 5, "tap"), COMMON_PATH, book=book)
    titles = [item.title for day in plan.days for item in day.items]
    assert sum("One" in title for title in titles) >= 4
    assert len({title for title in titles if "One" not in title}) >= 4


def test_an_exercise_is_called_as_in_the_teachers_book() -> None:
    book = parse_book("1/4: RLRL # Even hands\n")
    plan = plan_week(WeekRequest(15, 5, "half"), COMMON_PATH, book=book)
    recorded = {item.title for day in plan.days for item in day.items if item.block == "record"}
    assert recorded == {"Even hands"}


@pytest.mark.parametrize("named", ["building speed", "building-speed", "Building_Speed"])
def test_a_stage_may_be_written_with_a_dash(named: str) -> None:
    assert plan_week(WeekRequest(10, 2, named), COMMON_PATH).days


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (WeekRequest(15, 5, "half way"), "one of rebound, half, full, tap"),
        (WeekRequest(0, 5, "half"), "minutes a day"),
        (WeekRequest(15, 9, "half"), "days a week"),
        (WeekRequest(float("nan"), 5, "half"), "minutes a day"),
    ],
)
def test_what_cannot_be_is_refused(asked: WeekRequest, said: str) -> None:
    with pytest.raises(WrongOptions, match=said):
        plan_week(asked, COMMON_PATH)


def test_a_jump_in_load_is_said_as_a_convention() -> None:
    small = plan_week(WeekRequest(5, 3, "half"), COMMON_PATH)
    plan = plan_week(WeekRequest(30, 5, "half", before=small), COMMON_PATH)
    assert any("more than a quarter up" in note and "convention" in note for note in all_remarks(plan.notes))
    same = plan_week(WeekRequest(5, 3, "half", before=small), COMMON_PATH)
    assert not any("quarter" in note for note in all_remarks(same.notes))


def test_a_plan_reads_back_as_it_was() -> None:
    plan = plan_week(WeekRequest(20, 5, "tap", seed=1, starts=MONDAY), COMMON_PATH)
    again = plan_from_json(plan_to_json(plan), name="week.json")
    items, items_again = (
        [
            replace(
                item,
                why=remark_in_words(why_words(item.why)),
                purpose=remark_in_words(" ".join(all_remarks(item.purpose))),
            )
            for day in each.days
            for item in day.items
        ]
        for each in (plan, again)
    )
    assert items == items_again


def test_the_stock_has_no_two_that_are_the_same_as_they_stand() -> None:
    assert not same_groups(stock().entries, rotation=False, swap=False)


def test_the_calendar_is_as_rfc_5545_has_it() -> None:
    plan = plan_week(WeekRequest(20, 5, "tap", student="Ines Okoro"), COMMON_PATH)
    text = calendar_of(plan, MONDAY, time(17)).decode()
    lines = text.split("\r\n")
    assert (lines[0], lines[-2], lines[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR", "")  # 3.4 and 3.1: CRLF
    assert max(len(line.encode()) for line in lines) <= 75  # 3.1: folded
    assert "VERSION:2.0" in lines  # 3.7.4
    assert text.count("BEGIN:VEVENT") == text.count("END:VEVENT") == 5
    assert re.findall(r"DTSTART:(\w+)", text) == [f"202611{day}T170000" for day in (30,)] + [
        f"202612{day:02d}T170000" for day in (1, 2, 4, 5)
    ]
    assert re.findall(r"DTEND:(\w+)", text)[0] == "20261130T172000"
    uids = re.findall(r"UID:(\S+)", text)
    assert len(set(uids)) == 5  # 3.8.4.7: one of its own each
    unfolded = text.replace("\r\n ", "").replace("\\,", ",").replace("\\;", ";")
    assert PRACTICE_CAUTION.split(".")[0] in unfolded


def test_a_day_of_rest_is_no_event() -> None:
    plan = plan_week(WeekRequest(10, 3, "half"), COMMON_PATH)
    resting = replace(plan, days=(plan.days[0], PracticeDay(()), plan.days[2]))
    text = calendar_of(resting, MONDAY, time(17)).decode()
    assert re.findall(r"DTSTART:(\d+)", text) == ["20261130", "20261204"]


def test_the_same_plan_gives_the_same_calendar() -> None:
    plan = plan_week(WeekRequest(10, 3, "half"), COMMON_PATH)
    assert calendar_of(plan, MONDAY, time(17)) == calendar_of(plan, MONDAY, time(17))


@pytest.mark.parametrize("days", range(1, 8))
def test_days_are_spread_over_the_week(days: int) -> None:
    on = [day_of_week(index, days) for index in range(days)]
    assert on == sorted(set(on))
    assert on[-1] < 7
