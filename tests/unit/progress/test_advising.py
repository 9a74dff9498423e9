"""What the takes say of going on, staying, going back. Histories are made from the figures behind them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenhand.errors import WrongOptions
from evenhand.progress.bounce.restitution import DropKind
from evenhand.progress.history import History, PastTake
from evenhand.progress.stages.advising import advise
from evenhand.progress.stages.path import PracticePath, condition
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.progress.stages.verdicts import Advice, Judged
from evenhand.report.words.advice import bound_words, figure_words, reason_words
from evenhand.report.words.remarks import all_remarks
from evenhand.take import Remark
from tests.histories import FIRST, a_take, day, drops

FREE: tuple[DropKind, ...] = ("free", "free", "free", "free")


def two_weeks(seed: int = 1, first: int = 0, days: int = 6, **figures: object) -> tuple[PastTake, ...]:
    """Play every other day, at and a little over what half strokes ask: 1.3 and 1.5 a second of a hand."""
    rng = np.random.default_rng(seed)
    return tuple(
        a_take(day(first + 2 * i), rng, tempo=tempo, **{"ceiling_bpm": 170.0, **figures})  # type: ignore[arg-type]
        for i in range(days)
        for tempo in ("1/8=120", "1/8=136")
    )


def of(advice: Advice, measure: str) -> Judged:
    return next(each for each in advice.judged if each.condition.measure == measure)


def test_all_met_over_the_least_weeks_goes_on() -> None:
    advice = advise(History(two_weeks()), COMMON_PATH, "half")
    assert (advice.proposal, advice.to) == ("go on", "full")
    assert {each.verdict for each in advice.judged if each.counts} == {"met"}
    assert advice.weeks_in_stage == pytest.approx(11 / 7)  # from the first day to the tenth after it


def test_all_met_in_too_few_days_stays_for_the_least_weeks() -> None:
    advice = advise(History(two_weeks(days=3)), COMMON_PATH, "half")
    assert advice.proposal == "stay"
    assert "usually takes 1 to 2 weeks" in reason_words(advice, COMMON_PATH)


def test_a_weak_hand_stays_and_is_named_with_its_figures() -> None:
    advice = advise(History(two_weeks(louder_db=3.0)), COMMON_PATH, "half")
    balance = of(advice, "balance_db")
    assert (advice.proposal, advice.to, balance.verdict) == ("stay", "half", "not met")
    assert balance.value == pytest.approx(3.0, abs=0.4)
    assert balance.n == 8
    assert figure_words(balance).startswith("right ")
    assert "both hands equally loud (right " in reason_words(advice, COMMON_PATH)


def test_a_louder_left_hand_is_said_to_be_louder() -> None:
    said = figure_words(of(advise(History(two_weeks(louder_db=-3.0)), COMMON_PATH, "half"), "balance_db"))
    low, high = said.split(", ")[1].split(" to ")
    assert said.startswith("left ")
    assert float(low) < float(high)


def test_an_interval_that_straddles_decides_nothing_and_says_what_would_tell() -> None:
    takes = tuple(a_take(day(i), louder_db=0.9, tempo="1/8=136", ceiling_bpm=170) for i in (0, 4, 8))
    advice = advise(History(takes), COMMON_PATH, "half")
    assert (advice.proposal, of(advice, "balance_db").verdict) == ("can't tell", "can't tell")
    needs = of(advice, "balance_db").needs
    assert needs is None or needs > 0


def test_the_worse_hand_decides() -> None:
    spread = of(advise(History(two_weeks(spread_ms=(4.0, 40.0))), COMMON_PATH, "half"), "spread_ms")
    assert (spread.verdict, spread.hand) == ("not met", "L")
    assert set(spread.hands) == {"R", "L"}
    assert spread.bound == pytest.approx(
        0.025 * 60_000 / 128, rel=0.08
    )  # 2.5 % of the interval (Friberg & Sundberg)


def test_a_hand_that_was_never_heard_leaves_it_open() -> None:
    takes = [
        replace(take, measures={k: v for k, v in take.measures.items() if ".L." not in k})
        for take in two_weeks()
    ]
    spread = of(advise(History(tuple(takes)), COMMON_PATH, "half"), "spread_ms")
    assert (spread.verdict, spread.remark) == ("can't tell", Remark("hand not heard", {"hand": "L"}))


def test_a_low_ceiling_is_not_met_and_a_high_one_is_though_it_is_not_bounded() -> None:
    low = of(advise(History(two_weeks(ceiling_bpm=90.0)), COMMON_PATH, "half"), "ceiling_per_s")
    high = of(advise(History(two_weeks(ceiling_bpm=300.0)), COMMON_PATH, "half"), "ceiling_per_s")
    assert (low.verdict, high.verdict) == ("not met", "met")
    assert high.value is None
    assert high.at_least is not None
    assert high.at_least > 1.4
    assert "or more" in figure_words(high)


def test_an_exercise_in_other_notes_counts_by_what_its_busier_hand_plays() -> None:
    """By hand: a hand's fastest three strokes in RLRR LRLL last 3 notes: at 1/16 = 96, 2 in 1.875 s."""
    takes = tuple(
        a_take(day(i), text="1/16: RLRR LRLL", tempo="1/16=96", ceiling_bpm=110.0) for i in (0, 3, 6, 9)
    )
    found = of(advise(History(takes), COMMON_PATH, "half"), "ceiling_per_s")
    assert found.at_least is not None
    assert 2 / 1.875 < found.at_least < 1.2 * 2 / 1.875


