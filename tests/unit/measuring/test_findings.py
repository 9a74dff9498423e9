"""What is said of a take, and in which order."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any, get_args

import pytest

from evenhand.measuring.measure import measure
from evenhand.measuring.rules.findings import find, missed_notes
from evenhand.measuring.rules.sound import Verdict
from evenhand.measuring.values import Finding, FindingKind, Measure, either_way, one_way
from evenhand.music.exercise import Tempo
from evenhand.report.words.findings import REMEDIES, finding_words, remedy_words
from evenhand.take import Heard, Hit, Remark
from tests.players import FAST, heard_of, written

TEMPO = Tempo.parse(FAST)
TWO = Remark("two alignments", {"note": 1, "at_s": 2.0, "other_note": 3, "other_at_s": 2.5})
CALM: dict[str, Any] = {"hand_ms": {"R": 2.0, "L": 2.0}, "level_sd_db": {"R": 0.7, "L": 0.7}}


def findings(text: str, heard: Heard | None = None, **changes: Any) -> tuple[Finding, ...]:
    exercise = written(text)
    take = heard or heard_of(exercise, **{"repetitions": 30, **CALM, **changes})
    return find(take, measure(take, exercise, TEMPO), exercise, TEMPO)


def said(finding: Finding, text: str = "RLRL") -> str:
    return finding_words(finding, written(text))


def kinds(*args: Any, **changes: Any) -> list[str]:
    return [finding.kind for finding in findings(*args, **changes)]


def test_every_kind_has_a_remedy() -> None:
    assert set(REMEDIES) == set(get_args(FindingKind))


def test_the_remedy_for_tiring_is_to_stop_and_rest() -> None:
    assert REMEDIES["tiring"].startswith("Stop, rest")
    assert "clinician" in REMEDIES["tiring"]


@pytest.mark.parametrize(
    ("text", "player", "kind"),
    [
        ("RLRL", {"level_db": {"R": -10.0, "L": -14.0}}, "weak_hand"),
        ("RLRL", {"late_ms": {"L": 12.0}}, "late_hand"),
        ("RLRL", {"clock": "click", "late_ms": {"L": -15.0}}, "early_hand"),
        ("RRLL", {"second_db": {"L": -4.0}}, "weak_second"),
        ("RRLL", {"second_early_ms": {"L": 16.0}}, "uneven_double"),
        ("RRLL", {"second_early_ms": {"L": -16.0}}, "uneven_double"),
        (">RLRR >LRLL", {"accent_db": 1.0}, "accents_flat"),
        (">RLRR >LRLL", {"accent_db": 4.5}, "taps_high"),
        ("RLRL", {"repetitions": 60, "hurry": 0.08}, "hurrying"),
        ("RLRL", {"repetitions": 60, "hurry": -0.08}, "dragging"),
        ("RLRL", {"repetitions": 60, "fading_db": -4.0}, "tiring"),
        ("RLRL", {"repetitions": 60, "tiring_ms": 14.0}, "tiring"),
        ("RLRL", {"hand_ms": {"R": 2.0, "L": 14.0}}, "wandering_hand"),
        ("lR rL", {"grace_gap_ms": 8.0, "grace_gap_sd_ms": 1.0}, "flam_flat"),
        ("lR rL", {"grace_gap_ms": 70.0}, "flam_wide"),
        ("RLRR LRLL", {"missed": frozenset((r, 4) for r in range(3, 9))}, "missed_note"),
        ("RLRL", {}, "even"),
    ],
)
def test_a_players_fault_comes_first_and_an_even_player_has_none(
    text: str, player: dict[str, Any], kind: str
) -> None:
    found = findings(text, **player)
    assert found[0].kind == kind
    assert found[0].evidence is not None


@pytest.mark.parametrize("text", ["RLRL", "RRLL", "RLRR LRLL"])
def test_an_even_player_is_called_even_and_nothing_else(text: str) -> None:
    assert kinds(text, clock="click") == ["even"]


def test_only_an_even_take_is_to_go_faster_and_one_with_a_fault_is_not() -> None:
    (even,) = findings("RLRL", clock="click")
    assert remedy_words(even, written("RLRL")) == REMEDIES["even"]
    late = findings("RLRL", clock="click", late_ms={"L": 12.0})
    assert [(f.kind, remedy_words(f, written("RLRL"))) for f in late if f.kind == "even"] == [("even", "")]


def test_the_text_carries_figure_interval_and_hand() -> None:
    first = findings("RLRL", clock="click", late_ms={"L": 12.0})[0]
    assert re.fullmatch(r"The left hand comes 1[12](\.\d)? ms late \(1.+ to 1.+\)\.", said(first))
    assert first.evidence is not None
    assert first.evidence.measure == "hands.L.timing_mean_ms"
    assert first.evidence.positions == (1, 3)
    assert first.evidence.audible_from == 6.0
    assert "left hand lead" in remedy_words(first, written("RLRL"))


def test_without_a_click_nobody_is_late_but_behind_the_other() -> None:
    first = findings("RLRL", late_ms={"R": 12.0})[0]
    assert said(first).startswith("The right hand comes 1")
    assert "behind the left (" in said(first)
    assert " late" not in said(first)


def test_both_hands_early_is_one_finding() -> None:
    found = findings("RLRL", clock="click", late_ms={"R": -14.0, "L": -15.0})
    assert [f.kind for f in found if f.kind != "even"] == ["early_hand"]
    assert re.match(r"Both hands come early on the click: the right by 1[345](\.\d)? ms \(", said(found[0]))
    assert found[0].evidence is not None
    assert found[0].evidence.positions == (0, 1, 2, 3)


def test_one_hand_early_and_the_other_late_are_two() -> None:
    assert kinds("RLRL", clock="click", late_ms={"R": -14.0, "L": 15.0})[:2] == ["late_hand", "early_hand"]


@pytest.mark.parametrize(
    ("share", "kind", "text"), [(-0.005, "hurrying", "runs ahead of"), (0.005, "dragging", "falls behind")]
)
def test_playing_away_from_the_click_is_said_once_and_not_as_early_or_wandering(
    share: float, kind: str, text: str
) -> None:
    """Half a percent off the click's tempo for 15 s is 75 ms by the end."""
    heard = heard_of("RLRL", repetitions=30, clock="click", **CALM)
    away = tuple(
        replace(
            h,
            time_s=h.time_s + share * (h.time_s - 1),
            asynchrony_ms=(h.asynchrony_ms or 0) + 1000 * share * (h.time_s - 1),
        )
        for h in heard.hits
    )
    found = findings("RLRL", replace(heard, hits=away))
    assert [f.kind for f in found if f.kind != "even"] == [kind]
    assert text in said(found[0])
    assert found[0].evidence is not None
    assert found[0].evidence.value == pytest.approx(1000 * share * 119 * 0.125, rel=0.05)


