"""The manual of exercise text says what the parser does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from evenhand.errors import BadExercise
from evenhand.music.exercise import MAX_NOTES
from evenhand.music.text import MAX_DENOMINATOR, MAX_GRACES, MAX_TEXT, parse_exercise, print_exercise

MANUAL = (Path(__file__).parents[3] / "docs" / "exercise-text.md").read_text(encoding="utf-8")
EXAMPLES = [
    line for block in re.findall(r"```exercise\n(.*?)```", MANUAL, re.DOTALL) for line in block.splitlines()
]
REFUSED = [
    (text.replace(r"\|", "|"), said.replace(r"\|", "|"))
    for text, said in re.findall(r"^\| `(.+?)` \| (exercise, column .+) \|$", MANUAL, re.MULTILINE)
]


def test_the_manual_has_its_examples() -> None:
    assert len(EXAMPLES) > 10
    assert len(REFUSED) == 9


@pytest.mark.parametrize("text", EXAMPLES)
def test_each_example_is_read_and_is_how_it_would_be_printed(text: str) -> None:
    assert print_exercise(parse_exercise(text)) == text


@pytest.mark.parametrize(("text", "said"), REFUSED)
def test_each_refusal_is_what_is_said(text: str, said: str) -> None:
    with pytest.raises(BadExercise) as caught:
        parse_exercise(text)
    assert str(caught.value) == said


def test_the_limits_are_the_limits() -> None:
    assert f"{MAX_NOTES:,} notes and rests" in MANUAL
    assert f"{MAX_TEXT:,} characters" in MANUAL
    assert f"0 to {MAX_GRACES} graces" in MANUAL
    assert f"the shortest `1/{MAX_DENOMINATOR}:`" in MANUAL
