"""From findings to needs, and from needs to exercises that load them."""

from __future__ import annotations

from typing import Any

import pytest

from evenhand.measuring.values import Evidence, Finding, FindingKind
from evenhand.music.exercise import Exercise, Hand
from evenhand.music.text import parse_exercise
from evenhand.planning.choosing import (
    MOST_TIMES,
    ChosenPlace,
    Need,
    TakeFindings,
    Weakness,
    choose,
    choose_by_coverage,
    load,
    new_hand_changes,
    unloaded,
    weaknesses,
)
from evenhand.report.words.remarks import all_remarks
from tests.builders import in_words

PARADIDDLE = "1/16: RLRR LRLL"


def finding(kind: FindingKind, measure: str = "", value: float = 0.0, **more: Any) -> Finding:
    evidence = Evidence(measure, value, "dB", 40, **more) if measure else None
    return in_words(kind, "Said.", evidence, "To practise.")


def take(*findings: Finding, exercise: str = PARADIDDLE, name: str = "take.json") -> TakeFindings:
    return TakeFindings(name, parse_exercise(exercise), findings)


def needs(*findings: Finding, exercise: str = PARADIDDLE) -> list[Need]:
    return [each.need for each in weaknesses([take(*findings, exercise=exercise)]).found]


@pytest.mark.parametrize(
    ("kind", "measure", "value", "positions", "need"),
    [
        ("weak_hand", "balance.level_db", 3.0, (1, 4, 6, 7), Need("hand", "L")),  # right minus left
        ("weak_hand", "balance.level_db", -3.0, (0, 2, 3, 5), Need("hand", "R")),
        ("late_hand", "balance.timing_ms", -9.0, (1, 4, 6, 7), Need("hand", "L")),
        ("late_hand", "balance.timing_ms", 9.0, (0, 2, 3, 5), Need("hand", "R")),
        ("early_hand", "hands.R.timing_mean_ms", -12.0, (0, 2, 3, 5), Need("hand", "R")),
        ("wandering_hand", "hands.L.timing_sd_ms", 14.0, (1, 4, 6, 7), Need("hand", "L")),
        ("weak_second", "doubles.L.second_minus_first_db", -3.0, (7,), Need("second_notes", "L")),
        ("uneven_double", "doubles.R.short_share", 0.4, (3,), Need("second_notes", "R")),
        ("late_hand", "positions.timing_ms", 9.0, (4,), Need("hand_change", "L", "RRLR")),
        ("missed_note", "missed", 0.2, (6,), Need("hand_change", "L", "LRLL")),
        ("accents_flat", "accents.R.over_taps_db", 1.0, (0,), Need("heights", "R")),
        ("flam_wide", "graces.L.gap_ms", 60.0, (1,), Need("graces", "L")),
    ],
)
def test_a_finding_asks_for_what_it_is_about(
    kind: FindingKind, measure: str, value: float, positions: tuple[int, ...], need: Need
) -> None:
    assert needs(finding(kind, measure, value, positions=positions)) == [need]


def test_a_note_beside_a_rest_has_no_hand_change_to_load() -> None:
    lost = finding("missed_note", "missed", 0.2, positions=(1,))
    said = weaknesses([take(lost, exercise="1/16: R-LR")])
    assert said.found == ()
    lost = finding("missed_note", "missed", 0.2, positions=(0, 3))
    said = weaknesses([take(lost, exercise="1/16: RLRL RR-R")])
    assert [each.need for each in said.found] == [Need("hand_change", "L", "LRLR")]  # notes 2 to 5


def test_what_is_even_or_open_asks_for_nothing() -> None:
    said = weaknesses([take(finding("even", "balance.timing_ms", 1.0), finding("cannot_tell", "missed"))])
    assert (said.found, said.beside) == ((), ())


@pytest.mark.parametrize("kind", ["hurrying", "dragging", "tiring", "uneven_above_tempo"])
def test_what_no_sticking_mends_is_told_beside(kind: FindingKind) -> None:
    said = weaknesses([take(finding(kind, "drift_bpm_per_min", 4.0))])
    assert said.found == ()
    assert [(of.name, each.kind) for of, each in said.beside] == [("take.json", kind)]


def test_both_hands_late_on_the_click_is_no_weak_hand() -> None:
    both = finding("late_hand", "hands.L.timing_mean_ms", 20.0, positions=tuple(range(8)))
    said = weaknesses([take(both)])
    assert said.found == ()
    assert [each.kind for _, each in said.beside] == ["late_hand"]