def test_a_click_take_of_hits_at_one_time_is_not_asked_whether_it_runs() -> None:
    heard = heard_of("RLRL", clock="click")
    still = replace(heard, hits=tuple(replace(h, time_s=1.0) for h in heard.hits))
    assert not {"hurrying", "dragging"} & set(kinds("RLRL", still))


def test_accents_of_a_hand_with_too_few_are_not_judged() -> None:
    assert not {"accents_flat", "taps_high"} & set(kinds(">RLRR >LRLL", repetitions=2, accent_db=1.0))


def test_a_step_of_tempo_with_too_few_repetitions_on_one_side_says_nothing() -> None:
    heard = _two_tempos(14.0)
    few = replace(heard, hits=tuple(h for h in heard.hits if (h.repetition or 0) <= 14))
    assert "uneven_above_tempo" not in kinds("RLRL", few)


def test_a_late_hand_does_not_make_its_doubles_uneven() -> None:
    """The left hand late by 16 ms changes every short share, but no double is crushed."""
    assert "uneven_double" not in kinds("RRLL", late_ms={"L": 16.0})


def test_crushed_doubles_do_not_make_a_hand_early_or_wandering() -> None:
    found = kinds("RRLL", second_early_ms={"L": 16.0})
    assert found[0] == "uneven_double"
    assert not {"late_hand", "early_hand", "wandering_hand"} & set(found)


