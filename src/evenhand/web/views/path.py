"""The path: its stages in words, and a stage changed, added, moved, taken out; who is where on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from evenhand.acts.weeks.path import ORNAMENTS, path_from_toml, path_to_toml
from evenhand.errors import EvenhandError, NotFound
from evenhand.music.library.tracks import TRACKS
from evenhand.music.strokes.heights import STROKE_CLASSES
from evenhand.progress.stages.editing import FIELDS, add_stage, move, remove_stage, rename
from evenhand.progress.stages.editing import change as changed
from evenhand.progress.stages.path import PATH_MEASURES, Condition, PracticePath, Stage
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.report.words.advice import bound_words, rate_words, weeks_words
from evenhand.report.words.practice import stroke_pieces
from evenhand.studio.path import PATH_NAME, keep_path, path_of, place_of
from evenhand.studio.stage_form import EXTRA_CONDITIONS, read_stage, typed_stage
from evenhand.studio.values import Student
from evenhand.web import pages
from evenhand.web.pages import go, said_here
from evenhand.web.requests import studio_of, texts_of


@dataclass(frozen=True, slots=True)
class StageInWords:
    """A stage and its conditions, each with its bound, as a teacher says them; who is in it."""

    stage: Stage
    rate: str
    weeks: str
    conditions: tuple[str, ...]
    students: tuple[str, ...]
    leads_to: str  # where its students would be without it


def page(request: Request, *, wrong: str = "", status: int = 200) -> Response:
    """Show the path, and who is where on it."""
    studio = studio_of(request)
    path, unit = path_of(studio), studio.facts.unit
    return pages.page(
        request,
        "path.html",
        status=status,
        stages=_in_words(path, studio.students.all()),
        heights={stroke: ", ".join(stroke_pieces(stroke, unit)) for stroke in STROKE_CLASSES},
        usual=path == COMMON_PATH,
        said=said_here(request),
        wrong=wrong,
    )


def _in_words(path: PracticePath, students: Sequence[Student]) -> tuple[StageInWords, ...]:
    """Write the path's stages for a page."""
    where: dict[str, list[str]] = {}
    for student in students:
        where.setdefault(place_of(path, student.stage).name, []).append(student.name)
    neighbours = {each.name: path.before(each) or path.after(each) for each in path.stages}
    return tuple(
        StageInWords(
            each,
            rate_words(each),
            weeks_words(each.weeks),
            tuple(_condition(condition) for condition in each.conditions),
            tuple(where.get(each.name, ())),
            near.name if (near := neighbours[each.name]) else "",
        )
        for each in path.stages
    )


def _condition(condition: Condition) -> str:
    return f"{condition.words}: {bound_words(condition, condition.bound)}"


def stage(request: Request) -> Response:
    """Show a stage's form: one that there is, or a new one, ``after`` another, to begin from that."""
    path, query = path_of(studio_of(request)), request.query_params
    name, after = query.get("name", ""), query.get("after", "")
    found = path.stage(name or after)
    if found is None:
        raise NotFound(what="this stage")
    typed = typed_stage(found) if name else {**typed_stage(found), "name": "", "words": ""}
    return _form(request, typed, was=found.name if name else "", after="" if name else found.name)


def _form(request: Request, typed: dict[str, str], *, was: str, after: str, wrong: str = "") -> Response:
    rows = sum(name.startswith("measure_") for name in typed)
    return pages.page(
        request,
        "path_stage.html",
        status=422 if wrong else 200,
        typed=typed,
        was=was,
        after=after,
        wrong=wrong,
        rows=range(max(rows, EXTRA_CONDITIONS)),
        strokes=STROKE_CLASSES,
        tracks=TRACKS,
        ornaments=ORNAMENTS,
        measures=tuple(PATH_MEASURES.values()),
    )


def save(request: Request) -> Response:
    """Keep a stage that was changed, or a new one; what cannot be read comes back as it was typed."""
    studio, texts = studio_of(request), texts_of(request)
    path, was, after = path_of(studio), texts.get("was", ""), texts.get("after", "")
    typed = {name: text.strip() for name, text in texts.items() if name not in {"csrf", "was", "after"}}
    try:
        new = read_stage(typed, path.stage(was or after) or path.stages[0])
        if was:
            fields = {name: getattr(new, name) for name in FIELDS}
            kept = rename(changed(path, was, **fields), was, new.name)
        else:
            kept = add_stage(path, new, after or None)
        keep_path(studio, kept)
    except EvenhandError as error:
        return _form(request, typed, was=was, after=after, wrong=str(error))
    return go("/path", f"{new.name} is kept.")


def change(request: Request) -> Response:
    """Move a stage, take one out, or go back to the usual path."""
    studio, texts = studio_of(request), texts_of(request)
    path, name, act = path_of(studio), texts.get("name", ""), texts.get("act", "")
    try:
        if act in {"up", "down"}:
            keep_path(studio, move(path, name, -1 if act == "up" else 1))
            return go("/path", f"{name} is moved.")
        if act == "remove":
            keep_path(studio, remove_stage(path, name))
            return go("/path", f"{name} is taken out.")
        if act == "usual":
            keep_path(studio, COMMON_PATH)
            return go("/path", "The studio goes by the usual path again.")
    except EvenhandError as error:
        return page(request, wrong=str(error), status=422)
    return go("/path")


def as_toml(request: Request) -> Response:
    """Give the path as a file."""
    named = {"Content-Disposition": 'attachment; filename="path.toml"'}
    return PlainTextResponse(path_to_toml(path_of(studio_of(request))), headers=named)


async def read_in_file(request: Request) -> Response:
    """Take a path over from a file."""
    given = request.state.form.get("path")
    content = b"" if given is None or isinstance(given, str) else await given.read()
    return await run_in_threadpool(_read, request, content)


def _read(request: Request, content: bytes) -> Response:
    try:
        keep_path(studio_of(request), path_from_toml(content.decode("utf-8-sig"), name=PATH_NAME))
    except UnicodeDecodeError:
        return page(request, wrong="That is not a text file. A path is a TOML file.", status=422)
    except EvenhandError as error:
        return page(request, wrong=str(error), status=422)
    return go("/path", "The studio goes by this path now.")
