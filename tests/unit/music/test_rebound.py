"""What the rebound's figures mean at their edges."""

from __future__ import annotations

import pytest

from evenhand.music.strokes.rebound import (
    bounce_height_cm,
    bounce_interval_s,
    fall_time_s,
    free_height_cm,
    kept_height_cm,
    pressed_bounce_cm,
    rise_height_cm,
)
from tests.falling import contact_time_s, throw_speed_m_s


def test_a_drum_that_gives_all_back_needs_no_throw() -> None:
    assert throw_speed_m_s(25, 1.0) == 0
    assert kept_height_cm(0.4, 1.0) == pytest.approx(free_height_cm(0.4))


def test_the_first_contact_is_the_end_of_the_fall() -> None:
    assert contact_time_s(50, 0.7, 1) == fall_time_s(50)


def test_throwing_brings_the_stick_higher_in_the_same_time_but_never_over_a_free_rise() -> None:
    dropped, thrown, most = free_height_cm(0.3), kept_height_cm(0.3, 0.8), rise_height_cm(0.3)
    assert dropped < thrown < most


def test_a_bounce_left_alone_rises_to_its_own_height() -> None:
    """At the interval that the bounce takes by itself, pressing and leaving alone are the same."""
    alone_s = bounce_interval_s(10, 0.8)
    assert pressed_bounce_cm(10, 0.8, alone_s) == pytest.approx(bounce_height_cm(10, 0.8))
    assert pressed_bounce_cm(10, 0.8, 2 * alone_s) == pytest.approx(bounce_height_cm(10, 0.8))


def test_a_bounce_that_must_come_in_half_its_time_rises_half_as_high() -> None:
    """By hand: up and down under a steady pull, h = v T / 4, so half the time is half the height."""
    alone_s = bounce_interval_s(10, 0.8)
    assert pressed_bounce_cm(10, 0.8, alone_s / 2) == pytest.approx(bounce_height_cm(10, 0.8) / 2)