def test_only_the_newest_two_weeks_are_judged_but_all_days_count() -> None:
    old = two_weeks(louder_db=6.0)
    new = two_weeks(seed=2, first=30)
    advice = advise(History((*old, *new)), COMMON_PATH, "half")
    assert of(advice, "balance_db").verdict == "met"
    assert of(advice, "days").value == 12


def test_it_can_be_asked_as_of_an_earlier_day() -> None:
    history = History((*two_weeks(louder_db=6.0), *two_weeks(seed=2, first=30)))
    advice = advise(history, COMMON_PATH, "half", until_day=day(12).toordinal())
    assert of(advice, "balance_db").verdict == "not met"
    assert advice.days == 6


def test_nothing_heard_is_said() -> None:
    advice = advise(History(), COMMON_PATH, "tap")
    assert (advice.proposal, reason_words(advice, COMMON_PATH)) == (
        "can't tell",
        "There is no take of this stage yet.",
    )


def test_what_the_stage_before_asked_and_is_lost_goes_back() -> None:
    halves = two_weeks(first=14, spread_ms=(50.0, 50.0), days=5)
    fulls = two_weeks(seed=3, first=14, stroke="full", spread_ms=(50.0, 50.0), days=5)
    advice = advise(History((*halves, *fulls)), COMMON_PATH, "full")
    assert (advice.proposal, advice.to) == ("go back", "half")
    assert "spread_ms" in {each.condition.measure for each in advice.slipped}
    assert "What the stage half asked is clearly not met any more" in reason_words(advice, COMMON_PATH)


def test_the_stage_before_not_met_does_not_send_back_what_is_all_met() -> None:
    halves = two_weeks(spread_ms=(50.0, 50.0), days=5)
    fulls = two_weeks(seed=3, stroke="full", days=6)
    assert advise(History((*halves, *fulls)), COMMON_PATH, "full").proposal == "go on"


def test_too_long_in_a_stage_with_the_basics_failing_goes_back() -> None:
    history = History(two_weeks(stroke="full", days=9, louder_db=4.0))
    assert advise(history, COMMON_PATH, "full").proposal == "go back"
    early = advise(history, COMMON_PATH, "full", since_day=day(8).toordinal())
    assert early.proposal == "stay"


def test_stages_of_one_stroke_do_not_know_their_weeks_unless_told() -> None:
    history = History(two_weeks(stroke="tap"))
    unsaid = advise(history, COMMON_PATH, "tap")
    assert unsaid.weeks_in_stage is None
    assert any("--since" in note for note in all_remarks(unsaid.notes))
    assert advise(history, COMMON_PATH, "tap", since_day=FIRST.toordinal()).weeks_in_stage is not None


def test_takes_without_a_stroke_count_only_from_a_day_that_is_said() -> None:
    history = History(two_weeks(stroke=None))
    assert advise(history, COMMON_PATH, "half").takes == 0
    assert any("stroke" in note for note in all_remarks(advise(history, COMMON_PATH, "half").notes))
    assert advise(history, COMMON_PATH, "half", since_day=FIRST.toordinal()).takes == 12


def test_takes_that_do_not_tell_the_hands_count_for_days_only() -> None:
    advice = advise(History(two_weeks(clear=False)), COMMON_PATH, "half")
    assert of(advice, "days").verdict == "met"
    assert of(advice, "balance_db").verdict == "can't tell"
    assert any("12 of the takes do not tell" in note for note in all_remarks(advice.notes))


def test_the_last_stage_stays() -> None:
    path = PracticePath(COMMON_PATH.stages[:2])
    advice = advise(History(two_weeks()), path, "half")
    assert (advice.proposal, advice.to) == ("stay", "half")
    assert "last stage" in reason_words(advice, path)


