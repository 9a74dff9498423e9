"""The rebound's formulas against figures that others published or worked out."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy  # its parts are loaded where they are first used

from evenhand.music.strokes.heights import CM_PER_INCH
from evenhand.music.strokes.rebound import (
    GRAVITY_M_S2,
    bounce_height_cm,
    bounce_interval_s,
    fall_time_s,
    free_height_cm,
    free_interval_s,
    kept_height_cm,
    rise_height_cm,
    striking_speed_m_s,
)
from tests.falling import (
    contact_time_s,
    kept_interval_s,
    level_change_db,
    path_cm,
    rest_time_s,
    restitution_of,
    throw_speed_m_s,
)

TEXTBOOK_G = 9.8  # m/s2, what the published examples were worked out with


def test_a_ball_from_a_metre_and_a_half_stops_as_worked_by_hand() -> None:
    """By hand, e = 0.7 and g = 9.8: the fall takes sqrt(3 / 9.8) = 0.553283 s, all of it 17 / 3 times that.

    That is 3.135 s. The flights from the 13th contact on last 2 * 0.553283 * 0.7^13 / 0.3 = 0.0357 s; so it
    is at 3.0995 s. A demonstration of a bouncing ball has 3.135 and 3.10 s (from memory).
    """
    assert rest_time_s(150, 0.7, gravity=TEXTBOOK_G) == pytest.approx(3.135, abs=5e-4)
    assert contact_time_s(150, 0.7, 13, gravity=TEXTBOOK_G) == pytest.approx(3.10, abs=5e-3)


def test_tatums_example_stops_at_1_36_s() -> None:
    """Published: Tatum, Classical Mechanics 5.2; its inputs (1 m, e = 0.5, g = 9.8) are inferred."""
    assert rest_time_s(100, 0.5, gravity=TEXTBOOK_G) == pytest.approx(1.36, abs=5e-3)


def test_a_ball_from_two_metres_comes_to_an_eighth_of_a_metre_after_two_bounces() -> None:
    """By hand, e = 0.5: a quarter of the height a bounce, 12.5 cm after two; the path is 200 * 5 / 3."""
    assert bounce_height_cm(200, 0.5, 2) == pytest.approx(12.5)
    assert path_cm(200, 0.5) == pytest.approx(1000 / 3)
    assert 200 + 2 * bounce_height_cm(200, 0.5, 1) == pytest.approx(300)  # the path at the second bounce


def test_bounce_intervals_shrink_by_the_restitution() -> None:
    """Published: e = 0.86 from 57.5 cm (Hill); the first interval at his g of 9.7 is 2 e sqrt(2 h / g).

    By hand: sqrt(2 * 0.575 / 9.7) = 0.344323 s, twice that is 0.688646 s: his T_0, of a bounce without loss.
    """
    first, second = (bounce_interval_s(57.5, 0.86, n, gravity=9.7) for n in (1, 2))
    assert first == pytest.approx(0.688646 * 0.86, abs=1e-5)
    assert restitution_of((first, second)) == pytest.approx(0.86)
    assert math.log(restitution_of((0.68864, 0.68864 * 0.86))) == pytest.approx(-0.150823, abs=1e-6)


@pytest.mark.parametrize(
    ("inches", "speed_m_s", "fall_ms", "over_3_in_db"),
    [
        (3, 1.2225, 124.7, 0.0),
        (6, 1.7289, 176.3, 3.0103),
        (9, 2.1175, 215.9, 4.7712),
        (12, 2.4450, 249.3, 6.0206),
        (15, 2.7336, 278.8, 6.9897),
    ],
)
def test_the_table_of_heights(inches: int, speed_m_s: float, fall_ms: float, over_3_in_db: float) -> None:
    """Worked out apart from this code, from v = sqrt(2 g h), t = sqrt(2 h / g), 10 log10 of the heights."""
    height_cm = inches * CM_PER_INCH
    assert striking_speed_m_s(height_cm) == pytest.approx(speed_m_s, abs=5e-5)
    assert fall_time_s(height_cm) * 1000 == pytest.approx(fall_ms, abs=0.05)
    assert level_change_db(height_cm, 3 * CM_PER_INCH) == pytest.approx(over_3_in_db, abs=5e-5)


def test_a_dropped_foot_goes_up_and_down_about_twice_a_second() -> None:
    """Worked out apart: 12 in takes 249.3 ms each way, so about 2 strokes a second and hand."""
    assert free_interval_s(12 * CM_PER_INCH) == pytest.approx(2 * 0.2493, abs=1e-4)
    assert 1 / free_interval_s(12 * CM_PER_INCH) == pytest.approx(2.0, abs=0.01)


def test_free_heights_worked_out_by_hand() -> None:
    """By hand, h = g T^2 / 8: 9.80665 * 0.25 / 8 = 0.30645781 m; a quarter of the time, a sixteenth."""
    assert free_height_cm(0.5) == pytest.approx(30.645781)
    assert free_height_cm(0.125) == pytest.approx(30.645781 / 16)
    assert rise_height_cm(0.5) == pytest.approx(4 * 30.645781)


@pytest.mark.parametrize(("height_cm", "restitution"), [(10.16, 0.8), (27.94, 0.6), (19.05, 0.95)])
def test_a_thrown_stick_keeps_its_height_when_its_motion_is_integrated(
    height_cm: float, restitution: float
) -> None:
    """Another way to the same figures: integrate z'' = -g from the throw, turn the speed at the drum."""

    def met(_: float, state: np.ndarray) -> float:
        return float(state[0])

    met.terminal = True  # type: ignore[attr-defined] # how solve_ivp is told to stop
    down = scipy.integrate.solve_ivp(
        lambda _, state: [state[1], -GRAVITY_M_S2],
        (0, 5),
        [height_cm / 100, -throw_speed_m_s(height_cm, restitution)],
        events=met,
        rtol=1e-10,
        atol=1e-12,
    )
    up_m_s = -restitution * down.y[1, -1]
    interval_s = down.t[-1] + up_m_s / GRAVITY_M_S2
    assert up_m_s**2 / (2 * GRAVITY_M_S2) * 100 == pytest.approx(height_cm)
    assert kept_interval_s(height_cm, restitution) == pytest.approx(interval_s)
    assert kept_height_cm(interval_s, restitution) == pytest.approx(height_cm)


def test_gravity_is_the_standard_one() -> None:
    """As scipy's constants have it: set by the General Conference on Weights and Measures in 1901."""
    assert scipy.constants.g == GRAVITY_M_S2


