"""A path's stages are written to be edited, and read back the same; what is off is named."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.acts.weeks.path import HOLDS, ORNAMENTS, path_from_toml, path_to_toml, read_path
from evenhand.errors import BadPath
from evenhand.music.library.tracks import TRACKS
from evenhand.music.strokes.heights import STROKE_CLASSES
from evenhand.music.text import parse_exercise
from evenhand.progress.stages.gate import within
from evenhand.progress.stages.path import (
    PATH_MEASURES,
    SINGLES,
    Condition,
    PracticePath,
    Stage,
    StageLimits,
    condition,
    plain_name,
)
from evenhand.progress.stages.usual import COMMON_PATH
from tests.depth import share

TEXT = path_to_toml(COMMON_PATH)
WORDS = st.text(max_size=30).map(str.strip)


def ranges(low: float, high: float) -> st.SearchStrategy[tuple[float, float]]:
    numbers = st.floats(low, high).map(lambda value: round(value, 3))
    return st.tuples(numbers, numbers).map(lambda pair: (min(pair), max(pair)))


@st.composite
def conditions(draw: st.DrawFn) -> Condition:
    name = draw(st.sampled_from(sorted(PATH_MEASURES)))
    audible, seen = PATH_MEASURES[name].audible, PATH_MEASURES[name].seen
    least, most = (0, 100) if PATH_MEASURES[name].unit == "%" else (-60, 1000)
    bounds = st.floats(least, most).map(lambda value: round(value, 2))
    holds = draw(st.sampled_from(HOLDS)) if seen else None
    within_ms = draw(st.none() | st.integers(1, 900).map(float))
    bound = draw(st.none() | bounds if audible else bounds)
    return condition(name, bound, draw(WORDS), within_ms=within_ms, holds=holds)


@st.composite
def stages(draw: st.DrawFn) -> Stage:
    least, most = draw(ranges(1, 1000))
    return Stage(
        name=draw(WORDS.filter(plain_name)),
        words=draw(WORDS),
        stroke=draw(st.none() | st.sampled_from(STROKE_CLASSES)),
        rate_per_s=draw(ranges(0.01, 30)),
        repetitions=(int(least), int(most)),
        minutes_a_day=draw(ranges(0, 240)),
        weeks=draw(ranges(0, 520)),
        conditions=tuple(draw(st.lists(conditions(), max_size=4))),
        beside=tuple(draw(st.dictionaries(st.sampled_from(STROKE_CLASSES), st.integers(0, 60))).items()),
        tracks=tuple(draw(st.lists(st.sampled_from(TRACKS), max_size=3))),
        limits=draw(limits()),
        record=draw(st.sampled_from(["", "1/8: RLRL", "1/16: >lRRLR"])),
        formerly=tuple(draw(st.lists(WORDS, max_size=2))),
    )


@st.composite
def limits(draw: st.DrawFn) -> StageLimits:
    ornaments = draw(st.sets(st.sampled_from(ORNAMENTS)))
    return StageLimits(
        longest_run=draw(st.integers(1, 99)),
        notes=draw(st.integers(1, 999)),
        accents=draw(st.booleans()),
        ornaments=tuple(each for each in ORNAMENTS if each in ornaments),
        hardness=round(draw(st.floats(0, 999)), 2),
    )


@share(0.6)
@given(st.lists(stages(), min_size=1, max_size=4, unique_by=lambda stage: plain_name(stage.name)))
def test_what_is_written_is_read_back_the_same(made: list[Stage]) -> None:
    path = PracticePath(tuple(made), (("one that was", made[0].name),))
    assert path_from_toml(path_to_toml(path), name="p") == path


def test_the_common_path_reads_back_the_same_and_twice_written_is_the_same_text() -> None:
    again = path_from_toml(TEXT, name="p")
    assert again == COMMON_PATH
    assert path_to_toml(again) == TEXT


def test_the_common_path_holds_what_is_common_practice() -> None:
    """Common practice: drops first, then half, full, tap; from 1/8 = 60; taps four to twenty times."""
    assert [stage.name for stage in COMMON_PATH.stages[:4]] == ["rebound", "half", "full", "tap"]
    half, tap = (COMMON_PATH.stage(name) for name in ("half", "tap"))
    assert half is not None
    assert tap is not None
    assert (SINGLES * half.rate_per_s[0], half.minutes_a_day[1], half.weeks) == (60, 15, (1, 2))
    assert tap.repetitions == (4, 20)


def test_stages_are_found_by_the_names_they_had_before() -> None:
    """A studio's students are kept by their stage's name."""
    found = {name: COMMON_PATH.stage(name) for name in ("building speed", "rebound doubles")}
    assert {name: stage and stage.name for name, stage in found.items()} == {
        "building speed": "speed in bursts",
        "rebound doubles": "the crossing",
    }


EARLIER = """
[[stage]]
name = "half"
stroke = "half"
beat = "1/8"
tempo_bpm = [60, 84]
repetitions = [4, 4]
minutes_a_day = [15, 15]
weeks = [1, 2]

