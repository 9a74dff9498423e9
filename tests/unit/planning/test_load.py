"""What is asked of a load is read or refused, and what comes out is plain JSON."""

from __future__ import annotations

from datetime import date

import pytest

from evenhand.acts.documents import json_of
from evenhand.acts.weeks.progress import load_json, read_spells, show_load
from evenhand.errors import WrongOptions
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.load import SoundSpell
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.progress.history import History


def plan(repetitions: int, starts: date) -> PracticePlan:
    item = PracticeItem(parse_exercise("1/8: RLRR LRLL"), Tempo.parse("1/8=70"), repetitions, 60.0)
    return PracticePlan((PracticeDay((item,)),), "Ines Varga", starts)


def test_levels_and_minutes_are_read() -> None:
    assert read_spells(["94:30", " 88.5 : 45.25 "]) == (SoundSpell(94, 30), SoundSpell(88.5, 45.25))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("94", "the sound '94'; must be a level in dBA and minutes"),
        ("94:", "must be a level in dBA and minutes"),
        ("loud:30", "the sound 'loud:30'"),
        ("-94:30", "must be a level"),
        ("nan:30", "must be a level"),
        ("٩٤:30", "must be a level"),
        ("94:0", "0 minutes at 94 dBA; must be more than 0"),
        ("94:1441", "1441 minutes at 94 dBA; must be more than 0 and at most 1440"),
        ("141:1", "a level of 141 dBA; must be 30 to 140 dBA"),
        ("29:1", "a level of 29 dBA"),
    ],
)
def test_what_is_no_level_is_refused_by_name(text: str, message: str) -> None:
    with pytest.raises(WrongOptions, match=message):
        read_spells([text])


def test_a_day_has_1440_minutes() -> None:
    assert len(read_spells(["80:1000", "60:440"])) == 2
    with pytest.raises(WrongOptions, match="sound for 1441 minutes; must be at most 1440, one day"):
        read_spells(["80:1000", "60:441"])


def test_nothing_to_count_is_refused() -> None:
    with pytest.raises(WrongOptions, match="--history, --plan or --sound"):
        show_load(None, (), ())


def test_the_json_says_weeks_jumps_and_sound() -> None:
    """By hand: ten and thirteen times 4 right and 4 left; 13 is 30 % more than 10."""
    plans = [plan(10, date(2026, 3, 9)), plan(13, date(2026, 3, 16))]
    found = load_json(show_load(None, plans, [SoundSpell(94, 30), SoundSpell(88, 45)]))
    assert found["student"] == "Ines Varga"
    assert found["recorded"] is None
    first = found["assigned"]["weeks"][0]
    assert (first["week"], first["monday"], first["days"]) == ("2026-W11", "2026-03-09", 1)
    assert first["hands"] == {"R": {"strokes": 40, "minutes": 1.0}, "L": {"strokes": 40, "minutes": 1.0}}
    assert [(jump["hand"], jump["figure"], jump["rise_percent"]) for jump in found["assigned"]["jumps"]] == [
        ("R", "strokes", 30.0),
        ("L", "strokes", 30.0),
    ]
    assert found["sound"]["niosh"] == {
        "dose_percent": 68.75,
        "average_8h_dba": 83.3727,
        "over_ceiling": False,
    }
    assert found["sound"]["spells"][0]["niosh_allowed_min"] == 60.0


def test_an_empty_history_is_an_empty_list_of_weeks() -> None:
    found = load_json(show_load(History(left_out=("a.wav: nothing sounds",)), (), ()))
    assert found["recorded"] == {"weeks": [], "jumps": []}
    assert found["left_out"] == ["a.wav: nothing sounds"]
    assert json_of(found)


def test_the_json_carries_the_cautions() -> None:
    cautions = " ".join(load_json(show_load(History(), (), ()))["cautions"])
    assert "see a clinician" in cautions
    assert "sound level meter" in cautions
