"""What belongs to a stage, and why something does not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.progress.stages.gate import for_stage, is_left_led, traits, within
from evenhand.progress.stages.path import Stage
from evenhand.progress.stages.reading import as_read
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.report.words.remarks import remark_words


def stage(name: str) -> Stage:
    found = COMMON_PATH.stage(name)
    assert found is not None
    return found


def why(name: str, text: str, tempo: str | None = None) -> str:
    remark = within(stage(name), parse_exercise(text), None if tempo is None else Tempo.parse(tempo))
    return "" if remark is None else remark_words(remark)


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("half", "1/8: RLRL RLRL", ""),
        ("half", "1/8: >RLRL RLRL", "has accents, which come in a later stage"),
        ("half", "1/24: llRLR 1/8: L", "has a drag, which comes in a later stage"),
        ("tap", "1/16: RRRRR LLLLL", "5 notes in a row by one hand, where this stage has up to 4"),
        ("tap", "1/16: RRRRLRLR RLRLRLRL L", "17 notes before it repeats, where this stage has up to 16"),
        ("slow doubles", "1/16: RRRL LLRR RLLL", ""),
        ("slow doubles", "1/16: RRRRL", "4 notes in a row by one hand, where this stage has up to 3"),
        ("grace notes", "1/8: lR rL", ""),
        ("grace notes", "1/8: R~L~", "has a buzz, which comes in a later stage"),
        ("speed in bursts", "1/16: RLRR LRLL", "asks more of the hands than this stage does"),
    ],
)
def test_an_exercise_outside_a_stage_says_why(name: str, text: str, said: str) -> None:
    assert why(name, text) == said


@pytest.mark.parametrize(
    ("text", "tempo", "said"),
    [
        # By hand: of two hands in turn each plays half of the notes: 1/8 = 60 and 228 are 0.5 and 1.9
        ("1/8: RLRL", "1/8=60", ""),
        ("1/8: RLRL", "1/8=228", ""),
        ("1/16: RLRL", "1/4=57", ""),
        ("1/12: RLR LRL", "1/4=76", ""),
        ("1/8: RLRL", "1/8=40", "0.3 strokes a second of a hand, where this stage begins at 0.5"),
        ("1/16: RLRL", "1/4=80", "2.7 strokes a second of a hand, where this stage goes up to 1.9"),
        ("1/32: RRLL RRLL", "1/4=7.5", ""),  # so slow a quarter that nobody feels it is the plan's concern
    ],
)
def test_a_tempo_outside_a_stage_says_why_in_any_note_value(text: str, tempo: str, said: str) -> None:
    assert why("half", text, tempo) == said


def test_what_an_exercise_is_about() -> None:
    assert traits(parse_exercise("1/8: RLRL RLRL")) == frozenset()
    assert traits(parse_exercise("1/16: >lRLRR >rLRLL")) == {"accents", "flam", "doubles"}
    assert traits(parse_exercise("1/8: RRRR LLLL")) == {"one hand"}
    assert is_left_led(parse_exercise("1/8: LRLR"))
    assert not is_left_led(parse_exercise("1/16: LRLL RLRR"))  # the repeat goes to the other hand by itself
    assert not is_left_led(parse_exercise("1/8: -RLR"))


def test_a_stage_that_names_no_tracks_has_all_that_its_limits_allow() -> None:
    anything = for_stage(replace(stage("tap"), tracks=()))
    assert len({each.track for each in anything}) > len(stage("tap").tracks)
    assert all(within(stage("tap"), each.exercise) is None for each in anything)


@pytest.mark.parametrize(
    ("name", "text", "read"),
    [
        ("half", "1/4: RLRL", "1/4: RLRL"),
        ("half", "1/16: RLRL RLRL", "1/8: RLRL RLRL"),
        ("half", "1/12: RLR LRL", None),
        ("slow doubles", "1/16: RLRR LRLL", "1/8: RLRR LRLL"),
        ("the crossing", "1/16: RLRR LRLL", "1/16: RLRR LRLL"),
        ("endurance", "1/4: RLRL", None),
    ],
)
def test_notes_are_as_long_as_a_stages_speed_asks(name: str, text: str, read: str | None) -> None:
    found = as_read(stage(name), parse_exercise(text))
    assert found == (None if read is None else parse_exercise(read))


def test_a_stage_has_nothing_twice_in_other_notes() -> None:
    """Singles in quarters, eighths and sixteenths at one speed are one exercise."""
    hands = [tuple(note.hand for note in each.exercise.notes) for each in for_stage(stage("endurance"))]
    assert (
        sum(set(each[::2]) == {"R"} and set(each[1::2]) == {"L"} and len(each) in {4, 8} for each in hands)
        == 1
    )
