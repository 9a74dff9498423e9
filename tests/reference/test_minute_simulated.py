"""Strokes of simulated players are counted exact to the stroke, up to 22 a second.

Truth by construction: the player's blows (``sound.player``). A drum that rings hides strokes of a softer
hand; they are counted by the train. The fastest minute known, 1208 strokes (2013; from memory), is
the bound beyond which a count is doubted.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from evenhand.acts.takes.tests import BEYOND_RECORD, MinuteRequest, hear_minute
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.progress.minute.rates import RECORD_PER_S, HeardMinute
from evenhand.report.words.remarks import remark_words
from evenhand.synthesis.instruments import Room, Scene
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import Player
from evenhand.testing import FakeTakes, sound_take

SINGLES = parse_exercise("1/16: RLRL RLRL")
ROOM = Room(0.3, -14)


def both(
    rate: float,
    *,
    seconds: float = 8.0,
    asked_s: float = 60.0,
    seed: int = 1,
    scene: dict[str, Any] | None = None,
    **player: Any,
) -> tuple[int, HeardMinute]:
    """Let a player play so many strokes a second; return the true count and what was heard."""
    set_in: dict[str, Any] = {"noise_snr_db": 35.0, "room": ROOM, "count_in": "none", **(scene or {})}
    plays: dict[str, Any] = {"timekeeper_sd_ms": 1.5, "hand_sd_ms": {"R": 1.5, "L": 2.0}, **player}
    take = simulate(
        SINGLES,
        Tempo(Fraction(1, 4), rate * 15),
        round(rate * seconds / 8),
        player=Player(follow_click=False, **plays),
        scene=Scene(**set_in),
        seed=seed,
    )
    times = np.sort([hit.time_s for hit in take.truth.hits])
    opens = FakeTakes({"minute.wav": sound_take(take.samples, take.rate_hz)})
    heard = hear_minute(Path("minute.wav"), MinuteRequest(asked_s), opens=opens)
    return int((times < times[0] + asked_s).sum()), heard


@pytest.mark.parametrize("instrument", ["pad", "snare"])
@pytest.mark.parametrize("rate", [5.0, 14.0, 22.0])
def test_even_hands(rate: float, instrument: str) -> None:
    true, heard = both(rate, scene={"instrument": instrument})
    assert heard.strokes == true


@pytest.mark.parametrize("rate", [8.0, 16.0, 22.0])
def test_uneven_hands_on_a_pad(rate: float) -> None:
    """The left hand late by a sixth of the interval and 5 dB softer, in noise only 22 dB down."""
    late = {"R": 0.0, "L": 1000 / rate / 6}
    true, heard = both(rate, late_ms=late, level_db={"R": 0.0, "L": -5.0}, scene={"noise_snr_db": 22.0})
    assert (heard.strokes, heard.hidden) == (true, 0)
    late_ms, level_db = heard.second_hand_late_ms, heard.level_difference_db
    assert late_ms.value == pytest.approx(late["L"], abs=1.5)
    assert level_db.value == pytest.approx(-5.0, abs=0.7)


def test_a_soft_hand_that_a_snare_hides() -> None:
    """20 strokes a second, the left 4 dB softer: some are not to be heard by themselves."""
    true, heard = both(
        20.0, level_db={"R": 0.0, "L": -4.0}, late_ms={"R": 0.0, "L": 5.0}, scene={"instrument": "snare"}
    )
    assert heard.strokes == true
    assert heard.hidden > 0


@pytest.mark.slow
def test_a_whole_minute_that_tires_and_beats_the_record() -> None:
    """From 22 strokes a second on, slower by 1.1 within the minute."""
    true, heard = both(22.0, seconds=62.0, drift_bpm_per_min=-16.5, fatigue_db=3.0)
    assert heard.strokes == true
    assert (heard.seconds, heard.whole, heard.per_minute) == (60.0, True, true)
    assert heard.tiring_per_minute.ci95 is not None
    low, high = heard.tiring_per_minute.ci95
    assert low < -1.1 < high
    assert remark_words(BEYOND_RECORD) in heard.warnings


def test_strokes_left_out_are_not_counted() -> None:
    true, heard = both(12.0, miss_rate=0.04, seed=3)
    assert heard.strokes == true
    assert heard.left_out_s


def test_the_bound_is_the_published_record() -> None:
    """1208 strokes in 60 s: 20.133 a second (computed from the press figure)."""
    assert abs(RECORD_PER_S - 20.1333) < 1e-4