@pytest.mark.parametrize("name", ["Slow-Doubles", "slow_doubles", " slow doubles "])
def test_a_stage_is_found_however_its_name_is_typed(name: str) -> None:
    assert advise(History(), COMMON_PATH, name).stage == "slow doubles"


def test_an_unknown_stage_is_refused_with_those_there_are() -> None:
    with pytest.raises(WrongOptions, match="must be one of rebound, half, full, tap, hands alone"):
        advise(History(), COMMON_PATH, "marching")


def test_free_drops_of_each_hand_go_on() -> None:
    history = History((), (drops(day(0), *FREE, label="R"), drops(day(4), *FREE, label="L, loose")))
    advice = advise(history, COMMON_PATH, "rebound")
    assert (advice.proposal, advice.to) == ("go on", "half")


@pytest.mark.parametrize(
    ("kinds", "verdict"),
    [
        (("free", "free", "free"), "met"),
        (("free", "damped", "damped", "damped"), "not met"),
        (("free", "free"), "can't tell"),
        (("free", "free", "unsure"), "can't tell"),
    ],
)
def test_drops_are_counted_and_what_is_unsure_stays_open(kinds: tuple[DropKind, ...], verdict: str) -> None:
    history = History((), (drops(day(0), *kinds),))
    assert of(advise(history, COMMON_PATH, "rebound"), "free_drops").verdict == verdict


def test_too_few_bounces_are_not_met() -> None:
    history = History((), (drops(day(0), *FREE, bounces=3),))
    assert of(advise(history, COMMON_PATH, "rebound"), "bounces").verdict == "not met"


def test_a_teachers_own_bound_is_used() -> None:
    strict = replace(COMMON_PATH.stages[1], conditions=(condition("hands_apart_ms", 1.0),))
    advice = advise(History(two_weeks(later_ms=6.0)), PracticePath((strict,)), "half")
    (judged,) = advice.judged
    assert (judged.verdict, judged.bound) == ("not met", 1.0)
    assert judged.value == pytest.approx(6.0, abs=1.0)
    assert figure_words(judged).startswith(f"right {judged.value:.1f} ms later")
    assert bound_words(judged.condition, judged.bound) == "at most 1 ms"


TURNED = {"stroke": "tap", "text": "1/16: RRLL RRLL", "ceiling_bpm": 300.0}
SLOW, FAST = "1/8=120", "1/16=440"  # a double's notes 250 ms and 136 ms apart


def doubles(tempo: str, **figures: object) -> Advice:
    rng = np.random.default_rng(4)
    text = "1/8: RRLL RRLL" if tempo == SLOW else "1/16: RRLL RRLL"
    asked = {"stroke": "tap", "text": text, "tempo": tempo, "ceiling_bpm": 900.0, **figures}
    takes = tuple(a_take(day(2 * i), rng, **asked) for i in range(6))  # type: ignore[arg-type]
    return advise(History(takes), COMMON_PATH, "doubles by rebound")


def test_the_second_of_two_may_be_softer_by_no_more_than_an_ear_can_tell() -> None:
    judged = of(doubles(FAST, second_db=(-0.3, -4.0)), "second_db")
    assert (judged.verdict, judged.hand, judged.bound) == ("not met", "L", -1.0)
    assert of(doubles(FAST, second_db=(0.0, 0.0)), "second_db").verdict == "met"


def test_two_strokes_of_the_wrist_never_pass_for_a_bounce() -> None:
    """RRLL at 1/8 = 120 are two strokes of the wrist, however even: above 200 ms (Fujii et al. 2009)."""
    advice = doubles(SLOW, second_db=(0.0, 0.0))
    assert (advice.takes, advice.proposal) == (0, "can't tell")
    assert of(advice, "second_db").verdict == "can't tell"
    assert any("6 takes were slower than this stage goes" in note for note in all_remarks(advice.notes))
    assert any(each.verdict == "met" for each in doubles(FAST, second_db=(0.0, 0.0)).judged)


def test_takes_of_something_else_do_not_show_a_stage() -> None:
    """Singles by the right hand's lead show no doubles, no accents and no lead of the left."""
    takes = tuple(a_take(day(2 * i), stroke="tap", text="1/8: RLRL", tempo="1/8=240") for i in range(4))
    shown = {each.name: advise(History(takes), COMMON_PATH, each.name).takes for each in COMMON_PATH.stages}
    assert {name for name, n in shown.items() if n} == {"tap", "endurance"}
