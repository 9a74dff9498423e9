"""Which click is on: its text, what sounds in a bar, what is silent and how it fades."""

from __future__ import annotations

from fractions import Fraction

import pytest

from evenhand.errors import WrongOptions
from evenhand.music.click_pattern import FADED_DB, ClickPattern

BAR, QUARTER, EIGHTH = Fraction(1), Fraction(1, 4), Fraction(1, 8)


def eighths(text: str, bars: int = 1, bar: Fraction = BAR) -> list[tuple[float, str]]:
    """Return where clicks come, in eighths from the beginning, and what they mark."""
    places = ClickPattern.parse(text).places(bar, QUARTER, bars)
    return [(float(place.at / EIGHTH), place.kind) for place in places]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", [(0, "first"), (2, "beat"), (4, "beat"), (6, "beat")]),
        ("plain", [(0, "beat"), (2, "beat"), (4, "beat"), (6, "beat")]),
        ("2-and-4", [(2, "beat"), (6, "beat")]),
        ("offbeats", [(1, "beat"), (3, "beat"), (5, "beat"), (7, "beat")]),
        ("bar", [(0, "first")]),
        ("3+3+2/8", [(0, "first"), *[(k, "beat" if k in {3, 6} else "between") for k in range(1, 8)]]),
    ],
)
def test_what_sounds_in_a_bar_of_four(text: str, expected: list[tuple[float, str]]) -> None:
    assert eighths(text) == expected


def test_swing_moves_the_half_of_the_beat() -> None:
    """Two thirds of a quarter: an eighth and a third of one."""
    assert [place for place, _ in eighths("between=2 swing=2/3", bar=Fraction(1, 2))] == pytest.approx(
        [0, 4 / 3, 2, 10 / 3]
    )
    assert [place for place, _ in eighths("offbeats swing=2/3", bar=Fraction(1, 2))] == pytest.approx(
        [4 / 3, 10 / 3]
    )


def test_once_in_two_or_four_bars() -> None:
    assert [place for place, _ in eighths("bar/2", 6)] == [0, 16, 32]
    assert [place for place, _ in eighths("bar/4", 6)] == [0, 32]


def test_a_fade_is_straight_in_decibels_and_ends_in_silence() -> None:
    """Two bars in full, three that fade: 0, 0, -8, -16, -24 dB, then nothing."""
    pattern = ClickPattern.parse("bar fade=2:3")
    assert [place.level_db for place in pattern.places(BAR, QUARTER, 8)] == [0, 0, -8, -16, FADED_DB]


@pytest.mark.parametrize("seed", range(40))
def test_drawn_silence_begins_with_sound_and_never_lasts_long(seed: int) -> None:
    pattern = ClickPattern.parse(f"drawn=1/2:{seed}")
    silent = "".join("-" if pattern.is_silent(bar) else "x" for bar in range(600))
    assert silent[0] == "x"
    assert "---" not in silent
    assert 0.3 < silent.count("-") / 600 < 0.5


def test_drawn_silence_is_the_same_wherever_it_is_drawn() -> None:
    """The stand's page draws the same (tests/e2e); a snapshot, worked by this code first."""
    pattern = ClickPattern.parse("drawn=1/4:7")
    assert [bar for bar in range(24) if pattern.is_silent(bar)] == SNAPSHOT


SNAPSHOT = [1, 3, 5, 15, 19, 21]


@pytest.mark.parametrize(
    "text",
    [
        "beats",
        "2-and-4 silent=2:2",
        "offbeats swing=2/3 fade=4:8",
        "bar/4 drawn=1/4:7",
        "3+3+2/8 plain",
        "beats between=2 swing=3/5 plain silent=3:1 fade=8:8",
    ],
)
def test_the_text_comes_back(text: str) -> None:
    assert str(ClickPattern.parse(text)) == text


def test_the_first_word_may_be_left_out() -> None:
    assert ClickPattern.parse("silent=2:2") == ClickPattern.parse("beats silent=2:2")


@pytest.mark.parametrize(
    "text",
    [
        "3-and-5", "beats beats", "silent=2", "silent=0:2", "silent=2:0", "silent=a:b", "silent=-1:2",
        "silent=2:2 silent=2:2", "silent=2:2 drawn=1/4:1", "drawn=3/4:1", "drawn=1/4", "between=5",
        "swing=2/3", "between=3 swing=2/3", "between=2 swing=9/10", "between=2 swing=1/0",
        "offbeats between=2", "0+3/8", "3+3/7", "fade=4", "silent=2:99999",
    ],
)  # fmt: skip
def test_what_is_no_pattern_is_refused(text: str) -> None:
    with pytest.raises(WrongOptions):
        ClickPattern.parse(text)


@pytest.mark.parametrize(("text", "bar"), [("3+3+2/8", Fraction(3, 4)), ("2-and-4", QUARTER)])
def test_a_pattern_must_go_with_the_bar(text: str, bar: Fraction) -> None:
    with pytest.raises(WrongOptions):
        ClickPattern.parse(text).check(bar, QUARTER)


def test_the_tempo_may_change_amid_sound_only() -> None:
    """Two bars heard, two silent: within the first two, and nowhere that touches a silent bar."""
    pattern = ClickPattern.parse("silent=2:2")
    halves = [Fraction(k, 2) for k in range(1, 12)]
    assert [at for at in halves if pattern.may_change(at)] == [Fraction(k, 2) for k in (1, 2, 3, 9, 10, 11)]