[[stage.condition]]
measure = "ceiling_bpm"
at_least = 78
"""


def test_a_file_from_before_stages_were_said_in_strokes_a_second_is_read_as_it_was_meant() -> None:
    """By hand: 84 notes a minute of two hands in turn are 0.7 a second of each; any exercise may be in it."""
    (stage,) = path_from_toml(EARLIER, name="p").stages
    assert stage.rate_per_s == (0.5, 0.7)
    assert [(each.measure, each.bound) for each in stage.conditions] == [("ceiling_per_s", 0.65)]
    assert stage.tracks == ()
    assert within(stage, parse_exercise("1/24: llRLR 1/8: >L 1/24: rrLRL 1/8: >R")) is None
    assert path_from_toml(path_to_toml(PracticePath((stage,))), name="p").stages == (stage,)


def test_the_written_file_is_toml_that_explains_its_measures() -> None:
    assert len(tomllib.loads(TEXT)["stage"]) == len(COMMON_PATH.stages)
    assert all(f"#     {name} " in TEXT for name in PATH_MEASURES)


def changed(old: str, new: str) -> str:
    assert old in TEXT
    return TEXT.replace(old, new, 1)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("stage = 3", r"p, stage: got 3; must be tables"),
        ("", r"p: got 0 stages; must be 1 to"),
        ("[[stage]\n", r"p: got no TOML"),
        ("title = 'x'\n" + TEXT, r"p: got the key 'title'; must be one of stage"),
        (changed('name = "half"', "name = ''"), r"p, stage 2, name: got \"\"; must be text"),
        (changed('name = "full"', 'name = "Half"'), r"p, stage 3, name: got 'Half' a second time"),
        (
            changed("rate_per_s = [0.5", "rates = [0.5"),
            r"stage 2 \(half\): got the key 'rates'.*perhaps rate_per_s",
        ),
        (
            changed("rate_per_s = [0.5, 1.9]", "rate_per_s = [1.9, 0.5]"),
            r"\(half\), rate_per_s: got \[1\.9, 0\.5\].*rising",
        ),
        (changed("rate_per_s = [0.5, 1.9]", ""), r"\(half\), rate_per_s: got nothing"),
        (changed("rate_per_s = [0.5, 1.9]", "rate_per_s = [0.5, nan]"), r"\(half\), rate_per_s"),
        (changed("repetitions = [4, 12]", "repetitions = [4, 4.5]"), r"repetitions: .*two whole numbers"),
        (changed("weeks = [1, 2]", "weeks = [true, 2]"), r"weeks: got \[true, 2\]"),
        (changed('tracks = ["drops"]', 'tracks = ["dops"]'), r'tracks: got "dops"; must be drops, one hand'),
        (changed('tracks = ["drops"]', "tracks = 3"), r"tracks: got 3; must be a list of names"),
        (changed("longest_run = 8", "longest_run = 0"), r"\(half\), limits, longest_run: got 0"),
        (changed("longest_run = 8", "longest = 8"), r"\(half\), limits: got the key 'longest'"),
        (changed("accents = false", "accents = 1"), r"limits, accents: got 1; must be true or false"),
        (
            changed('record = "1/8: RLRL RLRL"', 'record = "1/8: RLX"'),
            r"\(tap\), record, at its character 8",
        ),
        ("gone = 3\n" + TEXT, r"p, gone: got 3"),
        ("gone = { old = 'nowhere' }\n" + TEXT, r'p, gone: got "nowhere"; must be rebound, half'),
        (
            changed('stroke = "half"', 'stroke = "huge"'),
            r"stroke: got \"huge\"; must be tap, half or full",
        ),
        (changed("{ half = 3 ", "{ huge = 3 "), r"stage 3 \(full\), beside: got \"huge\""),
        (changed("{ half = 3 ", "{ half = -3 "), r"stage 3 \(full\), beside: .*minutes a day"),
        (
            changed('measure = "spread_ms"', 'measure = "spread"'),
            r"condition 1, measure.*perhaps spread_ms",
        ),
        (changed('at_most = "audible"', "at_least = 3"), r"condition 1, at_least: got the key at_least"),
        (
            changed('at_most = "audible"', 'at_most = "loud"'),
            r'at_most: got "loud"; must be a number, ms, or',
        ),
        (changed("at_least = 1.4", 'at_least = "audible"'), r"at_least: .*must be a number, strokes/s\."),
        (changed("at_least = 1.4", "at_least = inf"), r"condition 4, at_least"),
        (changed("at_least = 70", "at_least = 170"), r"condition 6, at_least: got 170; must be .*0 to 100 %"),
        (
            changed('holds_back = "never"', 'holds_back = "no"'),
            r'got "no"; must be always, when seen or never',
        ),
        (
            changed('at_most = "audible"', 'at_most = "audible"\nholds_back = "never"'),
            r"holds_back: .*spread_ms is heard, and always holds back",
        ),
        (changed("at_least = 1.4", "at_least = 1.4\npoints = 5"), r"condition 4: got the key 'points'"),
    ],
)
def test_what_is_off_is_named_by_stage_and_key(text: str, message: str) -> None:
    with pytest.raises(BadPath, match=message):
        path_from_toml(text, name="p")


def test_a_file_that_is_no_text_or_not_there_is_refused(tmp_path: Path) -> None:
    (tmp_path / "path.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadPath, match=r"path\.toml: got UTF-16 text"):
        read_path(tmp_path / "path.toml")
    with pytest.raises(BadPath, match="no such file"):
        read_path(tmp_path / "none.toml")


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    (tmp_path / "path.toml").write_text("\ufeff" + TEXT, "utf-8")
    assert read_path(tmp_path / "path.toml") == COMMON_PATH


def test_words_may_be_left_out() -> None:
    (stage, *_) = path_from_toml(TEXT, name="p").stages
    assert "words" not in TEXT.split("[[stage.condition]]")[2]
    assert stage.conditions[0].words == "drops left to bounce out, each hand"
