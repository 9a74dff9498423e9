"""Velocities and levels: the published square law, and how loud blows are written."""

from __future__ import annotations

import math

import pytest

from evenhand.music.formats.velocities import amplitude_of, dynamics_of, velocity_for, velocity_of


@pytest.mark.parametrize(
    ("velocity", "range_db", "amplitude"),
    [(1, 40, 0.01), (64, 40, 0.3025), (127, 40, 1.0), (64, 60, 10 ** (-11.5004 / 20))],
)
def test_the_square_law(velocity: int, range_db: float, amplitude: float) -> None:
    """Dannenberg 2006 (ICMC, 193-196): a = (m v + b)^2, worked for ranges of 40 and 60 dB."""
    assert amplitude_of(velocity, range_db) == pytest.approx(amplitude, abs=5e-5)


def test_velocity_and_level_are_each_others_way_back() -> None:
    for velocity in range(1, 128):
        assert velocity_for(20 * math.log10(amplitude_of(velocity))) == velocity


@pytest.mark.parametrize(("velocity", "said"), [(90, "100"), (64, "71.11"), (127, "141.11")])
def test_musicxml_counts_in_per_cent_of_velocity_90(velocity: int, said: str) -> None:
    """The MusicXML schema's own definition of the attribute."""
    assert dynamics_of(velocity) == said


def test_accents_stand_over_notes_over_graces() -> None:
    """9 dB and 15 dB, as the invented player has them, to half a step of velocity (0.3 dB at graces)."""
    levels = [20 * math.log10(amplitude_of(velocity_of(blow))) for blow in ("accent", "note", "grace")]
    assert levels[0] - levels[1] == pytest.approx(9, abs=0.1)
    assert levels[1] - levels[2] == pytest.approx(15, abs=0.3)
