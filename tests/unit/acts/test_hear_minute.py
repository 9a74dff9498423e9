"""Counting a minute: from a take to figures, and to JSON in the contract's words."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from evenhand.acts.takes.tests import MinuteRequest, hear_minute, minute_json, minute_text
from evenhand.errors import NothingHeard, WrongOptions
from evenhand.progress.minute.rates import HeardMinute
from evenhand.testing import FakeTakes, midi_take, sound_take


def hear(times: list[float], asked: MinuteRequest | None = None) -> HeardMinute:
    take = midi_take(times, [-12.0 - 2 * (k % 2) for k in range(len(times))])
    return hear_minute(Path("m.mid"), asked or MinuteRequest(), opens=FakeTakes({"m.mid": take}))


def singles(rate: float, seconds: float, start_s: float = 1.0) -> list[float]:
    return [start_s + k / rate for k in range(round(rate * seconds))]


def test_the_minute_runs_from_the_first_stroke() -> None:
    heard = hear(singles(10, 75))
    assert (heard.strokes, heard.seconds, heard.whole, heard.per_minute) == (600, 60.0, True, 600.0)
    assert heard.start_s == pytest.approx(1.0)
    assert heard.warnings == ()


def test_a_minute_that_ends_with_its_last_stroke_is_whole() -> None:
    heard = hear(singles(12, 60))
    assert (heard.strokes, heard.whole, heard.per_minute) == (720, True, 720.0)


def test_a_shorter_take_says_so_and_reckons_by_its_rate() -> None:
    """Worked by hand: 100 strokes in 9.9 s are 10 a second, 600 a minute."""
    heard = hear(singles(10, 10))
    assert (heard.strokes, heard.whole) == (100, False)
    assert heard.seconds == pytest.approx(9.9)
    assert heard.per_minute == pytest.approx(600.0)
    assert "lasts 9.9 s, not 60" in heard.warnings[0]


def test_more_than_the_record_is_doubted() -> None:
    assert any("published record of 1208" in warning for warning in hear(singles(21, 62)).warnings)
    assert not any("record" in warning for warning in hear(singles(19.9, 62)).warnings)


def test_a_stop_is_counted_and_no_stroke_is_made_up() -> None:
    heard = hear(singles(10, 20) + singles(10, 20, 25.0))
    assert (heard.strokes, heard.stops, heard.hidden) == (400, 1, 0)


def test_the_contracts_words() -> None:
    written = minute_json(hear(singles(10, 62), MinuteRequest(first_hand="R")))
    assert {"strokes", "seconds", "per_minute", "rate_per_s", "tiring_per_minute"} <= set(written)
    assert written["rate_per_s"][0] == pytest.approx([2.0, 10.0])
    assert {"value", "ci95"} <= set(written["tiring_per_minute"])
    assert written["tiring_per_minute"]["value"] == pytest.approx(0.0, abs=1e-6)
    assert minute_text(hear(singles(10, 62))).endswith("}\n")


def test_few_blows_are_no_minute() -> None:
    with pytest.raises(NothingHeard, match="no steady run of strokes"):
        hear([1.0, 1.5, 2.0])


def test_noise_is_no_minute(rng: np.random.Generator) -> None:
    noise = (1e-3 * rng.standard_normal(96_000)).astype(np.float32)
    with pytest.raises(NothingHeard):
        hear_minute(Path("n.wav"), MinuteRequest(), opens=FakeTakes({"n.wav": sound_take(noise)}))


@pytest.mark.parametrize("seconds", [0.5, 4000.0, float("nan")])
def test_what_is_counted_has_a_length(seconds: float) -> None:
    with pytest.raises(WrongOptions, match="seconds to count"):
        MinuteRequest(seconds)
