"""Which channel is listened to, and why; every case is built so that the right one is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from evenhand.media.channels import Choice, choose
from evenhand.media.stored import Stored
from tests.media_files import blows

RATE_HZ = 48_000
PLAYING = blows(RATE_HZ)
QUIET = 0.3 * PLAYING


def choice_of(*channels: NDArray[np.floating]) -> Choice:
    return choose(Stored("flt", np.stack(channels, axis=1).astype("<f4")), RATE_HZ)


def noise(level: float) -> NDArray[np.float64]:
    return level * np.random.default_rng(3).standard_normal(PLAYING.size)


def test_one_channel_is_mono() -> None:
    assert choice_of(PLAYING).why == "mono"


def test_equal_channels_are_one() -> None:
    assert choice_of(PLAYING, PLAYING).why == "1 of 2: the channels are the same"


def test_a_dead_channel_is_left_alone() -> None:
    choice = choice_of(0 * PLAYING, PLAYING)
    assert (choice.channel, choice.why) == (1, "2 of 2: channel 1 is dead")


def test_a_channel_that_only_hisses_is_dead_too() -> None:
    choice = choice_of(noise(1e-5), PLAYING, noise(1e-5))
    assert choice.why == "2 of 3: channels 1 and 3 are dead"


def test_opposite_channels_are_not_summed() -> None:
    choice = choice_of(PLAYING, -PLAYING)
    assert choice.channel == 0
    assert "opposite in polarity" in choice.why


def test_of_two_microphones_the_louder_is_taken_and_they_are_not_summed() -> None:
    choice = choice_of(QUIET, np.roll(PLAYING, 40))
    assert choice.channel == 1
    assert choice.why == "2 of 2: it is the loudest; channels that differ are not summed"


def test_of_two_microphones_the_one_that_does_not_clip_is_taken() -> None:
    clipped = np.clip(8 * PLAYING, -1, 1)
    choice = choice_of(clipped, np.roll(QUIET, 40))
    assert choice.channel == 1
    assert "it is not clipped" in choice.why
    assert choice.warnings == ()


def test_a_loud_noise_is_not_taken_for_the_drum() -> None:
    choice = choice_of(noise(0.3), QUIET)
    assert choice.channel == 1
    assert "most hits" in choice.why


def test_a_loud_hum_is_not_taken_for_the_drum() -> None:
    hum = 0.8 * np.sin(2 * np.pi * 50 * np.arange(PLAYING.size) / RATE_HZ)
    assert choice_of(hum, QUIET).channel == 1


def test_a_channel_with_only_the_click_is_not_taken_for_the_drum() -> None:
    strokes = blows(RATE_HZ, 2.0, [0.1 + 0.125 * i for i in range(14)], peak=0.2)
    click = blows(RATE_HZ, 2.0, [0.1 + 0.5 * i for i in range(4)], peak=0.9)
    assert choice_of(click, strokes).channel == 1


def test_silence_is_told() -> None:
    assert choice_of(0 * PLAYING, 0 * PLAYING).silent
    assert choice_of(0 * PLAYING + 0.25).silent  # a constant is no sound either


def test_an_offset_is_told_and_harmless() -> None:
    choice = choice_of(PLAYING + 0.2)
    assert choice.warnings == ("a constant offset (DC) of 20 % of full scale; it does no harm",)


@pytest.mark.parametrize("ceiling", [1.0, 0.6])
def test_clipping_is_told_at_full_scale_and_turned_down_after(ceiling: float) -> None:
    clipped = np.clip(8 * PLAYING, -1, 1) * ceiling
    assert choice_of(clipped).warnings == ("clipped: the loudest hits were louder than they read",)


def test_a_loud_clean_take_is_not_called_clipped() -> None:
    assert choice_of(PLAYING / np.abs(PLAYING).max()).warnings == ()


def test_few_broken_samples_are_counted_and_told() -> None:
    samples = PLAYING.copy()
    samples[[10, 11, 5000]] = [np.nan, np.inf, 1e30]
    choice = choice_of(samples)
    assert choice.broken == 3
    assert "3 samples were not numbers" in choice.warnings[0]
