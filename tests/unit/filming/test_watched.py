"""What a film's watcher said is judged as it should be: worked by hand on a few strokes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from benchmarks.filming import StrokeTruth
from benchmarks.filming.case import Rise
from benchmarks.filming.shots import EASY, HARD, PAIRS, USUAL_FILMS, shots
from benchmarks.watch_goals import goals
from benchmarks.watched import Score, judge, pair
from benchmarks.watching import cells, hard_table, table
from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import StrokeClass


def true(time_s: float, hand: Hand, height: float, kind: StrokeClass, rise: Rise = "free") -> StrokeTruth:
    return StrokeTruth(time_s, hand, height, height - 2, kind, rise, -16.0, 250.0, 0.8)


TRUE = (
    true(1.0, "R", 10.0, "tap"),
    true(1.5, "L", 20.0, "half", "lifted"),
    true(2.0, "R", 28.0, "full", "mixed"),
    true(2.5, "L", 14.5, "half", "lifted"),  # half a cm from the limit of 13.97: its class is not judged
)


def said(stroke: StrokeTruth, **changes: Any) -> dict[str, Any]:
    """Return what a perfect watcher would say, with changes."""
    rise = {"free": "free", "lifted": "lifted"}.get(stroke.rise, "unsure")
    right = {"time_s": stroke.time_s, "hand": stroke.hand, "class": stroke.kind, "rise": rise}
    heights = {"preparation_cm": stroke.preparation_cm, "rebound_cm": stroke.rebound_cm}
    return {**right, **heights, **changes}


def seen(*strokes: Mapping[str, Any], warnings: tuple[Any, ...] = ()) -> dict[str, Any]:
    return {"strokes": list(strokes), "setup": {"warnings": list(warnings)}, "audio_video_shift_ms": 0.0}


def test_a_perfect_watcher_is_right_in_everything() -> None:
    score = judge(TRUE, seen(*map(said, TRUE)))
    assert score.hands == [True] * 4
    assert score.classes == [True] * 3
    assert [error for errors in score.heights.values() for error in errors] == [0.0] * 4
    assert score.balanced == (1.0, 3)
    assert score.unsure == (0.0, 3)
    assert score.share_said("mixed", ["free"], ["free", "lifted", "unsure"]) == (0.0, 1)


def test_strokes_pair_one_to_one_by_the_nearest_time() -> None:
    assert pair([1.0, 1.02, 2.0], [1.015, 2.031, 3.0]) == [(1, 0)]
    assert pair([1.0, 2.0], [2.001, 0.999]) == [(0, 1), (1, 0)]


def test_what_was_not_found_and_what_was_made_up_are_counted() -> None:
    score = judge(TRUE, seen(said(TRUE[0]), said(TRUE[1], time_s=1.75)))
    assert (len(score.hands), score.true, score.made_up) == (1, 4, 1)


def test_a_stroke_given_to_the_other_hand_counts_against_the_hand_alone() -> None:
    score = judge(TRUE, seen(said(TRUE[0], hand="L"), said(TRUE[1])))
    assert score.hands == [False, True]
    assert score.heights == {"tap": [], "half": [0.0], "full": []}


def test_heights_and_classes_are_judged_by_the_true_class() -> None:
    strokes = [said(TRUE[0], preparation_cm=10.6), said(TRUE[2], preparation_cm=27.2, **{"class": "half"})]
    score = judge(TRUE, seen(*strokes))
    assert score.heights["tap"] == [pytest.approx(0.6)]
    assert score.heights["full"] == [pytest.approx(-0.8)]
    assert score.classes == [True, False]


def test_balanced_accuracy_weighs_both_kinds_alike_and_leaves_the_unsure_out() -> None:
    """Free: 3 of 4 right; lifted: 1 of 2, one more unsure. (3/4 + 1/2) / 2 = 5/8 of 6; unsure 1 of 7."""
    called = {"free": ["free", "free", "free", "lifted"], "lifted": ["lifted", "free", "unsure"]}
    score = Score()
    for at, (rise, word) in enumerate((rise, word) for rise, words in called.items() for word in words):
        stroke = replace(TRUE[0], time_s=float(at), rise=rise)  # type: ignore[arg-type]
        score.add(judge([stroke], seen(said(stroke, rise=word))))
    assert score.balanced == (0.625, 6)
    assert score.unsure == (1 / 7, 7)


def test_values_that_are_not_given_are_not_judged() -> None:
    nothing = {"preparation_cm": None, "rebound_cm": None, "class": None, "rise": None}
    score = judge(TRUE, seen(said(TRUE[0], **nothing), said(TRUE[1], hand=None)))
    assert (score.hands, score.rebounds, score.classes) == ([True], [], [])
    assert score.balanced == (None, 0)


def test_every_figure_of_a_row_comes_with_its_count() -> None:
    score = judge(TRUE, seen(*map(said, TRUE), warnings=({"kind": "too dark"}, "few frames a second")))
    laid = table({("usual", "all right"): score})
    assert "100 % (4)" in laid
    assert "0.00 (2)" in laid
    assert cells(Score())[0] == "-"
    assert "few frames a second, too dark" in hard_table({("hard", "dark"): score})


def test_a_goal_is_met_or_not_by_its_own_rows() -> None:
    """Fulls err by 1.2 cm, more than 0.8; two of two hands right; no rise of a lifted one, so no balance."""
    usual = judge(TRUE, seen(said(TRUE[0]), said(TRUE[2], preparation_cm=29.2)))
    other = judge(TRUE, seen(said(TRUE[0], hand="L")))
    laid = goals({("usual", "as asked"): usual, ("blur", "much"): other}).splitlines()
    assert "| height of fulls, mean error | ≤ 0.8 cm | 1.20 (1) | no |" in laid
    assert "| hits with the right hand, sixteenths at 120 too | ≥ 98 % | 100.0 (2) | yes |" in laid
    assert not [line for line in laid if line.startswith("| free against lifted")]


def test_development_and_held_out_films_have_no_seed_in_common() -> None:
    ours, kept = shots(3, held_out=False), shots(3, held_out=True)
    assert {shot.case.seed % 2 for shot in ours} == {1}
    assert {shot.case.seed % 2 for shot in kept} == {0}
    assert len(ours) == 3 * (USUAL_FILMS + len(EASY) - 1 + len(HARD))
    assert not {shot.case.seed for shot in ours} & {shot.case.seed for shot in kept}
    assert all(right != left for right, left in PAIRS)
