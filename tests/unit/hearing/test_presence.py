"""At which beats a click sounds: by evidence worked by hand, and in takes whose clicks are known."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.hearing.clicks.between import on_its_beats
from evenhand.hearing.clicks.find import find_click, find_sounds
from evenhand.hearing.clicks.presence import sounding
from evenhand.hearing.onsets.candidates import find_onsets
from evenhand.music.click_pattern import EVERY_BEAT, ClickPattern
from tests.unit.hearing.sounds import RATE_HZ, bursts, clicks, floor_of_noise

BEAT_S = 0.5004567
BEATS = np.arange(48)
PATTERNS = {
    "every beat": BEATS >= 0,
    "two and four after a bar of every beat": (BEATS < 4) | (BEATS % 2 == 1),
    "the first of a bar after a bar of every beat": (BEATS < 4) | (BEATS % 4 == 0),
    "two bars heard, two silent": (BEATS < 4) | ((BEATS - 4) % 16 < 8),
    "bars drawn by lot": np.isin(BEATS // 4, (0, 1, 2, 4, 5, 8, 9, 10)),
    "a count-in only": BEATS < 4,
}


@pytest.mark.parametrize("there", PATTERNS.values(), ids=PATTERNS)
def test_the_beats_of_a_pattern_are_told_together(there: np.ndarray) -> None:
    """Every third beat says which it is clearly, the others hardly, and one says the wrong thing."""
    sure = np.where(BEATS % 3 == 0, 3.0, 0.6)
    nats = np.where(there, sure, -sure)
    nats[22] = -np.sign(nats[22]) * 0.4
    assert sounding(nats).tolist() == there.tolist()


def test_a_beat_that_is_sure_by_itself_is_overruled_by_no_pattern() -> None:
    nats = np.full(24, 2.0)
    nats[13] = -6.0
    assert np.flatnonzero(~sounding(nats)).tolist() == [13]


@pytest.mark.parametrize("pattern", ["two and four after a bar of every beat", "two bars heard, two silent"])
def test_where_no_click_sounds_none_is_found(pattern: str) -> None:
    """Strokes by hand lie at every half beat from the second bar on; their spread is 6 ms."""
    there = PATTERNS[pattern]
    rng = np.random.default_rng(5)
    at_s = 0.3123 + BEAT_S * BEATS
    played_s = np.arange(at_s[4], at_s[-1], BEAT_S / 2)
    strokes = bursts(played_s + rng.normal(0, 0.006, len(played_s)), rng.normal(-12, 1, len(played_s)))
    take = floor_of_noise(25.0)
    for sound in (strokes, clicks(at_s[there], 25.0)):
        take[: len(sound)] += sound[: len(take)]
    samples = take.astype(np.float32)
    heard = find_click(samples, RATE_HZ, find_onsets(samples, RATE_HZ)[1], BEAT_S)
    assert heard is not None
    assert heard.through
    np.testing.assert_allclose(heard.times_s, at_s[there], atol=2e-4)


@pytest.mark.parametrize("parts", [2, 3])
def test_softer_clicks_between_the_beats_are_found_and_the_beat_stays_the_beat(parts: int) -> None:
    """Half as loud and lower; strokes by hand, 6 ms of spread, lie on every beat and hide the louder ones."""
    rng = np.random.default_rng(3)
    at_s = 0.3123 + BEAT_S * np.arange(32.0)
    between_s = np.concatenate([at_s[4:] + BEAT_S * k / parts for k in range(1, parts)])
    strokes = bursts(at_s[4:] + rng.normal(0, 0.006, 28), rng.normal(-12, 1, 28))
    take = floor_of_noise(18.0)
    for sound in (strokes, clicks(at_s, 18.0), 0.5 * clicks(np.sort(between_s), 18.0, 1700.0)):
        take[: len(sound)] += sound[: len(take)]
    heard = find_sounds(take.astype(np.float32), RATE_HZ, beat_s=BEAT_S).click
    assert heard is not None
    np.testing.assert_allclose(heard.times_s, np.sort(np.append(at_s, between_s)), atol=3e-4)
    beats = (heard.first_s - at_s[0]) / BEAT_S
    assert beats == pytest.approx(round(beats), abs=1e-3)


def test_a_click_known_to_sound_on_the_offbeat_only_has_its_line_on_the_beats() -> None:
    at_s = 0.3123 + BEAT_S * np.arange(16.0)
    samples = (clicks(at_s + 2 / 3 * BEAT_S, 10.0) + floor_of_noise(10.0)).astype(np.float32)
    click = find_sounds(samples, RATE_HZ, beat_s=BEAT_S).click
    assert click is not None
    beats = (on_its_beats(click, ClickPattern.parse("offbeats swing=2/3")).first_s - at_s[0]) / BEAT_S
    assert beats == pytest.approx(round(beats), abs=1e-3)
    assert on_its_beats(click, EVERY_BEAT) is click
