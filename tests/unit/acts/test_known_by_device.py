"""What a device knows of its take: where the count-in ended, and when its click sounded."""

from __future__ import annotations

from dataclasses import replace

import pytest

from evenhand.acts.takes.read import judged_by_click, known_by_device
from evenhand.measuring.values import HeardTake
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.take import Heard, Hit
from tests.builders import a_blind_take, a_heard_take, a_remark

TEXT, TEMPO = "1/8: RL", Tempo.parse("1/8=120")  # half a second a note
FIRST_S, DELAY_MS = 3.0, 80.0
FACTS = {"click": "headphones", "first_note_s": "3.0"}


def a_take(late_ms: dict[str, float], begins_s: float = FIRST_S, **heard: object) -> HeardTake:
    """Give sixteen repetitions, each hit late by its hand's ms, the device's delay on top."""
    hits = tuple(
        Hit(
            begins_s + 0.5 * i + (DELAY_MS + late_ms[hand]) / 1e3 + 0.002 * (-1) ** (i // 2),
            -12.0,
            0.95,
            hand,  # type: ignore[arg-type] # a letter is a hand
            1 + i // 2,
            i % 2,
            deviation_ms=0.0,
            written=i / 8,
        )
        for i, hand in enumerate("RL" * 16)
    )
    return a_heard_take(
        exercise=parse_exercise(TEXT),
        exercise_text=TEXT,
        tempo=TEMPO,
        heard=replace(Heard(hits, clock="smooth", tempo_bpm=120.0), **heard),  # type: ignore[arg-type] # a test's choice
    )


def test_with_the_delay_known_each_hand_is_early_or_late_against_the_click() -> None:
    """By hand: the right comes 5 ms early, the left 20 ms late, 2 ms to and fro left aside."""
    judged = known_by_device(a_take({"R": -5.0, "L": 20.0}), FACTS, DELAY_MS)
    assert judged.heard.clock == "click"
    assert judged.measures is not None
    assert judged.measures.hands["R"].timing_mean_ms.value == pytest.approx(-5.0, abs=0.01)
    assert judged.measures.hands["L"].timing_mean_ms.value == pytest.approx(20.0, abs=0.01)
    assert judged.findings[0].kind == "late_hand"


def test_who_begins_two_beats_late_is_judged_by_the_beat_played_on() -> None:
    judged = judged_by_click(
        a_take({"R": 3.0, "L": 3.0}, FIRST_S + 1.0), first_note_s=FIRST_S, latency_ms=DELAY_MS
    )
    lates = [hit.asynchrony_ms for hit in judged.heard.hits]
    assert lates[:4] == pytest.approx([5.0, 5.0, 1.0, 1.0], abs=1e-6)


def test_without_the_delay_nothing_is_called_early_or_late() -> None:
    take = a_take({"R": -5.0, "L": 20.0})
    assert known_by_device(take, FACTS, None) == take


def test_a_click_that_the_recording_holds_is_left_to_the_ear() -> None:
    take = a_take({"R": -5.0, "L": 20.0}, clock="click")
    assert known_by_device(take, FACTS, DELAY_MS) == take
    assert (
        known_by_device(a_take({"R": 0.0, "L": 0.0}), {**FACTS, "click": "room"}, DELAY_MS).heard.clock
        == "smooth"
    )


def test_a_take_that_begins_where_the_count_in_ended_begins_with_note_one() -> None:
    doubt = a_remark("The take fits two alignments.")
    when_due = a_take({"R": 0.0, "L": 0.0}, ambiguity=doubt)
    later = a_take({"R": 0.0, "L": 0.0}, FIRST_S + 0.5, ambiguity=doubt)
    for delay_ms in (DELAY_MS, None):
        assert known_by_device(when_due, {"first_note_s": "3.0"}, delay_ms).heard.ambiguity is None
        assert known_by_device(later, {"first_note_s": "3.0"}, delay_ms).heard.ambiguity == doubt


@pytest.mark.parametrize("text", ["", "nan", "-1", "soon"])
def test_a_first_note_that_is_no_time_says_nothing(text: str) -> None:
    take = a_take({"R": 0.0, "L": 0.0})
    assert known_by_device(take, {**FACTS, "first_note_s": text}, DELAY_MS) == take


def test_a_take_heard_blind_stays_as_it_is() -> None:
    assert known_by_device(a_blind_take(), FACTS, DELAY_MS) == a_blind_take()