@pytest.mark.parametrize("height_cm", [0.5, 1.0, 2.0])
def test_the_tip_of_a_stick_held_at_its_third_falls_freely(height_cm: float) -> None:
    """Scipy integrates a uniform rod of 16 in that turns about its third, from a small height to level.

    Torque over moment of inertia: the angle's acceleration is g d cos(angle) / (L^2 / 12 + d^2), d = L / 6.
    Held elsewhere, here at its end, the tip falls otherwise: at 3/2 g, in the root of 2/3 of the time.
    """
    for pivot, share in ((1 / 3, 1.0), (0.0, math.sqrt(2 / 3))):
        fall_s = _swing_s(0.4064, pivot, height_cm / 100)
        assert fall_s / share == pytest.approx(fall_time_s(height_cm), rel=3e-3)


def _swing_s(length_m: float, pivot: float, height_m: float) -> float:
    """Return how long a rod's tip takes from a height to the level of its pivot."""
    to_middle, to_tip = length_m * (0.5 - pivot), length_m * (1 - pivot)
    inertia_per_kg = length_m**2 / 12 + to_middle**2

    def level(_: float, state: np.ndarray) -> float:
        return float(state[0])

    level.terminal = True  # type: ignore[attr-defined] # how solve_ivp is told to stop
    swing = scipy.integrate.solve_ivp(
        lambda _, state: [state[1], -scipy.constants.g * to_middle * math.cos(state[0]) / inertia_per_kg],
        (0, 5),
        [math.asin(height_m / to_tip), 0.0],
        events=level,
        rtol=1e-10,
        atol=1e-12,
    )
    return float(swing.t[-1])


@pytest.mark.parametrize(("inches", "longer"), [(1, 1.00), (2, 1.01), (4, 1.04), (7.5, 1.19), (10, 1.63)])
def test_a_stick_that_only_pivots_falls_slower_the_more_upright_it_stands(
    inches: float, longer: float
) -> None:
    """The page's table: numerical integration of the pivoting rod, over the straight fall's time."""
    height_m, reach_m = inches * CM_PER_INCH / 100, 2 * 0.4064 / 3
    top = math.asin(height_m / reach_m)

    def slowness(u: float) -> float:
        speed = math.sqrt(2 * GRAVITY_M_S2 / reach_m * (math.sin(top) - math.sin(top * (1 - u * u))))
        return 2 * top * u / speed

    swing_s, _ = scipy.integrate.quad(slowness, 0, 1)
    assert swing_s / fall_time_s(inches * CM_PER_INCH) == pytest.approx(longer, abs=0.005)
