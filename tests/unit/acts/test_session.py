"""A day as one track: what comes when, how long it is, what is heard where."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from evenhand.acts.weeks.session import SessionAsked, WrittenSession, day_of, write_session
from evenhand.errors import WrongOptions
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.synthesis.click import Floats
from evenhand.synthesis.playalong import Mixing

RATE_HZ = 44_100


def item(text: str, tempo: str, repetitions: int, seconds: float, rest_s: float, **more: Any) -> PracticeItem:
    return PracticeItem(parse_exercise(text), Tempo.parse(tempo), repetitions, seconds, rest_s=rest_s, **more)


# At 60: 4 s counted and 8 s played, twice, with 5 s between; a rest of 10 s; 4 s and 4 s; a rest of 3 s.
DAY = PracticeDay(
    (
        item("1/4: RLRL", "1/4=60", 2, 29, 10, goes=2, pause_s=5, title="Slow singles"),
        item("1/4: RRLL", "1/4=60", 1, 8, 3),
    )
)


def silent(_words: str, _rate_hz: int) -> None:
    return None


def spoken(seconds: float) -> Any:
    """Return somebody who speaks, each time as long."""
    return lambda _words, rate_hz: 0.1 * np.ones(round(seconds * rate_hz))


def written(tmp_path: Path, speaks: Any, **more: Any) -> tuple[WrittenSession, Floats]:
    out = tmp_path / "day.wav"
    told: list[float] = []
    made = write_session(DAY, out, SessionAsked(Mixing(**more), rate_hz=RATE_HZ), speaks, told.append)
    assert told[-1] == 1.0
    assert told == sorted(told)
    samples, _ = soundfile.read(out, dtype="float64", always_2d=True)
    return made, np.asarray(samples)


def chapters(made: WrittenSession) -> list[tuple[float, float, str, int, int]]:
    return [
        (c["time_s"], c["seconds"], c["kind"], c["item"], c.get("go", 0))
        for c in made.written.timetable["chapters"]
    ]


def test_a_day_without_speech_has_chimes_and_time_to_read(tmp_path: Path) -> None:
    """8 s before the first; before the second 8 s in a rest that holds 10 - 4: it gets 2 s longer."""
    made, samples = written(tmp_path, silent)
    assert chapters(made) == [
        (0, 8, "announce", 1, 0),
        (8, 4, "count-in", 1, 1),
        (12, 8, "play", 1, 1),
        (20, 5, "pause", 1, 1),
        (25, 4, "count-in", 1, 2),
        (29, 8, "play", 1, 2),
        (37, 8, "announce", 2, 0),
        (37, 12, "rest", 1, 0),
        (49, 4, "count-in", 2, 1),
        (53, 4, "play", 2, 1),
        (57, 3, "rest", 2, 0),
    ]
    assert (made.day_s, made.announced_s, made.spoken) == (50, 10, False)
    assert made.written.seconds == len(samples) / RATE_HZ == 60


def test_what_is_spoken_lengthens_the_day_by_what_its_rests_do_not_hold(tmp_path: Path) -> None:
    """2.5 s of words need 5: before the first all of it; the rest of 10 s holds it and its ticks."""
    made, _ = written(tmp_path, spoken(2.5))
    assert (made.announced_s, made.spoken, made.written.seconds) == (5, True, 55)
    said = [c["said"] for c in made.written.timetable["chapters"] if c["kind"] == "announce"]
    assert said[0] == "Number one of two. Slow singles. 60 quarter notes a minute. Two goes, two times each."
    assert said[1].startswith("Number two of two. Right, right, left, left.")


def test_the_last_four_seconds_of_a_rest_tick_softly_and_the_end_is_quiet(tmp_path: Path) -> None:
    _, samples = written(tmp_path, silent)

    def peak(at_s: float, seconds: float = 0.05) -> float:
        first = round(at_s * RATE_HZ)
        return float(np.abs(samples[first : first + round(seconds * RATE_HZ)]).max())

    click = peak(8)
    for at_s in (21, 22, 23, 24, 45, 46, 47, 48):
        assert 0.05 < peak(at_s) / click < 0.3
    assert peak(40, 4) == 0.0
    assert peak(58, 2) < 1e-4


def test_the_click_may_be_in_one_ear(tmp_path: Path) -> None:
    _, samples = written(tmp_path, silent, ear="left", played_db=None)
    assert samples.shape[1] == 2
    begin, end = round(8 * RATE_HZ), round(12 * RATE_HZ)
    assert samples[begin:end, 0].any()
    assert not samples[begin:end, 1].any()


def test_a_take_to_record_has_the_click_alone(tmp_path: Path) -> None:
    """Played between two clicks at 60, an eighth after each: nothing but silence there."""
    records = PracticeDay((item("1/8: RLRL", "1/4=60", 2, 8, 0, block="record"),))
    out = tmp_path / "d.wav"
    write_session(records, out, SessionAsked(Mixing(groove=True), rate_hz=RATE_HZ), silent)
    samples, _ = soundfile.read(out)
    between = round(12.4 * RATE_HZ), round(12.9 * RATE_HZ)
    assert np.abs(samples[round(12 * RATE_HZ) :][:2000]).max() > 0.1
    assert not samples[slice(*between)].any()


def test_a_tempo_that_does_not_fill_the_bars_is_played_all_the_same(tmp_path: Path) -> None:
    day = PracticeDay((item("7/8 1/8: RLRLRLR", "1/4=60", 2, 11, 5),))
    made = write_session(day, tmp_path / "d.wav", SessionAsked(Mixing(), rate_hz=RATE_HZ), silent)
    assert [c["seconds"] for c in made.written.timetable["chapters"][1:]] == [3.5, 7, 5.5]


@pytest.mark.parametrize(("number", "said"), [(0, "day 0"), (3, "1 to 2"), (2, "no exercise")])
def test_a_day_that_is_not_there_is_refused(number: int, said: str) -> None:
    with pytest.raises(WrongOptions, match=said):
        day_of(PracticePlan((DAY, PracticeDay(()))), number)
