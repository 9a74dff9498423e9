"""What is found in what was seen: only where its whole range lies beyond its edge."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from evenhand.film import FilmFacts
from evenhand.measuring.seen import (
    AskedStroke,
    SeenTake,
    balance_of,
    hands_seen,
    heights_by_position,
    rise_shares,
    seen_findings,
)
from evenhand.measuring.values import Finding
from evenhand.music.exercise import Hand
from evenhand.music.strokes.heights import COMMON_HEIGHTS
from evenhand.music.text import parse_exercise
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.take import said_to_student
from evenhand.take import Hit
from evenhand.watching.values import RiseKind, SeenStroke, Watched
from tests.builders import a_heard_take

EXERCISE = parse_exercise("4/4 1/8: RLRL RLRL")
FILM = FilmFacts("mp4/h264", 1280, 720, 20.0, 60.0)


def a_take(
    played: str,
    heights: Sequence[float],
    *,
    asked_cm: float | None = None,
    rises: Sequence[RiseKind | None] | None = None,
) -> SeenTake:
    """Give a take of RLRL RLRL, a hit each 0.25 s, by the hands and from the heights that were seen."""
    strokes, asked = [], []
    for i, (letter, height) in enumerate(zip(played, heights, strict=True)):
        hand: Hand = "R" if letter == "R" else "L"
        written: Hand = "R" if i % 2 == 0 else "L"
        hit = Hit(i / 4, -20.0, 1.0, written, i // 8 + 1, i % 8, written=i / 8)
        rise = None if rises is None else rises[i]
        strokes.append(SeenStroke(i / 4, hand, 0.98, height, 0.4, height - 2, "half", 0.99, rise=rise))
        asked.append(AskedStroke(hit, asked_cm, None if asked_cm is None else "half"))
    watched = Watched(tuple(strokes), {}, (), {"R": "blue", "L": "green"}, 0.0, 60.0, 0.015)
    return SeenTake(
        a_heard_take(exercise=EXERCISE, exercise_text="4/4 1/8: RLRL RLRL"),
        FILM,
        watched,
        tuple(asked),
        hands_seen(strokes, asked, 0.015),
        balance_of(strokes, asked, 0.015),
        heights_by_position(strokes, asked),
    )


def found(take: SeenTake) -> dict[str, Finding]:
    return {each.kind: each for each in seen_findings(take, COMMON_HEIGHTS)}


def around(right: float, left: float, n: int = 32, seed: int = 1) -> list[float]:
    rng = np.random.default_rng(seed)
    return [float((right, left)[i % 2] + rng.normal(0, 0.8)) for i in range(n)]


def test_a_mean_height_allows_for_the_scale() -> None:
    take = a_take("RL" * 16, around(19, 19))
    figure = take.hands["R"].height_mean_cm
    assert figure.value == pytest.approx(19, abs=0.6)
    assert figure.ci95 is not None
    assert (figure.ci95[1] - figure.ci95[0]) / 2 > 1.96 * 0.015 * 18


def test_strokes_outside_their_class_are_found_and_said() -> None:
    take = a_take("RL" * 16, around(27, 19), asked_cm=19.05)
    finding = found(take)["stroke_heights"]
    said = finding_words(finding, EXERCISE)
    assert said.startswith("The right hand's strokes start 8.0 cm higher than asked for (")
    assert remedy_words(finding, EXERCISE).startswith("Play the right hand alone")
    assert said_to_student(finding, EXERCISE) == "Your right hand's strokes start too high."


def test_strokes_within_their_class_are_not_found() -> None:
    assert "stroke_heights" not in found(a_take("RL" * 16, around(22, 16), asked_cm=19.05))


def test_a_hand_that_plays_lower_is_found_with_its_name() -> None:
    finding = found(a_take("RL" * 16, around(22, 17)))["uneven_heights"]
    assert finding_words(finding, EXERCISE).startswith("The left hand plays lower than the right by 5.1 cm")
    assert "uneven_heights" not in found(a_take("RL" * 16, around(19, 18)))


def test_a_third_of_the_strokes_must_surely_be_lifted() -> None:
    lifted: list[RiseKind | None] = ["lifted" if i % 2 == 0 and i % 8 else "free" for i in range(32)]
    finding = found(a_take("RL" * 16, around(19, 19), rises=lifted))["lifted_stick"]
    said = finding_words(finding, EXERCISE)
    assert "seems to lift the stick" in said
    assert "experimental" in said
    assert "experimental" in said_to_student(finding, EXERCISE)
    few: list[RiseKind | None] = ["lifted" if i % 6 == 0 else "free" for i in range(32)]
    assert "lifted_stick" not in found(a_take("RL" * 16, around(19, 19), rises=few))


def test_another_sticking_is_said_bar_by_bar() -> None:
    take = a_take("RLRLRLRL" + "RRLLRRLL" + "RLRLRLRL" + "RRLLRLRL", around(19, 19))
    finding = found(take)["other_sticking"]
    assert finding_words(finding, EXERCISE) == (
        "Other hands were seen than are written, in 6 of 32 strokes: bar 2 RRLLRRLL, 4 RRLLRLRL was played."
    )
    assert "other_sticking" not in found(a_take("RL" * 16, around(19, 19)))


def test_one_stroke_by_the_other_hand_is_not_another_sticking() -> None:
    assert "other_sticking" not in found(a_take("RR" + "RL" * 15, around(19, 19)))


def test_shares_of_rises_carry_wilson_s_range() -> None:
    """12 of 16 is 75 %, its range 50.5 to 89.8 % (Wilson 1927, worked by hand)."""
    rises: list[RiseKind] = ["free" if i % 4 else "lifted" for i in range(16)]
    free = rise_shares(rises)["free"]
    assert free.value == 75.0
    np.testing.assert_allclose(free.ci95 or (), (50.5, 89.8), atol=0.1)
    assert rise_shares(["free"])["free"].value is None


def test_grace_notes_have_heights_of_their_own_and_stay_out() -> None:
    take = a_take("RL" * 8, around(19, 19, 16))
    graces = [AskedStroke(Hit(0.0, -30.0, 1.0, "R", 1, 0, grace=True))] * 16
    assert hands_seen(take.watched.strokes, graces, 0.015)["R"].height_mean_cm.n == 0


def test_each_written_note_has_its_mean_height() -> None:
    positions = a_take("RL" * 16, around(22, 17)).positions
    assert list(positions) == list(range(8))
    assert positions[0].value == pytest.approx(22, abs=1.5)
    assert positions[1].value == pytest.approx(17, abs=1.5)
