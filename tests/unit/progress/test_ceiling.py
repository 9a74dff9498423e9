"""The tempo ceiling from repetitions, and what to try next."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import pytest

from evenhand.progress.ceiling.control import TriedRepetition
from evenhand.progress.ceiling.estimate import (
    A_TAKE,
    ENOUGH_SHARE,
    expected_narrowing,
    posterior_of,
    tempo_ceiling,
)
from evenhand.report.words.remarks import remark_words

QUARTER = Fraction(1, 4)


def tried(*counts: tuple[float, int, int]) -> list[TriedRepetition]:
    """Make repetitions: (tempo, in control, not in control)."""
    return [
        TriedRepetition("take", i + 1, bpm, 4.0, 6.0, 0, i < well, {"R": i < well, "L": i < well})
        for bpm, well, not_well in counts
        for i in range(well + not_well)
    ]


def played(
    rng: np.random.Generator, ceiling: float, width: float, tempos: Sequence[float]
) -> list[TriedRepetition]:
    """Play eight repetitions at each tempo, as the model has it."""
    out = []
    for bpm in tempos:
        chance = 0.98 / (1 + np.exp((np.log(bpm / ceiling)) / width - np.log(3)))
        well = int(rng.binomial(8, chance))
        out.append((bpm, well, 8 - well))
    return tried(*out)


def test_the_ceiling_is_where_three_of_four_are_in_control() -> None:
    found = tempo_ceiling(tried((80, 20, 0), (100, 30, 10), (120, 0, 20)), QUARTER)
    assert found.ceiling.value == pytest.approx(100, rel=0.03)
    assert found.ceiling.ci95 is not None
    assert found.ceiling.ci95[0] < 100 < found.ceiling.ci95[1]
    assert found.ceiling.n == 80


def test_all_in_control_gives_no_ceiling_but_a_bound() -> None:
    found = tempo_ceiling(tried((80, 8, 0), (90, 8, 0)), QUARTER)
    assert found.ceiling.value is None
    assert found.at_least_bpm == pytest.approx(90, rel=0.1)
    assert found.at_most_bpm is None
    assert not found.enough
    assert "higher" in remark_words(found.why)
    assert found.next_tempo_bpm is not None
    assert 90 < found.next_tempo_bpm <= 99  # no more than a tenth faster than what went well


def test_none_in_control_gives_a_bound_from_above_and_a_slower_try() -> None:
    found = tempo_ceiling(tried((120, 0, 8)), QUARTER)
    assert (found.ceiling.value, found.at_least_bpm) == (None, None)
    assert found.next_tempo_bpm is not None
    assert found.next_tempo_bpm < 120
    assert "lower" in remark_words(found.why)


def test_too_few_repetitions_are_not_judged() -> None:
    found = tempo_ceiling(tried((80, 3, 0), (120, 0, 3)), QUARTER)
    assert (found.ceiling.value, found.ceiling.needs) == (None, 8)
    assert "too few" in remark_words(found.why)


def test_nothing_heard_is_said() -> None:
    found = tempo_ceiling([], QUARTER)
    assert (found.ceiling.value, found.next_tempo_bpm, found.enough) == (None, None, False)


def test_it_knows_when_it_knows_enough() -> None:
    found = tempo_ceiling(tried((90, 60, 0), (100, 45, 15), (110, 2, 58)), QUARTER)
    assert found.enough
    assert found.next_tempo_bpm is None
    assert found.ceiling.ci95 is not None
    assert found.ceiling.value is not None
    assert (found.ceiling.ci95[1] - found.ceiling.ci95[0]) / 2 <= ENOUGH_SHARE * found.ceiling.value


def test_the_next_tempo_is_one_at_which_the_hands_are_likely_to_stay_loose() -> None:
    repetitions = tried((80, 8, 0), (100, 6, 2), (120, 2, 6))
    found = tempo_ceiling(repetitions, QUARTER)
    posterior = posterior_of(
        np.array([each.tempo_bpm for each in repetitions]),
        np.array([each.controlled for each in repetitions]),
    )
    assert found.next_tempo_bpm is not None
    assert posterior.chance(np.array([found.next_tempo_bpm]))[0] >= 2 / 3


def test_a_hand_that_fails_first_has_the_lower_ceiling() -> None:
    weak_left = [
        TriedRepetition("t", i, bpm, 4.0, 6.0, 0, ok_l, {"R": ok_r, "L": ok_l})
        for bpm, left, right in ((80, 8, 8), (100, 3, 8), (120, 0, 6), (140, 0, 1))
        for i in range(8)
        for ok_l, ok_r in [(i < left, i < right)]
    ]
    found = tempo_ceiling(weak_left, QUARTER)
    left, right = found.hands["L"].value, found.hands["R"].value
    assert left is not None
    assert right is not None
    assert left < right - 15


def test_the_take_that_tells_most_lies_near_the_ceiling_and_not_far_below() -> None:
    repetitions = tried((80, 8, 0), (100, 6, 2), (120, 1, 7))
    posterior = posterior_of(
        np.array([each.tempo_bpm for each in repetitions]),
        np.array([each.controlled for each in repetitions]),
    )
    told = expected_narrowing(posterior, np.array([60.0, 100.0, 108.0]), A_TAKE)
    assert told[0] < 0.2 * told[1]
    assert (told >= 0).all()


def test_following_its_own_proposals_finds_a_known_ceiling() -> None:
    rng = np.random.default_rng(2)
    repetitions = played(rng, 104.0, 0.04, [70.0])
    for _ in range(14):
        found = tempo_ceiling(repetitions, QUARTER)
        if found.enough or found.next_tempo_bpm is None:
            break
        repetitions += played(rng, 104.0, 0.04, [found.next_tempo_bpm])
    assert found.ceiling.value == pytest.approx(104, rel=0.08)
    assert found.ceiling.ci95 is not None
    assert found.ceiling.ci95[0] < 104 < found.ceiling.ci95[1]
