"""Edit a path: rename, change, add, take out and move stages, so that students keep their place.

Conventions: a path is never changed, another is given. A stage that gets another name keeps its older ones;
one that is taken out leaves word of where its students are then: in the stage before it, or, of the first, in
the one after.
"""

from __future__ import annotations

from dataclasses import fields, replace

from evenhand.errors import WrongOptions
from evenhand.progress.stages.path import PracticePath, Stage, plain_name

FIELDS = tuple(each.name for each in fields(Stage) if each.name not in ("name", "formerly"))


def rename(path: PracticePath, name: str, to: str) -> PracticePath:
    """Give a stage another name; it is found by the older one, too.

    Raises
    ------
    WrongOptions
        Where the path has no such stage, or another of the new name.
    """
    stage, to = _stage(path, name), " ".join(to.split())
    if not to:
        raise WrongOptions(got="an empty name", must_be="a stage's name")
    other = next((each for each in path.stages if plain_name(each.name) == plain_name(to)), stage)
    if other is not stage:
        raise WrongOptions(got=f"{to!r} a second time", must_be="a name that no other stage has")
    older = tuple(each for each in (*stage.formerly, stage.name) if plain_name(each) != plain_name(to))
    gone = tuple((was, to if leads == stage.name else leads) for was, leads in path.gone)
    return replace(_with(path, stage, replace(stage, name=to, formerly=older)), gone=gone)


def change(path: PracticePath, name: str, **changed: object) -> PracticePath:
    """Change a stage's fields (``FIELDS``), its name apart.

    Raises
    ------
    WrongOptions
        Where the path has no such stage, or a stage no such field.
    """
    stage = _stage(path, name)
    unknown = next((each for each in changed if each not in FIELDS), None)
    if unknown is not None:
        raise WrongOptions(got=f"the field {unknown!r}", must_be=f"one of {', '.join(FIELDS)}")
    return _with(path, stage, replace(stage, **changed))  # type: ignore[arg-type]  # checked by name above


def add_stage(path: PracticePath, stage: Stage, after: str | None = None) -> PracticePath:
    """Put a stage into a path, after another, or first of all.

    Raises
    ------
    WrongOptions
        Where the path has a stage of that name already, or none to put it after.
    """
    if any(plain_name(each.name) == plain_name(stage.name) for each in path.stages):
        raise WrongOptions(got=f"{stage.name!r} a second time", must_be="a name that no other stage has")
    place = 0 if after is None else path.stages.index(_stage(path, after)) + 1
    stages = (*path.stages[:place], stage, *path.stages[place:])
    gone = tuple(each for each in path.gone if plain_name(each[0]) != plain_name(stage.name))
    return PracticePath(stages, gone)


def remove_stage(path: PracticePath, name: str) -> PracticePath:
    """Take a stage out of a path; its students are then in the stage before it, or after the first.

    Raises
    ------
    WrongOptions
        Where the path has no such stage, or no other.
    """
    stage = _stage(path, name)
    left = tuple(each for each in path.stages if each is not stage)
    if not left:
        raise WrongOptions(got="the path's only stage", must_be="one of several stages")
    leads = (path.before(stage) or path.after(stage) or stage).name
    gone = [(was, leads if to == stage.name else to) for was, to in path.gone]
    gone += [(was, leads) for was in (stage.name, *stage.formerly)]
    return PracticePath(left, tuple(dict(gone).items()))


def move(path: PracticePath, name: str, by: int) -> PracticePath:
    """Move a stage so many places on, or back; at either end it stays.

    Raises
    ------
    WrongOptions
        Where the path has no such stage.
    """
    stage = _stage(path, name)
    left = [each for each in path.stages if each is not stage]
    place = max(0, min(path.stages.index(stage) + by, len(left)))
    return replace(path, stages=(*left[:place], stage, *left[place:]))


def _stage(path: PracticePath, name: str) -> Stage:
    found = path.stage(name)
    if found is None:
        must_be = f"one of {', '.join(each.name for each in path.stages)}"
        raise WrongOptions(got=f"the stage {name!r}", must_be=must_be)
    return found


def _with(path: PracticePath, old: Stage, new: Stage) -> PracticePath:
    return replace(path, stages=tuple(new if each is old else each for each in path.stages))
