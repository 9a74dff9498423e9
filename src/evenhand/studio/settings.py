"""A studio's settings as they are typed, and the path's stages in words.

Conventions: what is wrong comes back as the field's name; words for it are the page's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from evenhand.progress.stages.path import COMMON_PATH, Condition, PracticePath, Stage
from evenhand.report.words.advice import bound_words, weeks_words

MOST_LETTERS = 80
UNITS = ("in", "cm")


@dataclass(frozen=True, slots=True)
class StageInWords:
    """A stage and its conditions, each with its bound, as a teacher says them."""

    stage: Stage
    beat: str
    weeks: str
    conditions: tuple[str, ...]


def read_settings(typed: Mapping[str, str]) -> tuple[dict[str, Any], str]:
    """Read the studio's settings: the changes, or the field that cannot be read."""
    name = " ".join(typed.get("name", "").split())
    if not 1 <= len(name) <= MOST_LETTERS or not name.isprintable():
        return {}, "name"
    if typed.get("unit") not in UNITS:
        return {}, "unit"
    return {"name": name, "unit": typed["unit"], "keep_originals": bool(typed.get("keep_originals"))}, ""


def stages_in_words(path: PracticePath = COMMON_PATH) -> tuple[StageInWords, ...]:
    """Write the path's stages for a page."""
    return tuple(
        StageInWords(
            stage,
            f"{stage.beat.numerator}/{stage.beat.denominator}",
            weeks_words(stage.weeks),
            tuple(_condition(each, stage) for each in stage.conditions),
        )
        for stage in path.stages
    )


def _condition(condition: Condition, stage: Stage) -> str:
    return f"{condition.words}: {bound_words(condition, condition.bound, stage.beat)}"
