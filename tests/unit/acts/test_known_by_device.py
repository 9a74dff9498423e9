"""What a device knows of its take: where the count-in ended, and when its click sounded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from evenhand.acts.takes.hear import against_click, known_by_device
from evenhand.acts.takes.request import RecordingDevice, pattern_of
from evenhand.measuring.measure import measure
from evenhand.measuring.rules.findings import find
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


def judged(take: HeardTake, facts: Mapping[str, str], latency_ms: float | None) -> HeardTake:
    """Take in what the device knows, and measure."""
    device = RecordingDevice.of(facts, latency_ms)
    if device is None or take.exercise is None or take.tempo is None:
        return take
    heard = known_by_device(take.heard, take.exercise, take.tempo, device)
    measures = measure(heard, take.exercise, take.tempo)
    findings = find(heard, measures, take.exercise, take.tempo)
    return replace(take, heard=heard, measures=measures, findings=findings)


def test_with_the_delay_known_each_hand_is_early_or_late_against_the_click() -> None:
    """By hand: the right comes 5 ms early, the left 20 ms late, 2 ms to and fro left aside."""
    take = judged(a_take({"R": -5.0, "L": 20.0}), FACTS, DELAY_MS)
    assert take.heard.clock == "click"
    assert take.measures is not None
    assert take.measures.hands["R"].timing_mean_ms.value == pytest.approx(-5.0, abs=0.01)
    assert take.measures.hands["L"].timing_mean_ms.value == pytest.approx(20.0, abs=0.01)
    assert take.findings[0].kind == "late_hand"


def test_who_begins_two_beats_late_is_judged_by_the_beat_played_on() -> None:
    take = a_take({"R": 3.0, "L": 3.0}, FIRST_S + 1.0)
    heard = against_click(take.heard, TEMPO, FIRST_S + DELAY_MS / 1e3)
    lates = [hit.asynchrony_ms for hit in heard.hits]
    assert lates[:4] == pytest.approx([5.0, 5.0, 1.0, 1.0], abs=1e-6)


def test_without_the_delay_nothing_is_called_early_or_late() -> None:
    take = a_take({"R": -5.0, "L": 20.0})
    assert judged(take, FACTS, None).heard == take.heard


def test_a_click_that_the_recording_holds_is_left_to_the_ear() -> None:
    take = a_take({"R": -5.0, "L": 20.0}, clock="click")
    assert judged(take, FACTS, DELAY_MS).heard == take.heard
    assert judged(a_take({"R": 0.0, "L": 0.0}), {**FACTS, "click": "room"}, DELAY_MS).heard.clock == "smooth"


def test_a_take_that_begins_where_the_count_in_ended_begins_with_note_one() -> None:
    doubt = a_remark("The take fits two alignments.")
    when_due = a_take({"R": 0.0, "L": 0.0}, ambiguity=doubt)
    later = a_take({"R": 0.0, "L": 0.0}, FIRST_S + 0.5, ambiguity=doubt)
    for delay_ms in (DELAY_MS, None):
        assert judged(when_due, {"first_note_s": "3.0"}, delay_ms).heard.ambiguity is None
        assert judged(later, {"first_note_s": "3.0"}, delay_ms).heard.ambiguity == doubt


@pytest.mark.parametrize("text", ["", "nan", "-1", "soon"])
def test_a_first_note_that_is_no_time_says_nothing(text: str) -> None:
    take = a_take({"R": 0.0, "L": 0.0})
    assert judged(take, {**FACTS, "first_note_s": text}, DELAY_MS) == take


def test_a_take_heard_blind_stays_as_it_is() -> None:
    assert judged(a_blind_take(), FACTS, DELAY_MS) == a_blind_take()


def test_which_click_was_on_is_a_fact_of_the_take() -> None:
    assert str(pattern_of({"pattern": "2-and-4 silent=2:2"})) == "2-and-4 silent=2:2"
    assert str(pattern_of({})) == str(pattern_of({"pattern": "nonsense"})) == "beats"
