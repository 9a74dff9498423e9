"""A day as one timetable: its order, and its seconds to the last."""

from __future__ import annotations

import pytest

from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem
from evenhand.planning.session import session_events


def item(text: str, tempo: str, repetitions: int, seconds: float, **more: float) -> PracticeItem:
    return PracticeItem(
        parse_exercise(text),
        Tempo.parse(tempo),
        repetitions,
        seconds,
        rest_s=more.get("rest_s", 0.0),
        goes=int(more.get("goes", 1)),
        pause_s=more.get("pause_s", 0.0),
    )


def test_each_item_is_said_counted_in_and_played_and_its_goes_have_pauses() -> None:
    """At 60 four beats last 4 s: two goes of 4 + 8 s, 5 s between; then 10 s rest; a waltz counts three."""
    day = PracticeDay(
        (
            item("1/8: RLRR LRLL", "1/4=60", 2, 29, goes=2, pause_s=5, rest_s=10),
            item("3/4 1/4: RLR", "1/4=60", 3, 12),
        )
    )
    assert [(e.kind, e.at_s, e.seconds, e.item, e.go) for e in session_events(day)] == [
        ("announce", 0, 0, 0, 0),
        ("count-in", 0, 4, 0, 1),
        ("play", 4, 8, 0, 1),
        ("pause", 12, 5, 0, 1),
        ("count-in", 17, 4, 0, 2),
        ("play", 21, 8, 0, 2),
        ("announce", 29, 0, 1, 0),
        ("rest", 29, 10, 0, 0),
        ("count-in", 39, 3, 1, 1),
        ("play", 42, 9, 1, 1),
    ]


def test_a_day_lasts_its_seconds_exactly() -> None:
    """What is left of whole seconds goes to the rests: 4 beats and 16 eighths at 97 last 7.42 s of 8."""
    day = PracticeDay((item("1/8: RLRR LRLL", "1/4=97", 2, 8, rest_s=12), item("1/8: RL", "1/4=83", 4, 6)))
    last = session_events(day)[-1]
    assert last.at_s + last.seconds == pytest.approx(day.seconds, abs=1e-9)
    assert day.seconds == 26


def test_where_too_little_time_was_given_the_rest_is_shorter() -> None:
    day = PracticeDay((item("1/4: RLRL", "1/4=60", 2, 10, rest_s=5),))
    assert [(e.kind, e.seconds) for e in session_events(day)][-2:] == [("play", 8), ("rest", 3)]
