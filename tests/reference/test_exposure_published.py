"""Sound exposure against published limits, dose tables and laws.

Sources: NIOSH 98-126 (formula and 100 dBA = 15 min as published; the other minutes worked from the
formula); Presley 2007, Percussive Notes, August, p. 70 (doses; its 8- and 4-minute columns have
misprints and are not used); OSHA 29 CFR 1910.95, Table G-16 and appendix A; WHO-ITU H.870 (2019).
"""

from __future__ import annotations

import pytest

from evenhand.planning.load import (
    DayRule,
    SoundSpell,
    allowed_minutes,
    average_dba,
    dose_percent,
    energy_pa2h,
    week_minutes,
)

OSHA = DayRule(90.0, 5.0)  # laxer, the law in one country: checks the formula against its table


@pytest.mark.parametrize(
    ("level_dba", "minutes"),
    [
        (82, 960),
        (85, 480),
        (88, 240),
        (91, 120),
        (94, 60),
        (97, 30),
        (100, 15),
        (103, 7.5),
        (106, 3.75),
    ],
)
def test_niosh_limits(level_dba: float, minutes: float) -> None:
    assert allowed_minutes(level_dba) == pytest.approx(minutes)


def test_niosh_at_95_dba_is_47_min_37_s() -> None:
    """Worked from the formula; NIOSH's printed table may differ by seconds."""
    assert allowed_minutes(95) == pytest.approx(47.622, abs=1e-3)


@pytest.mark.parametrize(
    ("level_dba", "minutes", "percent"),
    [
        (85, 480, 100),
        (88, 240, 100),
        (91, 480, 400),
        (94, 30, 50),
        (97, 60, 200),
        (100, 15, 100),
        (103, 120, 1600),
        (106, 480, 12800),
    ],
)
def test_doses_as_published_for_drum_lines(level_dba: float, minutes: float, percent: float) -> None:
    assert dose_percent([SoundSpell(level_dba, minutes)]) == pytest.approx(percent)


def test_a_mixed_day() -> None:
    """Worked: 94 dBA 30 min (50 %) and 88 dBA 45 min (18.75 %)."""
    dose = dose_percent([SoundSpell(94, 30), SoundSpell(88, 45)])
    assert dose == pytest.approx(68.75)
    assert average_dba(dose) == pytest.approx(83.3727, abs=1e-4)


def test_the_average_of_a_dose() -> None:
    assert average_dba(100) == pytest.approx(85)
    assert average_dba(200) == pytest.approx(88.0103, abs=1e-4)


@pytest.mark.parametrize(
    ("level_dba", "hours", "within"),
    [
        (90, 8, 1e-9),
        (95, 4, 1e-9),
        (100, 2, 1e-9),
        (105, 1, 1e-9),
        (110, 0.5, 1e-9),
        (115, 0.25, 1e-9),
        (92, 6, 0.07),  # the table rounds these three
        (97, 3, 0.04),
        (102, 1.5, 0.02),
    ],
)
def test_the_same_formula_gives_osha_s_table(level_dba: float, hours: float, within: float) -> None:
    assert allowed_minutes(level_dba, OSHA) / 60 == pytest.approx(hours, abs=within)


def test_osha_s_example() -> None:
    """Appendix A: 8 h at 92 dBA, T = 6.1 h, a dose of about 131 %."""
    assert allowed_minutes(92, OSHA) / 60 == pytest.approx(6.1, abs=0.05)
    assert dose_percent([SoundSpell(92, 480)], OSHA) == pytest.approx(131, abs=1)


@pytest.mark.parametrize(
    ("level_db", "hours"), [(80, 40), (83, 20), (86, 10), (89, 5), (92, 2.5), (95, 1.25)]
)
def test_the_who_s_week(level_db: float, hours: float) -> None:
    """Published by halving each 3 dB; equal energy halves each 3.01 dB, so 1.2 % more at 95 dB."""
    assert week_minutes(level_db) / 60 == pytest.approx(hours, rel=0.0125)


def test_the_who_s_week_holds_1_6_pascal_squared_hours() -> None:
    assert energy_pa2h([SoundSpell(80, 40 * 60)]) == pytest.approx(1.6)


@pytest.mark.parametrize("level_db", [75, 80, 90, 101.5])
def test_each_level_s_week_has_the_same_energy(level_db: float) -> None:
    assert energy_pa2h([SoundSpell(level_db, week_minutes(level_db))]) == pytest.approx(1.6)


def test_children_s_week_of_75_db_is_half_a_pascal_squared_hour() -> None:
    """Published for children: 75 dB for 40 hours; 0.506 worked from it."""
    assert energy_pa2h([SoundSpell(75, 40 * 60)]) == pytest.approx(0.506, abs=5e-4)
