"""What must be seen: met, not met, or not seen; and whom it holds back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenhand.measuring.estimates import wilson
from evenhand.measuring.values import Measure
from evenhand.progress.history import History, PastTake
from evenhand.progress.stages.advising import advise
from evenhand.progress.stages.path import Holds, PracticePath, condition
from evenhand.progress.stages.seen import ALIKE, judge_seen
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.progress.stages.verdicts import Advice
from evenhand.report.words.advice import bound_words, figure_words, reason_words
from tests.histories import a_take, day

FREE = condition("free_percent", 70)
APART = condition("heights_apart_percent", 15)


def share(k: int, n: int) -> Measure:
    low, high = wilson(k, n)
    return Measure(100 * k / n, n, "%", (100 * low, 100 * high))


def takes(right: int | None = None, left: int | None = None, apart: float = 2.0) -> tuple[PastTake, ...]:
    """Give six takes of the half strokes, so many of 32 rises of each hand free; None: without a video."""
    rng = np.random.default_rng(1)
    seen: dict[str, Measure] = {"seen.height_percent": Measure(apart, 64, "%", (apart - 2.0, apart + 2.0))}
    seen |= {f"seen.{h}.free_percent": share(k, 32) for h, k in (("R", right), ("L", left)) if k is not None}
    plain = (
        a_take(day(2 * i), rng, tempo=tempo, ceiling_bpm=170.0)
        for i in range(6)
        for tempo in ("1/8=120", "1/8=136")
    )
    return tuple(t if right is None else replace(t, measures={**t.measures, **seen}) for t in plain)


def advised(holds: Holds, *shown: PastTake) -> Advice:
    half = COMMON_PATH.stages[1]
    heard = tuple(each for each in half.conditions if each.holds == "always")
    asks = replace(half, conditions=(*heard, condition("free_percent", 70, holds=holds)))
    return advise(History(shown), PracticePath((asks, COMMON_PATH.stages[2])), "half")


def test_without_a_video_it_is_not_seen_and_never_not_met() -> None:
    for asked in (FREE, APART, condition("in_class_percent", 100)):
        found = judge_seen(asked, takes())
        assert (found.verdict, found.value, figure_words(found)) == ("not seen", None, "no video shows this")


@pytest.mark.parametrize(
    ("right", "left", "verdict"),
    [(31, 30, "met"), (10, 31, "not met"), (23, 23, "can't tell")],
)
def test_the_worse_hand_decides(right: int, left: int, verdict: str) -> None:
    found = judge_seen(FREE, takes(right, left))
    assert found.verdict == verdict
    assert found.n == 8
    assert found.value == pytest.approx(100 * min(right, left) / 32)


def test_strokes_of_one_take_are_alike_so_the_range_is_wider() -> None:
    """Worked by hand: 8 takes of 32, 256 strokes, 31 more beside each: 256 / (1 + 31 x 0.05) = 100.4."""
    found = judge_seen(FREE, takes(24, 24))
    assert found.ci95 is not None
    alone = 256 / (1 + 31 * ALIKE)
    assert alone == pytest.approx(100.4, abs=0.05)
    np.testing.assert_allclose(found.ci95, [100 * edge for edge in wilson(0.75 * alone, alone)])


def test_few_strokes_are_too_few_and_one_hand_leaves_it_open() -> None:
    few = replace(takes(31, 31)[0], measures={"seen.R.free_percent": share(3, 3)})
    assert judge_seen(FREE, [few]).verdict == "can't tell"
    one = [replace(t, measures={"seen.R.free_percent": share(32, 32)}) for t in takes(31, 31)]
    assert judge_seen(FREE, one).verdict == "can't tell"


@pytest.mark.parametrize(("apart", "verdict"), [(2.0, "met"), (-25.0, "not met"), (14.5, "can't tell")])
def test_both_hands_from_one_height(apart: float, verdict: str) -> None:
    found = judge_seen(APART, takes(31, 31, apart))
    assert found.verdict == verdict
    assert ("left 25 % higher" in figure_words(found)) == (apart < 0)


@pytest.mark.parametrize(
    ("holds", "unseen", "failed"),
    [("never", "go on", "go on"), ("when seen", "go on", "stay"), ("always", "can't tell", "stay")],
)
def test_whom_it_holds_back(holds: Holds, unseen: str, failed: str) -> None:
    without, lifted = advised(holds, *takes()), advised(holds, *takes(5, 5))
    assert (without.proposal, lifted.proposal) == (unseen, failed)
    path = PracticePath((COMMON_PATH.stages[1], COMMON_PATH.stages[2]))
    assert ("Not seen, and a video is asked for" in reason_words(without, path)) == (holds == "always")
    assert "not met" not in {each.verdict for each in without.judged}


def test_the_usual_path_asks_only_as_a_wish() -> None:
    seen = [each for stage in COMMON_PATH.stages for each in stage.conditions if each.holds != "always"]
    assert {each.holds for each in seen} == {"never"}
    assert bound_words(seen[0], seen[0].bound) == "at least 70 % (preferred, if filmed)"
