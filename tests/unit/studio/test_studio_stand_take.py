"""What a device sends is read, or refused by name."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from evenhand.errors import BadExercise, WrongOptions
from evenhand.studio.stand.sent import new_take, read_device, read_live
from evenhand.studio.values import Device, NewTake, Student
from tests.studios import NOON

INES = Student("s1", "Ines Hollander", "half", NOON)
KEY = "0123456789abcdef0123"


def read(device: Device | None = None, **form: str) -> NewTake:
    wanted = {"upload_key": KEY, "exercise": "1/8: RL", "tempo": "1/8=84", "source": "microphone", **form}
    return new_take(INES, wanted, now=NOON, file_name="take.wav", device=device)


def test_a_take_is_read_with_its_facts() -> None:
    take = read(click="room", week="w", day="2", item="1", first_note_s="3.2", stranger="no")
    assert (take.student_id, take.upload_key, take.exercise, take.tempo) == ("s1", KEY, "1/8: RL", "1/8 = 84")
    assert take.facts == {"click": "room", "week": "w", "day": "2", "item": "1", "first_note_s": "3.2"}
    assert take.click == "auto"


def test_without_a_click_the_ear_looks_for_none() -> None:
    assert read(click="off").click == "none"


def test_the_delay_of_the_device_goes_with_what_it_recorded_only() -> None:
    device = Device("d1", "s1", "phone", 87.5)
    assert read(device).latency_ms == 87.5
    assert read(device, source="upload").latency_ms is None


@pytest.mark.parametrize("key", ["", "short", "a" * 65, "../../../../etc/passwd", "ключ" * 5])
def test_an_upload_key_that_is_none_is_refused(key: str) -> None:
    with pytest.raises(WrongOptions, match="upload key"):
        read(upload_key=key)


def test_an_exercise_that_cannot_be_read_is_refused() -> None:
    with pytest.raises(BadExercise):
        read(exercise="1/8: RLX")


@pytest.mark.parametrize(
    "text",
    ["", "yesterday", (NOON + timedelta(days=2)).isoformat(), "1999-01-01T00:00:00+00:00", "2026-03-01"],
)
def test_a_moment_that_cannot_be_is_the_moment_it_came(text: str) -> None:
    assert read(recorded_at=text).recorded_at == NOON


def test_a_moment_is_read_in_any_time_zone() -> None:
    assert read(recorded_at="2026-03-02T12:30:00+01:00").recorded_at == NOON - timedelta(minutes=30)


@pytest.mark.parametrize("text", ["-1", "2001", "nan", "inf", "quick"])
def test_a_delay_that_no_device_has_is_refused(text: str) -> None:
    with pytest.raises(WrongOptions, match="delay"):
        read_device(INES, {"latency_ms": text}, now=NOON)


def test_a_device_is_read() -> None:
    device = read_device(INES, {"latency_ms": "87.5", "label": " a  phone "}, now=NOON)
    assert device == Device("", "s1", "a phone", 87.5, NOON)


def begin(**changes: Any) -> dict[str, Any]:
    return {"rate": 48_000, "exercise": "1/8: RL", "tempo": "1/8=84", **changes}


def test_a_live_take_begins_with_its_clicks_laid_out() -> None:
    asked = read_live(begin(first_note_s=2.5, clicks={"first_s": 0.5, "beat_s": 0.5, "count": 3}))
    assert asked.first_note_s == 2.5
    assert asked.clicks_s == (0.5, 1.0, 1.5)


def test_drops_are_heard_live_without_an_exercise() -> None:
    """Their bounces are no notes of it."""
    begun = read_live({"rate": 48000, "exercise": "1/2: R- L-", "tempo": "1/4=60", "first_note_s": 1.0})
    assert (begun.asked.exercise, begun.first_note_s) == (None, None)


def test_only_clicks_that_sound_are_expected() -> None:
    """Four beats of half a second are counted in, then every second one of a bar of four sounds: 2 and 4."""
    clicks = {"first_s": 1.0, "beat_s": 0.5, "count": 12, "counted": 4, "pattern": "2-and-4"}
    asked = read_live(begin(exercise="1/8: RLRR LRLL", tempo="1/4=120", clicks=clicks))
    assert asked.clicks_s == (1.0, 1.5, 2.0, 2.5, 3.5, 4.5, 5.5, 6.5)


def test_clicks_of_a_pickup_are_expected_where_they_sound_and_a_faded_one_no_more() -> None:
    """2.5 beats are counted before a pickup of an eighth; a click that has faded away ends."""
    clicks = {"first_s": 0.0, "beat_s": 1.0, "count": 6, "counted": 2.5, "pattern": "fade=1:1"}
    asked = read_live(begin(exercise="3/4 pickup 1/8: R | RLRLRL", tempo="1/4=60", clicks=clicks))
    assert asked.clicks_s == (0.0, 1.0, 2.0, 3.0, 4.0, 5.0)
    long = {**clicks, "count": 4000, "counted": 0}
    asked = read_live(begin(exercise="3/4 1/8: RLRLRL", tempo="1/4=60", clicks=long))
    assert asked.clicks_s == (0.0, 1.0, 2.0, 3.0, 4.0, 5.0)


@pytest.mark.parametrize(
    "message",
    [
        [],
        "text",
        begin(rate="fast"),
        begin(rate=1000),
        begin(rate=True),
        begin(first_note_s=-1),
        begin(first_note_s=1e9),
        begin(clicks=[]),
        begin(clicks={"first_s": 0, "beat_s": 0, "count": 3}),
        begin(clicks={"first_s": 0, "beat_s": 1, "count": 10**9}),
        begin(exercise=3),
        begin(tempo="1/8=84", exercise=""),
    ],
)
def test_a_live_take_that_begins_wrongly_is_refused(message: object) -> None:
    with pytest.raises(WrongOptions):
        read_live(message)
