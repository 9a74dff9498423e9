"""The page of a take that was watched: what is added, what is said, what is called experimental."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

import numpy as np
import pytest

from evenhand.film import FilmFacts
from evenhand.measuring.seen import AskedStroke, SeenTake, balance_of, hands_seen, heights_by_position
from evenhand.report.take.watched import watched_text
from evenhand.report.words.watching import SAYS, seen_sentences, warning_words
from evenhand.watching.values import RiseKind, SeenStick, SeenStroke, SetUpKind, SetUpWarning, Watched
from tests.builders import a_blind_take, a_heard_take

FACTS: dict[str, Any] = {
    "n": 6.0,
    "hand": "L",
    "colour": "green",
    "share": 0.42,
    "deg": -4.2,
    "cm": 48.0,
    "fps": 30.0,
    "rises": 1.0,
    "bits": 10.0,
    "seconds": 31.0,
    "of": 60.0,
    "luma": 30.0,
}


def a_seen_take(**changes: Any) -> SeenTake:
    """Give the heard take of the builders, each of its hits seen from 20 cm, half of the rises lifted."""
    heard = changes.pop("heard", a_heard_take())
    kinds: tuple[RiseKind, RiseKind] = ("free", "lifted")
    strokes = tuple(
        SeenStroke(
            hit.time_s,
            hit.hand or "R",
            0.97,
            20.0 + i % 3,
            0.4,
            15.0,
            "half",
            0.9,
            rise=kinds[i // 2 % 2],
            lift_index=0.5,
        )
        for i, hit in enumerate(heard.heard.hits)
    )
    asked = tuple(AskedStroke(hit) for hit in heard.heard.hits)
    times = np.arange(0.0, 20.0, 1 / 60)
    height = 10 + 10 * np.sin(6 * times)
    height[300:360] = np.nan
    stick = SeenStick(times, height, 12.0, 2, 0.95)
    watched = Watched(strokes, {"R": stick, "L": stick}, (), {"R": "blue", "L": "green"}, 40.0, 60.0, 0.015)
    take = SeenTake(
        heard,
        FilmFacts("mp4/h264", 1280, 720, 20.0, 60.0),
        watched,
        asked,
        hands_seen(strokes, asked, 0.015),
        balance_of(strokes, asked, 0.015),
        heights_by_position(strokes, asked),
    )
    return replace(take, **changes)


def test_the_page_shows_heights_over_time_under_the_notes_and_in_figures() -> None:
    page = watched_text(a_seen_take())
    assert "What was seen" in page
    assert "Height of the sticks over time" in page
    assert ">cm</text>" in page
    assert "right: height before the hit, mean" in page
    assert "the sound comes 40\N{NO-BREAK SPACE}ms after the picture" in page


def test_the_answer_about_lifting_is_called_experimental_wherever_it_stands() -> None:
    take = a_seen_take()
    page = watched_text(take)
    assert "The answer about rises is experimental." in page
    assert "not proven on real players yet" in page
    assert all("experimental" in said for said in seen_sentences(take) if "lifted" in said)


def test_limits_and_privacy_stand_with_the_cautions() -> None:
    page = watched_text(a_seen_take())
    assert "measured on simulated films, not yet on films of players" in page
    assert "A video of a child is private." in page


def test_a_take_that_was_heard_blind_or_without_heights_has_a_page() -> None:
    assert "What was seen" in watched_text(a_seen_take(heard=a_blind_take()))
    bare = a_seen_take()
    without = replace(bare, watched=replace(bare.watched, sticks={}, shift_ms=None), hands={})
    assert "Height of the sticks" not in watched_text(without)


@pytest.mark.parametrize("kind", get_args(SetUpKind))
def test_every_warning_is_a_sentence_that_says_what_to_change(kind: SetUpKind) -> None:
    said = warning_words(SetUpWarning(kind, FACTS))
    assert said[0].isupper() or said[0].isdigit()
    assert said.endswith(".")
    assert "{" not in said


def test_every_kind_of_warning_has_its_words() -> None:
    assert set(SAYS) == set(get_args(SetUpKind))


def test_so_few_frames_that_no_rise_is_judged_are_said_to_be() -> None:
    said = warning_words(SetUpWarning("few frames a second", {"fps": 15.0, "rises": 0.0}))
    assert "how the stick rises is not judged" in said


def test_a_hand_with_too_few_strokes_says_so() -> None:
    take = a_seen_take()
    few = take.watched.strokes[:1]
    hands = hands_seen(few, take.asked[:1], 0.015)
    (said,) = seen_sentences(replace(take, hands=hands))
    assert "too few strokes were seen" in said
