"""A studio's settings as they are typed, and the path's stages in words.

Conventions: what is wrong comes back as the field's name; words for it are the page's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from evenhand.domain.path import Condition, PracticePath, Stage
from evenhand.practising.advice_words import bound_words, weeks_words
from evenhand.practising.common_path import COMMON_PATH

MOST_LETTERS = 80
UNITS = ("in", "cm")
LEAST_PASSWORD, MOST_PASSWORD = 8, 200  # letters; a longer one only costs time to hash

WrongPassword = Literal["", "short", "long", "differs"]


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


def read_password(new: str, again: str) -> WrongPassword:
    """Tell what is wrong with a new password, typed twice; nothing where it will do."""
    if len(new) < LEAST_PASSWORD:
        return "short"
    if len(new) > MOST_PASSWORD:
        return "long"
    return "" if new == again else "differs"


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
    return f"{condition.words}: {bound_words(condition, condition.bound, stage.beat).removesuffix(' asked')}"
