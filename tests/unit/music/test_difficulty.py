"""What an exercise asks of the hands in a second: each component worked by hand.

At 1/4=60 a quarter takes 1 s, so there are 4 sixteenths a second: figures come out even.
"""

from __future__ import annotations

import pytest

from evenhand.music.exercise import Hand, Tempo
from evenhand.music.text import parse_exercise
from evenhand.music.writing.demands import LONGEST_RUN, WEAK_HAND_FACTOR
from evenhand.music.writing.difficulty import Difficulty, difficulties, easy_to_hard
from evenhand.report.words.exercises import explain
from tests.stickings import difficulty

SLOW = Tempo.parse("1/4=60")


def of(text: str, tempo: Tempo = SLOW, weak_hand: Hand = "L") -> Difficulty:
    return difficulty(parse_exercise(text), tempo, weak_hand)


@pytest.mark.parametrize(
    ("text", "hand", "rate"),
    [
        ("1/16: RLRL", "L", 2.0),  # the weaker hand's 2 a second weigh more than the stronger's 2
        ("1/16: RLLL", "L", 4.0),  # its fastest three in a row
        ("1/16: RRRL", "R", 4.0),
        ("1/16: lRR rLL", "L", 4.0),  # the grace is a stroke of its hand: three in a row
        ("1/16: llR", "L", 4.0),  # two graces are one, for the second is a bounce
        ("1/16: R-L-", "L", 1.0),  # rests take time
        ("1/8: RL 1/16: RL", "L", 2 / 1.5),
    ],
)
def test_the_busier_hand_and_its_strokes_a_second(text: str, hand: Hand, rate: float) -> None:
    assert of(text).hand == hand
    assert of(text).hand_rate == pytest.approx(rate)


@pytest.mark.parametrize(
    ("text", "hand", "notes", "rate"),
    [
        ("1/16: RLRL", "R", 1, 0.0),
        ("1/16: RRLR", "R", 3, 4.0),  # around the repeat
        ("1/16: RLLR LLRL", "L", 2, 4.0),
        ("1/16: RRRR LLLL", "L", 4, 4.0),
        ("1/16: RRRRR LLL", "R", 5, 4.0),
        ("1/16: R-RL", "R", 2, 2.0),  # a rest between slows the run
        ("1/8: LLLL 1/32: RR", "R", 2, 8.0),  # two quick ones ask as much as five slow: (2-1) 8 > 3 2 1.2
        ("1/16: LL", "L", LONGEST_RUN + 1, 4.0),
        ("1/16: R", "R", LONGEST_RUN + 1, 4.0),
    ],
)
def test_the_run_that_asks_for_most(text: str, hand: Hand, notes: int, rate: float) -> None:
    found = of(text)
    assert (found.run_hand, found.run_notes) == (hand, notes)
    assert found.run_rate == pytest.approx(rate)


@pytest.mark.parametrize(
    ("text", "heights", "ornaments", "run_changes"),
    [
        ("1/16: RLRL", 0, 0, 0),
        ("1/32: LL 1/8: >R 1/32: LL 1/8: R", 0, 0, 4 / 3),  # over a pause there is time
        ("1/16: R>RLL", 3, 0, 0),  # up at once, which counts twice, and down
        ("1/16: R>LRL", 2 * WEAK_HAND_FACTOR, 0, 0),  # the weaker hand's count for more
        ("1/16: >RLRL", 2, 0, 0),  # the right goes down and up in a second; the left stays low
        ("1/16: >R>L>R>L", 0, 0, 0),
        (
            "1/16: >RRLL >LRRL",
            1 + 1.5 * WEAK_HAND_FACTOR,
            0,
            2,
        ),  # R: >...; L: LL>LL, up at once; runs R2 L3 R2 L1: four changes of length in 2 s
        ("1/16: lRRrLL~", 0, 3, 0),
        ("1/16: RLRR LRLL", 0, 0, 2),  # 1 1 2 1 1 2, around: four changes in 2 s
        ("1/16: RRLL", 0, 0, 0),
    ],
)
def test_what_changes_how_often_a_second(
    text: str, heights: float, ornaments: float, run_changes: float
) -> None:
    found = of(text)
    assert found.height_changes == pytest.approx(heights)
    assert (found.ornaments, found.run_changes) == pytest.approx((ornaments, run_changes))