@pytest.mark.parametrize("kind", ["unlike_exercise", "two_alignments"])
def test_a_take_whose_hands_cannot_be_told_says_nothing(kind: FindingKind) -> None:
    soft = finding("weak_hand", "balance.level_db", 3.0, positions=(1,))
    said = weaknesses([take(finding(kind), soft, name="a.json"), take(soft, name="b.json")])
    assert said.untold == ("a.json",)
    assert (said.found[0].n_takes, said.found[0].of_takes) == (1, 1)


def test_weight_is_in_audible_edges_over_all_takes() -> None:
    """By hand: 2 dB is twice the edge of 1 dB; 9 dB counts as three times; a short share is off by 0.1."""
    soft = [finding("weak_hand", "balance.level_db", v, audible_from=1.0, positions=(1,)) for v in (2.0, 9.0)]
    crushed = finding("uneven_double", "doubles.R.short_share", 0.4, audible_from=0.04, positions=(3,))
    flat = finding("accents_flat", "accents.L.over_taps_db", 1.5, audible_from=3.0, positions=(1,))
    said = weaknesses([take(soft[0], crushed), take(soft[1], flat)])
    found = [(each.need, round(each.weight, 9), each.n_takes, each.of_takes) for each in said.found]
    assert found == [
        (Need("hand", "L"), 2 + MOST_TIMES, 2, 2),
        (Need("second_notes", "R"), 2.5, 1, 2),
        (Need("heights", "L"), 2.0, 1, 2),
    ]


@pytest.mark.parametrize(
    ("text", "need", "share"),
    [
        ("1/16: RLLL", Need("hand", "L"), 0.2 + 0.25),  # more to do: over its half
        ("1/16: LRLL", Need("hand", "L"), 0.6 + 0.25),  # it leads, and has more to do
        ("1/16: RRRR LLLL", Need("hand", "L"), 1.0),  # alone for a while
        ("1/12: RRR LLL", Need("hand", "L"), 0.4),  # the same as the other, in turn
        ("1/16: LRLR", Need("hand", "L"), 0.6),
        ("1/16: >LRLR", Need("hand", "R"), 0.0),
        ("1/16: rLRLR", Need("hand", "L"), 0.7 * 0.6),  # the other hand's graces stand in the way
        ("1/32: LLRR LL 1/16: >R", Need("hand", "L"), 0.0),  # a roll, though 4 of 7 notes are its own
        ("1/32: LLRR LLRR", Need("hand", "L"), 0.0),
        ("1/16: RLRL", Need("hand", "L"), 0.0),
        ("1/16: RRRL", Need("hand", "L"), 0.0),
        ("1/16: RRLL", Need("second_notes", "L"), 0.25),
        ("1/16: RRL>L", Need("second_notes", "L"), 0.25 + 0.25),  # the second accented
        ("1/32: RRLL 1/8: R", Need("second_notes", "L"), 0.5 * 0.2),  # one of a roll's
        ("1/16: LRRL", Need("second_notes", "L"), 0.25),  # around the repeat
        ("1/16: RLLL", Need("second_notes", "L"), 0.0),  # three are no double
        ("1/16: RRL-", Need("second_notes", "R"), 0.0),  # around, a rest comes before
        ("1/8: R 1/16: LL R", Need("second_notes", "L"), 0.25),
        ("1/16: R 1/8: L 1/16: LR", Need("second_notes", "L"), 0.0),  # not of equal value
        ("1/16: RLRR LRLL", Need("hand_change", "L", "LRLL"), 1 / 8),
        ("1/16: >RLRL", Need("heights", "R"), 0.5),
        ("1/16: >RLRL", Need("heights", "L"), 0.0),
        ("1/16: lRLRL", Need("graces", "R"), 0.25),
    ],
)
def test_how_far_an_exercise_loads_a_need(text: str, need: Need, share: float) -> None:
    assert load(parse_exercise(text), need) == pytest.approx(share)


def weak(
    kind: str, hand: Hand = "L", weight: float = 2.0, change: str = "", told: str = "weak_second"
) -> Weakness:
    return Weakness(Need(kind, hand, change), weight, (told,), 2, 3)  # type: ignore[arg-type]  # a test's shorthand


def said_of(chosen: ChosenPlace) -> str:
    return "; ".join(all_remarks(chosen.reasons))


def book(*texts: str) -> list[Exercise]:
    return [parse_exercise(f"1/16: {text}") for text in texts]


DOUBLES = "doubles with the left hand, to hear their second notes, which were weak in 2 of 3 takes"


