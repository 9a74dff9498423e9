"""A path's stages are written to be edited, and read back the same; what is off is named."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.acts.weeks.stages import path_from_toml, path_to_toml, read_path
from evenhand.errors import BadPath
from evenhand.music.strokes.heights import STROKE_CLASSES
from evenhand.progress.stages.path import (
    COMMON_PATH,
    PATH_MEASURES,
    Condition,
    PracticePath,
    Stage,
    condition,
    plain_name,
)
from tests.depth import share

TEXT = path_to_toml(COMMON_PATH)
WORDS = st.text(max_size=30).map(str.strip)


def ranges(low: float, high: float) -> st.SearchStrategy[tuple[float, float]]:
    numbers = st.floats(low, high).map(lambda value: round(value, 3))
    return st.tuples(numbers, numbers).map(lambda pair: (min(pair), max(pair)))


@st.composite
def conditions(draw: st.DrawFn) -> Condition:
    name = draw(st.sampled_from(sorted(PATH_MEASURES)))
    audible = PATH_MEASURES[name].audible
    bounds = st.floats(-60, 1000).map(lambda value: round(value, 2))
    return condition(name, draw(st.none() | bounds if audible else bounds), draw(WORDS))


@st.composite
def stages(draw: st.DrawFn) -> Stage:
    least, most = draw(ranges(1, 1000))
    return Stage(
        name=draw(WORDS.filter(plain_name)),
        words=draw(WORDS),
        stroke=draw(st.none() | st.sampled_from(STROKE_CLASSES)),
        beat=draw(st.fractions(min_value="1/64", max_value=2, max_denominator=64)),
        tempo_bpm=draw(ranges(5, 1000)),
        repetitions=(int(least), int(most)),
        minutes_a_day=draw(ranges(0, 240)),
        weeks=draw(ranges(0, 520)),
        conditions=tuple(draw(st.lists(conditions(), max_size=4))),
        beside=tuple(draw(st.dictionaries(st.sampled_from(STROKE_CLASSES), st.integers(0, 60))).items()),
    )


@share(0.6)
@given(st.lists(stages(), min_size=1, max_size=4, unique_by=lambda stage: plain_name(stage.name)))
def test_what_is_written_is_read_back_the_same(made: list[Stage]) -> None:
    path = PracticePath(tuple(made))
    assert path_from_toml(path_to_toml(path), name="p") == path


def test_the_common_path_reads_back_the_same_and_twice_written_is_the_same_text() -> None:
    again = path_from_toml(TEXT, name="p")
    assert again == COMMON_PATH
    assert path_to_toml(again) == TEXT


def test_the_common_path_holds_what_is_common_practice() -> None:
    """Common practice: half strokes at 1/8 = 60 to 80, four times, a quarter of an hour, 1 to 2 weeks."""
    half = COMMON_PATH.stage("half")
    assert half is not None
    assert (half.tempo_bpm, half.repetitions) == ((60, 80), (4, 4))
    assert (half.minutes_a_day, half.weeks) == ((15, 15), (1, 2))
    tap = COMMON_PATH.stage("tap")
    assert tap is not None
    assert tap.repetitions == (4, 20)
    names = [stage.name for stage in COMMON_PATH.stages]
    assert names == ["rebound", "half", "full", "tap", "building speed", "rebound doubles"]


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
            changed("tempo_bpm = [60", "tempos = [60"),
            r"stage 2 \(half\): got the key 'tempos'.*perhaps tempo_bpm",
        ),
        (
            changed("tempo_bpm = [60, 80]", "tempo_bpm = [80, 60]"),
            r"\(half\), tempo_bpm: got \[80, 60\].*rising",
        ),
        (changed("tempo_bpm = [60, 80]", ""), r"\(half\), tempo_bpm: got nothing"),
        (changed("tempo_bpm = [60, 80]", "tempo_bpm = [60, nan]"), r"\(half\), tempo_bpm"),
        (changed("repetitions = [4, 4]", "repetitions = [4, 4.5]"), r"repetitions: .*two whole numbers"),
        (changed("weeks = [1, 2]", "weeks = [true, 2]"), r"weeks: got \[true, 2\]"),
        (changed('beat = "1/8"', 'beat = "an eighth"'), r'stage 1 \(rebound\), beat: .*such as "1/8"'),
        (changed('beat = "1/8"', "beat = 0.125"), r"beat: got 0\.125"),
        (
            changed('stroke = "half"', 'stroke = "huge"'),
            r"stroke: got \"huge\"; must be tap, half or full",
        ),
        (changed("{ half = 3,", "{ huge = 3,"), r"stage 4 \(tap\), beside: got \"huge\""),
        (changed("{ half = 3,", "{ half = -3,"), r"stage 4 \(tap\), beside: .*minutes a day"),
        (
            changed('measure = "spread_ms"', 'measure = "spread"'),
            r"condition 1, measure.*perhaps spread_ms",
        ),
        (changed('at_most = "audible"', "at_least = 3"), r"condition 1, at_least: got the key at_least"),
        (
            changed('at_most = "audible"', 'at_most = "loud"'),
            r'at_most: got "loud"; must be a number, ms, or',
        ),
        (changed("at_least = 76", 'at_least = "audible"'), r"at_least: .*must be a number, bpm\."),
        (changed("at_least = 76", "at_least = inf"), r"condition 4, at_least"),
        (changed("at_least = 76", "at_least = 76\npoints = 5"), r"condition 4: got the key 'points'"),
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