@pytest.mark.parametrize(
    ("text", "a_second"),
    [
        ("1/16: RL", 0.0),
        ("1/16: LLRR", 0.0),
        ("1/16: LRLL RLRR", 0.0),
        ("1/16: RRLR LLRL", 0.0),  # a paradiddle begun two notes later
        ("1/16: RRRL LLRR RLLL", 4.0),  # no six notes with three in a row are in any of them
        ("1/16: RRL", 8 / 3),  # RLRRLR is in the paradiddle; RRLRRL and LRRLRR are in none
    ],
)
def test_hand_changes_that_singles_doubles_and_paradiddles_do_not_have(text: str, a_second: float) -> None:
    assert of(text).unfamiliar == pytest.approx(a_second)


def test_the_load_is_the_weighed_sum() -> None:
    """RLRR LRLL by the documented weights: the left's fastest three strokes take 3/4 s, its double 1/4 s."""
    by_hand = 1.0 * 2 / 0.75 * WEAK_HAND_FACTOR + 0.5 * 4 * WEAK_HAND_FACTOR + 0.25 * 2
    by_hand += 0.1 * 4 * 5  # four a second without a pause: log2(32) = 5
    assert of("1/16: RLRR LRLL").load == pytest.approx(by_hand)


def test_exercises_of_any_form_are_judged_together_as_alone() -> None:
    those = [parse_exercise(t) for t in ("1/16: RLRR", "1/12: RLL", "1/16: R-LL", "1/16: LLRL", "1/8: lRL")]
    assert difficulties(those, SLOW) == [difficulty(each, SLOW) for each in those]


def ranked(*texts: str) -> list[tuple[str, str]]:
    asks = [of(text, Tempo.parse("1/4=105")) for text in texts]
    order = easy_to_hard(asks)
    return list(zip([texts[i] for i in order], explain([asks[i] for i in order]), strict=True))


def test_each_rank_is_explained() -> None:
    """At 1/4=105 there are 7 sixteenths a second."""
    listed = ranked("1/16: RRRLLL", "1/16: RRLL", "1/16: LLRR", "1/16: RL", "1/16: L", "1/16: >RLRL")
    harder = "harder than the one before because"
    easiest = "the easiest of these: no hand plays two in a row, and the left hand plays 3.5 strokes a second"
    assert listed == [
        ("1/16: RL", easiest),
        ("1/16: >RLRL", f"{harder} a hand changes its height 3.5 times a second"),
        ("1/16: RRLL", f"{harder} the left hand plays 2 in a row at 7 strokes a second"),
        ("1/16: LLRR", "as hard as the one before"),
        ("1/16: RRRLLL", f"{harder} the left hand plays 7 strokes a second"),
        ("1/16: L", f"{harder} the left hand plays without a break at 7 strokes a second"),
    ]


def test_other_reasons() -> None:
    said = dict(ranked("1/16: RL", "1/8: lRrL", "1/16: RRLLRLRLRRLLRLRL", "1/16: RRLRRL"))
    assert said["1/8: lRrL"].endswith("because it has 3.5 graces or buzzes a second")
    assert explain([of("1/16: RRLL")]) == ["the left hand plays 2 in a row at 4 strokes a second"]
    assert explain([]) == []
    before, now = of("1/16: RL"), of("1/32: RLRL 1/8: R")
    assert explain([before, now])[1].endswith("because the right hand plays 4 strokes a second")
    before, now = of("1/16: RLRL RLRL"), of("1/16: LRLR LRLR")
    assert explain([before, now])[1].endswith("because the weaker hand leads")
    before, now = of("1/16: R-- RLRR L--"), of("1/16: R-- RLRR LRR L--")
    assert "of its fastest notes come without a pause" in explain([before, now])[1]
    before, now = of("1/16: RLRRLRLL"), of("1/16: RLRLLRLRRLL")
    assert explain([before, now])[1].endswith(
        "more of its hand changes are in no single, double or paradiddle"
    )


def test_a_run_over_the_repeat_counts_from_where_it_begins() -> None:
    """By hand: three right notes, whole, quarter, whole: 2 intervals in 5 s, wherever the repeat begins."""
    assert of("1/4: R 1/1: R L R").run_rate == pytest.approx(2 / 5)
    assert of("1/1: R L R 1/4: R").run_rate == pytest.approx(2 / 5)