def test_crushed_doubles_of_a_late_hand_are_both_said() -> None:
    found = kinds("RRLL", second_early_ms={"L": 20.0}, late_ms={"L": 20.0})
    assert {"uneven_double", "late_hand"} <= set(found)


def test_one_displaced_note_is_named() -> None:
    """The last note of RLRL 25 ms late, and no other."""
    heard = heard_of("RLRL RLRL", repetitions=30, clock="click", **CALM)
    moved = replace(
        heard,
        hits=tuple(
            replace(h, asynchrony_ms=(h.asynchrony_ms or 0) + 25) if h.position == 7 else h
            for h in heard.hits
        ),
    )
    first = findings("RLRL RLRL", moved)[0]
    assert first.kind == "late_hand"
    assert said(first, "RLRL RLRL").startswith("Note 8, the left after the right, comes 2")
    assert "behind that hand's others" in said(first, "RLRL RLRL")


def test_a_lost_note_is_named_by_its_hand_change() -> None:
    first = findings("RLRR LRLL", missed=frozenset((r, 4) for r in range(3, 9)))[0]
    assert said(first, "RLRR LRLL") == (
        "Note 5, the left after the double right, is missed in 6 of 30 repetitions."
    )
    assert first.evidence is not None
    assert first.evidence.positions == (4,)


def test_misses_that_fall_anywhere_are_no_lost_note() -> None:
    missed = frozenset({(3, 0), (9, 5), (12, 7), (20, 2)})
    assert "missed_note" not in kinds("RLRR LRLL", missed=missed)


def test_an_exercise_of_one_note_has_no_place_to_lose_it_at() -> None:
    heard = heard_of("R", missed=frozenset({(3, 0), (5, 0), (6, 0)}))
    assert missed_notes(measure(heard, written("R"), TEMPO)) == []


def test_what_tires_comes_before_all_else() -> None:
    found = kinds("RLRL", repetitions=60, fading_db=-4.0, late_ms={"L": 15.0}, level_db={"R": -10, "L": -15})
    assert found[:3] == ["tiring", "late_hand", "weak_hand"]


def test_a_take_of_something_else_has_only_that_said() -> None:
    heard = replace(heard_of("RLRL", late_ms={"L": 20.0}), unlike=Remark("no note found"))
    assert [said(f) for f in findings("RLRL", heard)] == ["No note of the exercise was found in the take."]


def test_where_the_hands_are_not_known_nothing_is_said_of_a_hand() -> None:
    heard = heard_of("RLRL", repetitions=60, hurry=0.08, late_ms={"L": 20.0}, level_db={"R": -8, "L": -14})
    found = findings("RLRL", replace(heard, ambiguity=TWO))
    assert [f.kind for f in found] == ["two_alignments", "hurrying"]
    assert said(found[0]).startswith("The take fits two alignments: begun with note 1 at 2.0 s")


@pytest.mark.parametrize(("text", "repetitions", "n"), [("RL", 1, "2 were"), ("R-", 1, "1 was")])
def test_too_few_strokes_are_said_with_how_many_would_do(text: str, repetitions: int, n: str) -> None:
    (only,) = findings(text, repetitions=repetitions)
    assert said(only, text).startswith(f"Too few hits to judge: {n} heard.")


def test_nothing_heard_is_too_few() -> None:
    (only,) = findings("RLRL", Heard(()))
    assert said(only).startswith("Too few hits to judge: 0 were heard.")


