"""Laws of a plan's file: what is written is read again as it was."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.acts.weeks.document import plan_from_json, plan_to_json
from evenhand.errors import BadPlan
from evenhand.music.exercise import Tempo
from evenhand.music.strokes.heights import STROKE_CLASSES
from evenhand.planning.practice import BLOCKS, PracticeDay, PracticeItem, PracticePlan
from evenhand.take import in_words
from tests.strategies import VALUES, exercises

words = st.text(st.characters(exclude_categories=["Cs"]), max_size=30).map(str.strip)
tempos = st.builds(Tempo, st.sampled_from(VALUES), st.integers(5_000_000, 999_999_999).map(lambda n: n / 1e6))
whole_ms = st.integers(0, 3_600_000).map(lambda n: n / 1000)
items = st.builds(
    PracticeItem,
    exercise=exercises(max_runs=2, max_run=4),
    tempo=tempos,
    repetitions=st.integers(1, 1000),
    seconds=whole_ms,
    stroke=st.none() | st.sampled_from(STROKE_CLASSES),
    rest_s=whole_ms,
    title=words,
    why=words.map(in_words),
    goes=st.integers(1, 50),
    pause_s=whole_ms,
    block=st.none() | st.sampled_from(BLOCKS),
    purpose=words.map(in_words),
)
days = st.builds(PracticeDay, st.lists(items, max_size=3).map(tuple))
plans = st.builds(
    PracticePlan,
    st.lists(days, min_size=1, max_size=3).map(tuple).filter(lambda days: any(day.items for day in days)),
    words,
    st.none() | st.dates(min_value=date(1970, 1, 1)),
    story=words.map(in_words),
)


@given(plans)
def test_a_plan_comes_back_from_its_file(plan: PracticePlan) -> None:
    assert plan_from_json(plan_to_json(plan), name="week.json") == plan


@given(st.text(max_size=200) | st.text('{}[]":,days0itemexrc 1/8RL\\', max_size=60))
def test_any_other_text_is_refused_as_a_plan(text: str) -> None:
    with pytest.raises(BadPlan, match=r"^week\.json"):
        plan_from_json(text, name="week.json")
