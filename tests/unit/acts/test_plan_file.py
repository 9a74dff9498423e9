"""A week's plan as JSON: read, written, and refused by the day and the item."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from evenhand.acts.weeks.document import plan_as_data, plan_from_json, plan_to_json, read_plan
from evenhand.errors import BadPlan
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.take import in_words

WEEK = """{
  "student": "Mira Anselm",
  "starts": "2026-11-30",
  "story": "This week the left hand catches up.",
  "days": [
    {
      "seconds": 200.5,
      "items": [
        {
          "exercise": "1/8: RLRR LRLL",
          "block": "focus",
          "purpose": "The left hand catches up.",
          "stroke": "half",
          "tempo": "1/8 = 70",
          "beat": "1/8",
          "repetitions": 4,
          "goes": 3,
          "pause_s": 10,
          "seconds": 180,
          "rest_s": 20.5,
          "why": "Loads the left hand.",
          "title": "Paradiddle"
        }
      ]
    },
    {
      "seconds": 0,
      "items": []
    }
  ]
}
"""
ITEM = PracticeItem(
    exercise=parse_exercise("1/8: RLRR LRLL"),
    tempo=Tempo.parse("1/8=70"),
    repetitions=4,
    seconds=180.0,
    stroke="half",
    rest_s=20.5,
    title="Paradiddle",
    why=in_words("Loads the left hand."),
    goes=3,
    pause_s=10.0,
    block="focus",
    purpose=in_words("The left hand catches up."),
)
PLAN = PracticePlan(
    (PracticeDay((ITEM,)), PracticeDay(())),
    "Mira Anselm",
    date(2026, 11, 30),
    story=in_words("This week the left hand catches up."),
)


def a_week(*, day: dict[str, Any] | None = None, plan: dict[str, Any] | None = None, **item: Any) -> str:
    """Give a week of one item, with something changed in the item, the day or the plan."""
    changed = {"exercise": "1/8: RL", "tempo": "1/8=70", "repetitions": 4, "seconds": 60, **item}
    kept = {key: value for key, value in changed.items() if value is not ...}
    return json.dumps({"days": [{"items": []}, {"items": [kept], **(day or {})}], **(plan or {})})


def test_a_plan_is_read_with_all_that_may_stand_in_it() -> None:
    assert plan_from_json(WEEK, name="week.json") == PLAN


def test_a_plan_is_written_as_it_was_read() -> None:
    assert plan_to_json(PLAN) == WEEK


def test_what_may_be_left_out_may_be_left_out() -> None:
    item = plan_from_json(a_week(), name="week.json").days[1].items[0]
    assert (item.stroke, item.rest_s, item.why, item.title) == (None, 0.0, (), "")
    assert (item.block, item.goes, item.pause_s, item.purpose) == (None, 1, 0.0, ())


def test_a_beat_that_is_not_its_tempos_is_refused() -> None:
    with pytest.raises(BadPlan, match="the beat of its tempo"):
        plan_from_json(a_week(beat="1/4"), name="week.json")


def test_what_stands_beside_the_days_is_passed_over() -> None:
    assert plan_from_json(a_week(plan={"stage": "tap", "why": [1, 2]}), name="week.json").student == ""


def test_a_days_seconds_are_its_items_and_their_rests() -> None:
    assert PLAN.days[0].seconds == 180 + 20.5
    assert plan_from_json(a_week(day={"seconds": 60.9}), name="w").days[1].seconds == 60


def test_seconds_are_written_to_the_millisecond_and_a_tempo_to_the_millionth() -> None:
    item = PracticeItem(parse_exercise("1/8: RL"), Tempo.parse("1/12=70.123456"), 1, 100 / 7)
    data: Any = plan_as_data(PracticePlan((PracticeDay((item,)),)))
    (written,) = data["days"][0]["items"]
    assert (written["seconds"], written["tempo"]) == (14.286, "1/12 = 70.123456")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", r"^week\.json, line 1, column 1: got no JSON \(expecting value\); must be a plan such as "),
        ("[]", r"^week\.json: got a list; must be a plan such as"),
        ("{}", r"^week\.json: got no list of days; must be a plan"),
        ('{"days": []}', r"^week\.json: got 0 days; must be 1 to 366\.$"),
        ('{"days": [7]}', r"^week\.json, day 1: got a number; must be an object with \"items\", a list\.$"),
        ('{"days": [{}]}', r"^week\.json, day 1: got no list of items; must be"),
        (
            '{"days": [{"items": []}]}',
            r"got days without an item; must be at least one exercise on one day\.$",
        ),
        ('{"days": [{"items": [null]}]}', r"^week\.json, day 1, item 1: got null; must be an object"),
        (a_week(exercise="1/8: RXL"), r"day 2, item 1, exercise, at its character 7: got 'X'; must be R, L"),
        (a_week(exercise=...), r"day 2, item 1, exercise: got nothing; must be an exercise's text"),
        (a_week(tempo="fast"), r"day 2, item 1, tempo: got 'fast'; must be a note value and beats a minute"),
        (a_week(tempo=70), r"day 2, item 1, tempo: got 70; must be such as 1/8=70\.$"),
        (a_week(tempo="1/8=2"), r"day 2, item 1, tempo: got 2; must be 5 to 1000 beats a minute\.$"),
        (a_week(stroke="flam"), r'item 1, stroke: got "flam"; must be tap, half or full\.$'),
        (a_week(repetitions=0), r"item 1, repetitions: got 0; must be a whole number, 1 to 100000\.$"),
        (a_week(repetitions=True), r"item 1, repetitions: got true; must be a whole number"),
        (a_week(repetitions=2.5), r"item 1, repetitions: got 2\.5; must be a whole number"),
        (a_week(seconds=-1), r"item 1, seconds: got -1; must be seconds, 0 to 86400\.$"),
        (a_week(seconds="60"), r'item 1, seconds: got "60"; must be seconds, 0 to 86400\.$'),
        (a_week(seconds=1e999), r"^week\.json: got Infinity; must be a number\.$"),
        (a_week(rest_s=None), r"item 1, rest_s: got null; must be seconds"),
        (a_week(why=3), r"item 1, why: got 3; must be text\.$"),
        (a_week(why="\ud800"), r"item 1, why: got half of a letter; must be text that can be written\.$"),
        (a_week(title="x" * 2001), r"item 1, title: got 2001 characters; must be at most 2000 characters\.$"),
        (
            a_week(repetition=4),
            r"item 1: got the key 'repetition'; must be one of exercise, block,",
        ),
        (a_week(day={"seconds": 900}), r"day 2, seconds: got 900; must be 60, what its items and rests add"),
        (a_week(plan={"starts": "30.11."}), r"week\.json, starts: got '30\.11\.'; must be a date such as"),
        (a_week(plan={"student": ["M"]}), r'week\.json, student: got \["M"\]; must be text\.$'),
        ("[" * 200_000, r"^week\.json: got lists within lists without end; must be a plan\.$"),
        ('{"days": ' + "9" * 5000 + "}", r"^week\.json: got a number without end; must be numbers of a few"),
    ],
)
def test_what_cannot_be_read_is_named_by_its_day_and_item(text: str, said: str) -> None:
    with pytest.raises(BadPlan, match=said):
        plan_from_json(text, name="week.json")


def test_a_file_is_read_with_or_without_a_byte_order_mark(tmp_path: Path) -> None:
    file = tmp_path / "week.json"
    file.write_text("\ufeff" + WEEK, encoding="utf-8")
    assert read_plan(file) == PLAN


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "week.json"
    file.write_bytes(b"\x00\xff\xfe{}")
    with pytest.raises(BadPlan, match=r"week\.json: got bytes that are not text; must be a text file"):
        read_plan(file)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadPlan, match=r"none\.json: got no such file"):
        read_plan(tmp_path / "none.json")


def test_the_plan_in_the_documentation_is_one() -> None:
    plan = read_plan(Path(__file__).parents[3] / "docs" / "week.json")
    assert [day.seconds for day in plan.days] == [15 * 60] * 5
    assert all(4 <= len(day.items) <= 7 for day in plan.days)
    assert {day.items[0].block for day in plan.days} == {"warm-up"}
    assert {day.items[-1].block for day in plan.days} == {"record"}
    assert all(item.purpose for day in plan.days for item in day.items)
