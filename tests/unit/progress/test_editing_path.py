"""A path is edited, and students keep their place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from evenhand.acts.weeks.path import path_from_toml, path_to_toml
from evenhand.errors import WrongOptions
from evenhand.progress.stages.editing import add_stage, change, move, remove_stage, rename
from evenhand.progress.stages.path import PracticePath, condition
from evenhand.progress.stages.usual import COMMON_PATH


def names(path: PracticePath) -> list[str]:
    return [stage.name for stage in path.stages]


def where(path: PracticePath, name: str) -> str | None:
    """Say in which stage a student is whose stage was stored by that name."""
    found = path.stage(name)
    return None if found is None else found.name


def test_a_renamed_stage_keeps_its_students_and_those_of_its_older_names() -> None:
    once = rename(COMMON_PATH, "the crossing", "over  the bridge")
    twice = rename(once, "over the bridge", "the bridge")
    for name in ("the bridge", "over the bridge", "the crossing", "rebound doubles"):
        assert where(twice, name) == "the bridge"
    assert names(twice).index("the bridge") == names(COMMON_PATH).index("the crossing")
    assert where(rename(twice, "the bridge", "the crossing"), "the bridge") == "the crossing"


def test_a_stage_that_is_taken_out_leaves_its_students_in_the_one_before() -> None:
    path = remove_stage(COMMON_PATH, "the crossing")
    assert "the crossing" not in names(path)
    assert (where(path, "the crossing"), where(path, "rebound doubles")) == ("slow doubles", "slow doubles")
    path = remove_stage(path, "slow doubles")
    assert {where(path, name) for name in ("the crossing", "slow doubles")} == {"left lead"}
    path = rename(path, "left lead", "the left first")
    assert where(path, "the crossing") == "the left first"
    assert where(remove_stage(COMMON_PATH, "rebound"), "rebound") == "half"


def test_a_stage_put_back_has_its_students_again() -> None:
    stage = COMMON_PATH.stage("tap")
    assert stage is not None
    path = add_stage(remove_stage(COMMON_PATH, "tap"), stage, after="full")
    assert (names(path), where(path, "tap")) == (names(COMMON_PATH), "tap")
    assert names(add_stage(COMMON_PATH, replace(stage, name="before all")))[0] == "before all"


@pytest.mark.parametrize(("by", "place"), [(1, 4), (-2, 1), (-99, 0), (99, 13), (0, 3)])
def test_a_stage_is_moved(by: int, place: int) -> None:
    moved = move(COMMON_PATH, "tap", by)
    assert names(moved).index("tap") == place
    assert sorted(names(moved)) == sorted(names(COMMON_PATH))


def test_bounds_and_conditions_are_changed() -> None:
    path = change(COMMON_PATH, "half", rate_per_s=(0.4, 1.0), conditions=(condition("days", 2),))
    stage = path.stage("half")
    assert stage is not None
    assert (stage.rate_per_s, len(stage.conditions)) == ((0.4, 1.0), 1)
    assert COMMON_PATH.stage("half") != stage


def test_an_edited_path_is_kept_as_text() -> None:
    path = remove_stage(rename(move(COMMON_PATH, "tap", 2), "half", "halves"), "left lead")
    assert path_from_toml(path_to_toml(path), name="p") == path


def test_what_cannot_be_is_refused() -> None:
    one = PracticePath(COMMON_PATH.stages[:1])
    refused: tuple[Callable[[], PracticePath], ...] = (
        lambda: rename(COMMON_PATH, "half", "Tap"),
        lambda: rename(COMMON_PATH, "half", " "),
        lambda: rename(COMMON_PATH, "nothing", "x"),
        lambda: change(COMMON_PATH, "half", nme="x"),
        lambda: add_stage(COMMON_PATH, COMMON_PATH.stages[2]),
        lambda: add_stage(one, COMMON_PATH.stages[2], after="tap"),
        lambda: remove_stage(one, "rebound"),
        lambda: move(one, "tap", 1),
    )
    for each in refused:
        with pytest.raises(WrongOptions):
            each()
