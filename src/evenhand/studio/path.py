"""The studio's path: the usual one, or the teacher's own, and where on it each student is.

What is wanted of the book's exercises at its stages.

Conventions: a path of one's own is kept as its TOML; "" is the usual one. A student's stage is always the
name of a stage there is: where the path changes, the students' names change with it. A week keeps the name
that its stage had when it was planned, which the path leads on.
"""

from __future__ import annotations

from functools import lru_cache

from evenhand.acts.weeks.path import path_from_toml, path_to_toml
from evenhand.errors import WrongOptions
from evenhand.music.book import USES, Use, UseMark, mark_text, split_mark
from evenhand.progress.stages.path import PracticePath, Stage
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import BookEntry

PATH_NAME = "the path"


def path_of(studio: Studio) -> PracticePath:
    """Return the path that the studio goes by."""
    return _read(studio.facts.path)


@lru_cache(maxsize=16)
def _read(text: str) -> PracticePath:
    return path_from_toml(text, name=PATH_NAME) if text else COMMON_PATH


def stage_names(studio: Studio) -> tuple[str, ...]:
    """Name the stages in their order."""
    return tuple(stage.name for stage in path_of(studio).stages)


def place_of(path: PracticePath, name: str) -> Stage:
    """Return the stage that a student of some name is in; the first, where the name says nothing."""
    return path.stage(name) or path.stages[0]


def keep_path(studio: Studio, path: PracticePath) -> PracticePath:
    """Let the studio go by a path from now on, and return it as it was kept.

    Raises
    ------
    BadPath
        Naming the stage and what of it cannot be.
    """
    text = "" if path == COMMON_PATH else path_to_toml(path)
    kept = _read(text)
    studio.change_facts(path=text)
    for student in (*studio.students.all(), *studio.students.all(archived=True)):
        stage = place_of(kept, student.stage)
        if stage.name != student.stage:
            studio.students.change(student.id, stage=stage.name)
    return kept


def same_stage(path: PracticePath, one: str, other: str) -> bool:
    """Tell whether two names are of one stage, now or earlier."""
    found = path.stage(one)
    return one == other if found is None else found is path.stage(other)


def read_mark(use: str, stages: str, path: PracticePath) -> str:
    """Read what is wanted of an exercise, at which stages; "" where nothing is said.

    Raises
    ------
    WrongOptions
        Where there is no such stage.
    """
    wanted: Use = next((each for each in USES if each == use), "also")
    named = [each.strip() for each in stages.split(",") if each.strip()]
    found = [path.stage(each) for each in named]
    for name, stage in zip(named, found, strict=True):
        if stage is None:
            must_be = f"one of {', '.join(each.name for each in path.stages)}"
            raise WrongOptions(got=f"the stage {name[:60]!r}", must_be=must_be)
    if wanted == "also" and not named:
        return ""
    return mark_text(UseMark(wanted, tuple(stage.name for stage in found if stage)))


def mark_of(entry: BookEntry, path: PracticePath) -> UseMark:
    """Return what is wanted of an exercise, its stages by the names that they have now."""
    mark = split_mark(entry.mark)[1]
    if mark is None:
        return UseMark("also")
    stages = (path.stage(name) for name in mark.stages)
    return UseMark(mark.use, tuple(stage.name for stage in stages if stage))