def test_what_straddles_the_audible_is_asked_again_with_how_many_repetitions_would_tell() -> None:
    heard = heard_of("RLRL", repetitions=8, hand_ms={"R": 3.0, "L": 3.0}, late_ms={"L": 7.0}, seed=4)
    found = [f for f in findings("RLRL", heard) if f.kind == "cannot_tell"]
    assert len(found) == 1
    assert "Can't tell yet whether the left hand comes behind the right: " in said(found[0])
    assert "audible from 6 ms" in said(found[0])


def test_at_most_two_questions_are_left_open() -> None:
    for seed in range(8):
        assert kinds("RRLL", repetitions=4, seed=seed, hand_ms={"R": 6, "L": 6}).count("cannot_tell") <= 2


def _verdict(value: float, low: float, high: float) -> Verdict:
    figure = Measure(value, 40, "dB", (low, high))
    return Verdict("weak_hand", "open", "m", figure, 1.0, "L")


@pytest.mark.parametrize(
    ("figure", "repetitions", "ending"),
    [
        ((1.5, 0.7, 2.3), 10, "About 26 repetitions would tell."),  # (0.8 / 0.5) squared times 10
        ((2.0, 0.9, 3.1), 1, "About 2 repetitions would tell."),
        ((1.01, 0.0, 2.0), 10, "100 repetitions might not tell."),
        ((1.01, 0.0, 2.0), 80, "160 repetitions might not tell."),
    ],
)
def test_how_many_repetitions_would_tell(
    figure: tuple[float, float, float], repetitions: int, ending: str
) -> None:
    """By hand: an interval shrinks with the root of the number of repetitions."""
    assert said(_verdict(*figure).cannot_tell(repetitions)).endswith(ending)


@pytest.mark.parametrize(
    ("interval", "both_ways", "too_low"),
    [
        ((1.5, 2.0), "over", "under"),
        ((-2.0, -1.5), "over", "over"),
        ((-0.5, 0.5), "under", "under"),
        ((0.5, 1.5), "open", "under"),
        ((-1.5, -0.5), "open", "open"),
    ],
)
def test_sides_of_the_audible(interval: tuple[float, float], both_ways: str, too_low: str) -> None:
    figure = Measure(sum(interval) / 2, 9, "dB", interval)
    assert either_way(figure, 1.0) == both_ways
    assert one_way(figure, -1.0) == too_low
    assert either_way(Measure(None, 2, "dB", None, 3), 1.0) == "open"
    assert one_way(Measure(None, 2, "dB", None, 3), 1.0) == "open"


def _two_tempos(spread_fast_ms: float) -> Heard:
    slow = heard_of("RLRL", repetitions=12, tempo="1/16=400", **CALM)
    fast = heard_of(
        "RLRL", repetitions=12, tempo="1/16=520", hand_ms={"R": spread_fast_ms, "L": spread_fast_ms}
    )

    def later(hit: Hit) -> Hit:
        return replace(
            hit,
            time_s=hit.time_s + 10,
            repetition=(hit.repetition or 0) + 12,
            written=(hit.written or 0) + 3,
            stretch=1,
        )

    return replace(slow, hits=(*slow.hits, *(later(hit) for hit in fast.hits)))


def test_a_take_at_two_tempos_that_comes_apart_at_the_faster_says_so() -> None:
    found = {f.kind: f for f in findings("RLRL", _two_tempos(14.0))}
    assert "uneven_above_tempo" in found
    assert said(found["uneven_above_tempo"]).startswith("Even to the ear up to about 40")


def test_a_take_at_two_tempos_that_holds_does_not() -> None:
    assert "uneven_above_tempo" not in kinds("RLRL", _two_tempos(2.0))


def test_drags_may_take_twice_the_time_of_flams() -> None:
    assert kinds("llR rrL", grace_gap_ms=22.0, grace_gap_sd_ms=1.0)[0] == "flam_flat"
    assert "flam_wide" not in kinds("llR rrL", grace_gap_ms=70.0)


def test_flams_and_drags_of_one_hand_together_are_not_judged() -> None:
    assert not {"flam_flat", "flam_wide"} & set(kinds("lR llR L", grace_gap_ms=8.0))
