"""The rigid stick of the filmed player, against mechanics that were worked elsewhere.

Falls and speeds: v = sqrt(2 g h), g = 9.80665 m/s^2 (Tatum, Classical Mechanics 5.2). Bounces: h_n = e^2n h_0
and T_n = T_0 e^n (Hill, Learning Scientific Programming with Python). The centre of percussion of a uniform
rod held a third from its butt is its tip: rigid-body mechanics, I = L^2 / 12 + d^2, l = I / d.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from benchmarks.filming.stick import G_CM_S2, Carried, Stick, grid, joined, still, swing

STICK = Stick(40.64, 40.64 / 3)
STEP_S = 0.0001


def fall(height_cm: float) -> tuple[float, float]:
    """Let a stick fall whose hand stays at the pad; return the time, s, and the tip's speed, m/s."""
    start = math.asin(height_cm / STICK.reach_cm)
    angles, turns = swing(STICK, still(8000, STEP_S), start, 0.0, until=math.inf)
    down = int(np.argmax(angles < 0))
    part = angles[down - 1] / (angles[down - 1] - angles[down])
    turn = turns[down - 1] + part * (turns[down] - turns[down - 1])
    return (down - 1 + float(part)) * STEP_S, -float(turn) * STICK.reach_cm / 100


@pytest.mark.parametrize(("inches", "speed_m_s"), [(3, 1.223), (6, 1.729), (9, 2.117)])
def test_a_tip_that_is_its_centre_of_percussion_strikes_as_if_it_fell_alone(
    inches: float, speed_m_s: float
) -> None:
    """Worked values to a thousandth; the integration's own error is far below."""
    assert fall(inches * 2.54)[1] == pytest.approx(speed_m_s, abs=6e-4)


@pytest.mark.parametrize("inches", [0.25, 0.5, 1])
def test_near_the_horizontal_it_falls_in_the_time_of_a_free_fall(inches: float) -> None:
    """It is sqrt(2 h / g); to a thousandth for a quarter inch, for a steeper stick turns more slowly."""
    free_s = math.sqrt(2 * inches * 2.54 / G_CM_S2)
    assert fall(inches * 2.54)[0] == pytest.approx(free_s, rel=0.001 + 0.004 * inches**2)


@pytest.mark.parametrize("inches", [1, 4, 7.5, 10])
def test_a_steep_fall_takes_as_long_as_energy_says(inches: float) -> None:
    """Time is the integral of d angle / turn, turn^2 = 2 g (sin a0 - sin a) / reach: by scipy."""
    start = math.asin(inches * 2.54 / STICK.reach_cm)

    def slowness(root: float) -> float:  # a = start - root^2 takes the singular start away
        drop = math.sin(start) - math.sin(start - root**2)
        return 2 * root / math.sqrt(2 * G_CM_S2 * drop / STICK.reach_cm) if drop > 0 else 0.0

    expected, _ = quad(slowness, 1e-7, math.sqrt(start))
    assert fall(inches * 2.54)[0] == pytest.approx(expected, rel=5e-4)


@pytest.mark.parametrize(("length_cm", "from_butt_cm"), [(40.64, 13.55), (45.0, 15.0)])
def test_held_a_third_from_its_butt_a_rod_s_tip_is_its_centre_of_percussion(
    length_cm: float, from_butt_cm: float
) -> None:
    """16 in: 135.5 and 270.9 mm, computed; a dowel of 450 mm: 150 mm."""
    stick = Stick(length_cm, length_cm / 3)
    assert stick.held_cm == pytest.approx(from_butt_cm, abs=0.005)
    assert stick.percussion_cm == pytest.approx(stick.reach_cm)


def test_a_hand_that_jerks_does_not_move_a_level_tip() -> None:
    """What a centre of percussion is: the tip falls with g, whatever the fulcrum's acceleration."""
    times = grid(200, STEP_S)
    up = 0.5 * 0.8 * G_CM_S2 * times**2
    carried = Carried(np.zeros(200), up, STEP_S)
    angles, _ = swing(STICK, carried, 0.0, 0.0, until=math.inf)
    tip = up + STICK.reach_cm * np.sin(angles)
    assert tip[-1] == pytest.approx(-G_CM_S2 * times[-1] ** 2 / 2, rel=0.01)


@pytest.mark.parametrize("restitution", [0.5, 0.8, 0.86])
def test_it_comes_back_to_the_square_of_the_restitution(restitution: float) -> None:
    """h_1 = e^2 h_0 at any height; flights shrink by e where the stick lies near the horizontal."""
    high_cm = 12.0
    turn = restitution * math.sqrt(2 * G_CM_S2 * high_cm) / STICK.reach_cm
    angles, _ = swing(STICK, still(6000, STEP_S), 0.0, turn, until=0.0)
    highest = STICK.reach_cm * math.sin(angles.max())
    assert highest == pytest.approx(restitution**2 * high_cm, rel=1e-3)


def test_flights_of_a_low_stick_shrink_by_the_restitution() -> None:
    def flight_s(speed_cm_s: float) -> float:
        angles, _ = swing(STICK, still(4000, STEP_S), 0.0, speed_cm_s / STICK.reach_cm, until=math.inf)
        return STEP_S * (1 + int(np.argmax(angles[1:] < 0)))

    first, second = flight_s(40.0), flight_s(0.86 * 40.0)
    assert first == pytest.approx(2 * 40.0 / G_CM_S2, rel=0.005)
    assert second / first == pytest.approx(0.86, rel=0.005)


def test_a_led_way_begins_as_it_was_and_ends_at_rest() -> None:
    way = joined((1.0, 2.0, -3.0), 4.0, 0.5, 5000)
    assert way[-1] == pytest.approx(4.0)
    rate = np.diff(np.concatenate([[1.0], way])) / 1e-4
    assert rate[0] == pytest.approx(2.0, abs=1e-3)
    assert rate[-1] == pytest.approx(0.0, abs=1e-3)
