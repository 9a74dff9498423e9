"""Hits put right by hand, and two takes side by side."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from itertools import pairwise
from math import sqrt
from typing import Any

import pytest

from evenhand.acts.takes.document import heard_take_of, json_text
from evenhand.acts.takes.request import is_unmeasured
from evenhand.errors import WrongOptions
from evenhand.measuring.measure import measure
from evenhand.measuring.rules.findings import find
from evenhand.measuring.values import HeardTake, Measure
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.studio.students import heard_digest
from evenhand.studio.takes.beside import difference, difference_of, side_by_side
from evenhand.studio.takes.corrected import Correction, correct_take
from evenhand.studio.takes.shown import others_beside, read_correction, shown_heard
from evenhand.studio.values import GRIP, StudioTake
from evenhand.take import ExtraHit, Heard, Hit, MissedNote
from tests.builders import a_blind_take, a_heard_take
from tests.studios import NOON

STEP_S = 0.5  # eighths at 1/8 = 120; the click is at 1.0, 1.5, 2.0 ...


def a_clicked_take(late_ms: dict[int, float], *, lost: int = -1, extra_s: float = 0.0, times: int = 8) -> str:
    """Give RLRL played so many times to a click; note k, from 0, comes ``late_ms[k]`` late, ``lost`` not."""
    exercise, tempo = parse_exercise("1/8: RLRL"), Tempo.parse("1/8=120")
    hits = tuple(
        Hit(
            time_s=1.0 + STEP_S * k + late_ms.get(k, 0.0) / 1e3,
            level_db=-12.0,
            confidence=0.9,
            hand="R" if k % 2 == 0 else "L",
            repetition=k // 4 + 1,
            position=k % 4,
            asynchrony_ms=late_ms.get(k, 0.0),
            deviation_ms=0.0,
            written=k / 8,
        )
        for k in range(4 * times)
        if k != lost
    )
    missed = (MissedNote(lost // 4 + 1, lost % 4),) if lost >= 0 else ()
    extra = (ExtraHit(extra_s, -14.0),) if extra_s else ()
    heard = Heard(hits, missed, extra, (0.5,), "click", 120.0)
    measures = measure(heard, exercise, tempo)
    take = a_heard_take(
        exercise=exercise,
        exercise_text="1/8: RLRL",
        tempo=tempo,
        heard=heard,
        measures=measures,
        findings=find(heard, measures, exercise, tempo),
    )
    return json_text(take)


def corrected(text: str, *corrections: Correction) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(correct_take(text, corrections))
    return found


def test_a_hit_that_is_none_is_gone_and_its_note_is_missed() -> None:
    found = corrected(a_clicked_take({}), Correction(1.0 + 5 * STEP_S, "no hit"))
    assert len(found["hits"]) == 31
    assert found["missed"] == [{"repetition": 2, "position": 1, "grace": False}]
    assert found["extra"] == []


def test_an_extra_hit_given_a_note_is_judged_against_that_note_s_click() -> None:
    # Note 5 sounds at 1.0 + 5 * 0.5 = 3.5 s by the click; the hit at 3.513 s is 13 ms late.
    found = corrected(
        a_clicked_take({}, lost=5, extra_s=3.513), Correction(3.513, "note", repetition=2, position=1)
    )
    hit = found["hits"][5]
    assert (hit["hand"], hit["repetition"], hit["position"]) == ("L", 2, 1)
    assert hit["asynchrony_ms"] == pytest.approx(13.0, abs=1e-3)
    assert (found["missed"], found["extra"]) == ([], [])


def test_figures_are_measured_again() -> None:
    # The right hand's 16 hits: 15 on the click, one 8 ms late, so their mean is 8 / 16 = 0.5 ms. Without the
    # late one it is 0.
    text = a_clicked_take({6: 8.0})
    assert json.loads(text)["hands"]["R"]["timing_mean_ms"]["value"] == pytest.approx(0.5)
    found = corrected(text, Correction(1.0 + 6 * STEP_S + 0.008, "extra"))
    assert found["hands"]["R"]["timing_mean_ms"]["value"] == pytest.approx(0.0, abs=1e-9)
    assert found["hands"]["R"]["timing_mean_ms"]["n"] == 15


def test_to_and_fro_is_where_it_began() -> None:
    text = json_text(_measured(a_heard_take()))
    before = json.loads(correct_take(text, ()))
    hit = before["hits"][20]
    there = correct_take(text, [Correction(hit["time_s"], "extra")])
    back = corrected(there, Correction(hit["time_s"], "note", hit["repetition"], hit["position"]))
    assert back["hits"][20] == {**hit, "confidence": 1.0}
    for key in ("hits", "missed", "extra"):
        assert len(back[key]) == len(before[key])
    assert back["balance"]["level_db"] == before["balance"]["level_db"]


def _measured(take: HeardTake) -> HeardTake:
    assert take.exercise is not None
    assert take.tempo is not None
    return replace(take, measures=measure(take.heard, take.exercise, take.tempo))


def test_the_take_itself_says_that_it_was_corrected() -> None:
    once = correct_take(a_clicked_take({}), [Correction(1.0, "extra")])
    assert "Corrected by hand: 1 hit." in json.loads(once)["warnings"]
    twice = correct_take(once, [Correction(1.5, "extra")])
    assert [each for each in json.loads(twice)["warnings"] if "by hand" in each] == [
        "Corrected by hand: 2 hits."
    ]
    assert shown_heard(twice).corrected == 2


def test_a_note_has_one_hit_the_other_becomes_extra() -> None:
    text = a_clicked_take({}, extra_s=1.04)
    found = corrected(text, Correction(1.04, "note", repetition=1, position=0))
    assert found["extra"] == [{"time_s": 1.0, "level_db": -12.0, "reason": "before the start"}]
    assert found["hits"][0]["time_s"] == 1.04


def test_hits_stay_in_the_order_of_their_notes() -> None:
    said = "note 2 (L) of repetition 1 at 1.500 s after note 1 (R) of repetition 3 at 1.000 s"
    with pytest.raises(WrongOptions, match=re.escape(said)):
        corrected(a_clicked_take({}), Correction(1.0, "note", 3, 0))


@pytest.mark.parametrize(
    ("correction", "words"),
    [
        (Correction(1.01, "extra"), "must be the time of a hit"),
        (Correction(float("nan"), "extra"), "must be the time of a hit"),
        (Correction(1.0, "note", 1, 9), "got note 10; must be a note of the exercise"),
        (Correction(1.0, "note", 0, 1), "must be a repetition, counted from 1"),
        (Correction(1.0, "note", 1, 1, grace=True), "must be a note that is written with one"),
    ],
)
def test_what_there_is_none_of_is_refused(correction: Correction, words: str) -> None:
    with pytest.raises(WrongOptions, match=words):
        correct_take(a_clicked_take({}), [correction])


def test_a_take_without_its_exercise_cannot_be_put_right() -> None:
    with pytest.raises(WrongOptions, match="have it heard again"):
        correct_take(json_text(a_blind_take()), [Correction(0.5, "extra")])


def test_the_last_hit_cannot_be_taken_out() -> None:
    text = a_clicked_take({}, times=1)
    with pytest.raises(WrongOptions, match="must be at least one hit"):
        correct_take(text, [Correction(1.0 + STEP_S * k, "extra") for k in range(4)])


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({}, "nothing chosen"),
        ({"kind": "extra", "hit": "x"}, "no hit chosen"),
        ({"kind": "note", "hit": "1.0", "repetition": "-1", "note": "1"}, "a whole number"),
        ({"kind": "note", "hit": "1.0", "repetition": "1", "note": ""}, "a whole number"),
    ],
)
def test_what_is_typed_of_a_hit_is_read_or_named(form: dict[str, str], words: str) -> None:
    with pytest.raises(WrongOptions, match=words):
        read_correction(form)


# Two takes side by side.


def test_a_difference_s_interval_is_made_of_both() -> None:
    # Zou & Donner 2008, by hand: 4 (1 to 6) minus 10 (8 to 13): -6, down by the root of 3^2 + 3^2, up by
    # that of 2^2 + 2^2.
    found = difference(Measure(10.0, 9, "ms", (8.0, 13.0)), Measure(4.0, 9, "ms", (1.0, 6.0)))
    assert found == pytest.approx((-6.0, -6.0 - sqrt(18), -6.0 + sqrt(8)))


def test_only_a_whole_interval_is_more_than_chance() -> None:
    a, near, far = (Measure(v, 40, "ms", (v - 3, v + 3)) for v in (10.0, 13.0, 20.0))
    assert told(a, near) == "can't tell"
    assert (told(a, far), told(far, a)) == ("more", "less")


def test_of_a_difference_it_is_said_where_it_went() -> None:
    minus, little, plus = (Measure(v, 40, "dB", (v - 0.5, v + 0.5)) for v in (-6.0, -2.0, 6.0))
    assert told(minus, little, about_zero=True) == "nearer"
    assert told(little, minus, about_zero=True) == "further"
    assert told(minus, plus, about_zero=True) == "changed"


def told(a: Measure, b: Measure, *, about_zero: bool = False) -> str:
    found = difference_of("it", a, b, signed_too=about_zero)
    assert found is not None
    return found.change


def test_too_few_is_no_difference() -> None:
    assert difference(Measure(None, 2, "ms", None, 8), Measure(1.0, 40, "ms", (0.0, 2.0))) is None


def test_the_same_take_twice_differs_in_nothing_and_its_ids_do_not_clash() -> None:
    text = a_clicked_take({k: 4.0 * (-1) ** k for k in range(32)})
    found = side_by_side(heard_take_of(text), heard_take_of(text))
    assert found.differences
    assert {each.change for each in found.differences} == {"can't tell"}
    assert found.notices == ()
    assert ids(found.first.figure).isdisjoint(ids(found.second.figure))


def ids(markup: str) -> set[str]:
    return {part.partition('"')[0] for part in markup.split(' id="')[1:]}


def test_other_exercises_and_blind_takes_are_said() -> None:
    take = heard_take_of(a_clicked_take({}))
    assert "exercise" in side_by_side(take, a_heard_take()).notices
    assert "nothing" in side_by_side(take, a_blind_take()).notices


# What a page needs to play from the picture.


def test_every_hit_has_a_row_and_a_column_in_both_layouts() -> None:
    shown = shown_heard(a_clicked_take({}, lost=5))
    touch = shown.places
    assert len(touch["hits"]) == 31
    assert [row[0] for row in touch["rows"]] == list(range(1, 9))
    for look in ("desk", "phone"):
        (block,) = touch["looks"][look]
        assert list(block["xs"]) == ["0", "1", "2", "3"]
        assert len(block["ys"]) == 8
        assert all(b > a for a, b in pairwise(block["ys"]))
    assert touch["hits"][0] == [1.0, 0, 0]


def test_a_row_ends_before_the_next_begins() -> None:
    rows = shown_heard(a_clicked_take({})).places["rows"]
    assert all(end <= after for (_, _, end), (_, after, _) in pairwise(rows))


def test_without_the_device_s_delay_early_and_late_are_not_told() -> None:
    text = json_text(_measured(a_heard_take()))
    headphones, room = {"click": "headphones"}, {"click": "room"}
    assert shown_heard(text, unmeasured=is_unmeasured(headphones, None)).offset_unknown
    assert not shown_heard(text, unmeasured=is_unmeasured(headphones, 30.0)).offset_unknown
    assert not shown_heard(text, unmeasured=is_unmeasured(room, None)).offset_unknown


def test_a_blind_take_is_shown_without_hands() -> None:
    shown = shown_heard(json_text(a_blind_take()))
    assert not shown.places
    assert not shown.can_correct
    assert "<svg" in shown.figure


def a_stored_take(**changes: Any) -> StudioTake:
    facts = {
        "id": "one",
        "student_id": "s",
        "upload_key": "k",
        "exercise": "1/8: RLRL",
        "tempo": "1/8=120",
        "recorded_at": NOON,
        "received_at": NOON,
        "source": "microphone",
        "status": "heard",
        **changes,
    }
    return StudioTake(**facts)


def test_models_of_the_same_exercise_come_first_beside_a_take() -> None:
    takes = [
        a_stored_take(id="new"),
        a_stored_take(id="other", exercise="1/8: RRLL"),
        a_stored_take(id="waits", status="waiting"),
        a_stored_take(id="model", model=True, source="teacher", exercise="1/8:RLRL"),
        a_stored_take(),
    ]
    assert [take.id for take in others_beside(takes[-1], takes)] == ["model", "new"]


@pytest.mark.parametrize(
    "other",
    [
        {"exercise": "1/2: L- R-"},
        {"tempo": "1/4 = 90"},
        {"facts": {GRIP: "fingertips"}},
        {"facts": {"click": "off"}},
        {"stroke": "full"},
        {"heard": "{}"},
    ],
)
def test_a_history_is_another_where_a_take_of_drops_is_of_another_exercise_or_grip(
    other: dict[str, Any],
) -> None:
    """What is heard of drops names neither: it is heard without an exercise."""
    take = StudioTake("t", "s", "k", "1/2: R- L-", "1/4 = 60", NOON, NOON, "upload", "heard", heard="")
    assert heard_digest([take]) == heard_digest([replace(take)])
    assert heard_digest([take]) != heard_digest([replace(take, **other)])
