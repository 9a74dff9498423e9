"""Sound exposure adds up, and says what is left; published values are in tests/reference."""

from __future__ import annotations

import pytest

from evenhand.planning.load import SoundSpell, exposure_of


def test_what_is_left_is_what_all_spells_leave() -> None:
    """By hand: half a dose leaves half of 60 min at 94 dBA, or half of 240 min at 88 dBA."""
    found = exposure_of([SoundSpell(94, 15), SoundSpell(88, 60)])
    assert found.dose_percent == pytest.approx(50)
    assert [each.niosh_left_min for each in found.spells] == pytest.approx([30, 120])


def test_nothing_is_left_once_the_limit_is_passed() -> None:
    found = exposure_of([SoundSpell(100, 60)])
    (spell,) = found.spells
    assert (spell.niosh_left_min, spell.who_week_left_min) == (0, 0)
    assert found.dose_percent == pytest.approx(400)


def test_over_the_ceiling_there_is_no_time_but_it_counts() -> None:
    """NIOSH: no exposure over 115 dBA, and what there was is in the dose."""
    found = exposure_of([SoundSpell(118, 0.1), SoundSpell(85, 1)])
    assert found.over_ceiling
    assert [each.niosh_allowed_min for each in found.spells] == pytest.approx([0, 480])
    assert found.spells[0].niosh_left_min == 0
    assert found.spells[0].niosh_dose_percent > 40


def test_the_ceiling_itself_is_not_over_it() -> None:
    assert not exposure_of([SoundSpell(115, 0.1)]).over_ceiling


def test_parts_add_up_to_the_whole() -> None:
    found = exposure_of([SoundSpell(94, 30), SoundSpell(88, 45), SoundSpell(60, 480)])
    assert sum(each.niosh_dose_percent for each in found.spells) == pytest.approx(found.dose_percent)
    assert sum(each.who_week_percent for each in found.spells) == pytest.approx(found.week_percent)


def test_the_week_leaves_what_has_the_energy_that_is_left() -> None:
    """By hand: 20 h at 80 dB are half the week, so at 90 dB half of its 4 h are left, less its own."""
    found = exposure_of([SoundSpell(80, 20 * 60), SoundSpell(90, 60)])
    assert found.week_percent == pytest.approx(75)
    assert found.spells[1].who_week_left_min == pytest.approx(60)