def test_what_loads_most_comes_first_with_its_reason() -> None:
    listed = book("RLRL RLRL", "RRLR LRLR", "RRLL RRLL", "RLLR LRLR")
    first, second = choose(listed, [weak("second_notes")], 2)
    assert first.place == 2
    assert said_of(first) == DOUBLES
    assert second.place == 3
    assert said_of(second) == DOUBLES


def test_what_loads_nothing_is_not_chosen() -> None:
    assert [each.place for each in choose(book("RLRL", "RRLL"), [weak("second_notes")], 5)] == [1]
    assert choose(book("RLRL", "LRLR"), [weak("second_notes")], 5) == []
    assert choose([], [weak("hand")], 5) == []


def test_weaknesses_take_turns() -> None:
    """The heavier is loaded first; then it counts for less, and the lighter has its turn."""
    listed = book("RRLL RRLL", "RRLL RLRL", ">RLRL RLRL")
    chosen = choose(listed, [weak("second_notes", weight=3.0), weak("heights", "R", weight=2.0)], 2)
    assert [each.place for each in chosen] == [0, 2]


def test_the_same_begun_elsewhere_is_not_chosen_twice() -> None:
    listed = book("RRLL RRLL", "RLLR RLLR", "LRRL LRLR", "RLRL RLRL")
    assert [each.place for each in choose(listed, [weak("second_notes", "R")], 4)] == [0, 2]


def test_reasons_name_what_is_loaded() -> None:
    listed = book("RLRL RLRL", "LLRL LRLL")
    (one,) = choose(listed, [weak("hand", told="weak_hand"), weak("second_notes", told="weak_second")], 1)
    assert said_of(one) == (
        "the left hand alone for a while, 4 in a row, so that it can be heard by itself; "
        f"it was softer in 2 of 3 takes; {DOUBLES}"
    )
    listed = book("RLRL RLRL", ">RLRL lRLRL", "RLLR LRLR")
    said = {
        said_of(each)
        for each in (
            *choose(listed, [weak("heights", "R", told="accents_flat")], 1),
            *choose(listed, [weak("graces", "R", told="flam_wide")], 1),
            *choose(listed, [weak("hand_change", change="RLLR", told="missed_note")], 1),
        )
    }
    assert said == {
        "the right hand goes from high to low and back; its accents were flat in 2 of 3 takes",
        "1 flam or drag to the right hand; they were wide in 2 of 3 takes",
        "goes through RLLR once, where a note was missed in 2 of 3 takes",
    }


def test_a_hand_is_worked_on_in_a_teachers_way_and_never_by_a_roll() -> None:
    soft = weak("hand", told="weak_hand")
    said = [
        said_of(choose([parse_exercise("1/8: RLRL"), parse_exercise(text)], [soft], 1)[0])
        for text in ("1/8: LRLR LRLR", "1/12: RRR LLL", "1/12: RLL RLL", "1/16: R>RL>L R>RLLL")
    ]
    assert [each.removesuffix("; it was softer in 2 of 3 takes") for each in said] == [
        "the left hand leads",
        "each hand does the same in turn, 3 in a row, so that they can be compared",
        "the left hand has more to do than the other",
        "the left hand has more to do than the other",
    ]
    rolls = [parse_exercise(text) for text in ("1/32: RRLL RRLL 1/4: >R", "1/32: RRLL RRLL", "1/8: LRLR")]
    assert [each.place for each in choose(rolls, [soft], 3)] == [2]


def test_an_accented_second_note_is_said() -> None:
    (one,) = choose(book("RLRL RLRL", "R>RL>L"), [weak("second_notes")], 1)
    assert said_of(one) == (
        "accents the second note of the left hand's doubles, which was weak in 2 of 3 takes"
    )


def test_one_take_is_the_take() -> None:
    alone = Weakness(Need("second_notes", "L"), 1.0, ("weak_second",), 1, 1)
    (one,) = choose(book("RRLL", "RLRL"), [alone], 1)
    assert said_of(one).endswith("were weak in the take")


def test_what_the_book_cannot_load_is_known() -> None:
    listed = book("RLRL", "RRLL")
    assert unloaded(listed, [weak("second_notes"), weak("graces")]) == [weak("graces")]
    assert unloaded(book("RLRL"), [weak("hand")]) == [weak("hand")]  # one exercise: none more than another


def test_by_coverage_the_fewest_hold_most() -> None:
    """RRRR LLLL and RRLR LLRL hold all 16 hand changes of four notes (a split of a de Bruijn cycle)."""
    listed = book("RLRL RLRL", "RRRR LLLL", "RRRR RRRR", "RRLR LLRL")
    assert choose_by_coverage(listed, 2) == [1, 3]
    assert new_hand_changes([listed[1], listed[3], listed[0]]) == [8, 8, 0]
