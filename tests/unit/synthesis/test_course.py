"""Written time becomes exact seconds, whatever the tempo does. Expected times are worked by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from evenhand.errors import BadTempo, WrongOptions
from evenhand.music.exercise import Tempo
from evenhand.synthesis.pulse import Change, Stretch, TempoMap, stretches

BAR = Fraction(4, 4)


def a_course(tempo: str, rounds: int, change: Change) -> TempoMap:
    return TempoMap(stretches(Tempo.parse(tempo), BAR, rounds, change))


def test_a_tempo_that_holds_gives_exact_fractions() -> None:
    """Beat k at 97 a minute comes at 60k/97 s."""
    tempo_map = a_course("1/4=97", 250, Change())
    assert [tempo_map.time_s(Fraction(k, 4)) for k in (0, 1, 970)] == [0, Fraction(60, 97), 600]


def test_a_tempo_with_decimals_is_what_was_written_and_not_its_float() -> None:
    assert Stretch.steady(Tempo.parse("1/4=100.1"), BAR).seconds == Fraction(2400, 1001)


def test_steps_come_every_so_many_bars() -> None:
    """Two bars of four at 60 last 8 s, two at 80 last 6 s, the last at 100 lasts 2.4 s."""
    tempo_map = a_course("1/4=60", 5, Change(Fraction(20), 2))
    assert [tempo_map.time_s(BAR * k) for k in (1, 2, 3, 4, 5)] == [4, 8, 11, 14, Fraction(82, 5)]
    assert [tempo_map.tempo(BAR * k).bpm for k in (0, 1, 2, 4)] == [60, 60, 80, 100]


def test_steps_stop_at_the_tempo_they_lead_to() -> None:
    up = a_course("1/4=60", 4, Change(Fraction(50), 1, Tempo.parse("1/4=120")))
    down = a_course("1/4=60", 4, Change(Fraction(-25), 1, Tempo.parse("1/8=60")))
    assert [up.tempo(BAR * k).bpm for k in range(4)] == [60, 110, 120, 120]
    assert [down.tempo(BAR * k).bpm for k in range(4)] == [60, 35, 30, 30]


def test_an_even_change_follows_the_area_under_the_tempo() -> None:
    """From 60 to 120 in 60 s: t + t^2/120 beats, so 90 beats; beat 37.5 comes at 30 s, at tempo 90."""
    stretch = Stretch(Fraction(90, 4), Fraction(1, 4), Fraction(60), Fraction(120))
    assert stretch.seconds == 60
    assert float(stretch.time_s(Fraction(75, 8))) == pytest.approx(30, abs=1e-15)
    assert float(stretch.bpm(Fraction(75, 8))) == pytest.approx(90, abs=1e-15)


def test_an_even_change_may_slow_down_and_be_given_in_another_note_value() -> None:
    """1/8=160 is 1/4=80: the mean of 120 and 80 is 100, so 4 bars of four last 9.6 s."""
    tempo_map = a_course("1/4=120", 4, Change(to=Tempo.parse("1/8=160")))
    assert tempo_map.seconds == Fraction(48, 5)
    assert tempo_map.tempo(tempo_map.length).bpm == 80


def test_stretches_follow_each_other_without_a_gap() -> None:
    tempo_map = TempoMap(
        (Stretch.steady(Tempo.parse("1/4=60"), BAR), Stretch.steady(Tempo.parse("1/8=60"), BAR))
    )
    assert [tempo_map.time_s(Fraction(k, 2)) for k in range(5)] == [0, 2, 4, 8, 12]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (Change(Fraction(0)), "steps of 0 bpm every 1; must be steps up or down"),
        (Change(Fraction(-5), 1, Tempo.parse("1/4=90")), r"-5 bpm; must be steps that lead from 1/4 = 60 to"),
        (Change(Fraction(5), 1, Tempo.parse("1/4=50")), r"\+5 bpm; must be steps that lead"),
    ],
)
def test_steps_that_lead_nowhere_are_refused(change: Change, message: str) -> None:
    with pytest.raises(WrongOptions, match=message):
        a_course("1/4=60", 4, change)


def test_steps_out_of_what_can_be_played_are_refused() -> None:
    with pytest.raises(BadTempo, match="got 1060; must be 5 to 1000 beats a minute"):
        a_course("1/4=60", 3, Change(Fraction(1000)))
