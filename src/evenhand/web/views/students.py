"""The students: all of them, taking in one or many, and one student's page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from evenhand.report.words.figures import DAY_NAMES
from evenhand.studio.archive import file_name, student_archive
from evenhand.studio.path import path_of, stage_names
from evenhand.studio.store.studio import Studio
from evenhand.studio.students import COLUMNS, Wrong, read_consent, read_fields, read_table, same_name, take_in
from evenhand.studio.values import Student
from evenhand.studio.weeks.ahead import weeks_shown
from evenhand.web.acted import note
from evenhand.web.pages import go, now, page, said_here, today
from evenhand.web.requests import is_part, student_of, studio_of
from evenhand.web.serving import LINK_LASTS
from evenhand.web.student_page import MadeLink, made_link, one_student

NEW = {
    "name": "",
    "stage": "",
    "minor": "",
    "lesson_day": "",
    "lesson_time": "",
    "minutes": "20",
    "days": "5",
}
FACTS = tuple(NEW)


MUST_BE = {
    "name": "the name must be 1 to 80 characters; got “{got}”",
    "same_name": "there is a student called {got} already; add a letter or a surname",
    "stage": "the stage must be one of {stages}; got “{got}”",
    "minor": "minor must be yes or no; got “{got}”",
    "lesson_day": "the lesson's day must be a weekday such as Monday or Mon; got “{got}”",
    "lesson_time": "the time must be such as 16:30 or 4:30 pm; got “{got}”",
    "minutes": "minutes a day must be a number from 1 to 240; got “{got}”",
    "days": "days a week must be a whole number from 1 to 7; got “{got}”",
    "notes": "notes must be 20,000 characters at most",
    "consent_by": "who agreed must be a name of 80 characters at most; got “{got}”",
    "consent_on": "the day must be such as 2026-11-30, and not in the future; got “{got}”",
    "columns": "the columns must be among {columns}, each once; got “{got}”",
    "rows": "the table must have 1 to 500 students; got {got}",
    "cells": "there must not be more cells than columns; got {got} cells",
    "text": "the table must be text as UTF-8, which a spreadsheet's “CSV UTF-8” is",
}


def all_students(request: Request, *, status: int = 200, **facts: Any) -> Response:  # noqa: ANN401 - a template's facts
    """List the students, with the forms that take in more."""
    studio = studio_of(request)
    shown = {"values": NEW, "wrong": {}, "table": "", "wrong_rows": [], **facts}
    return page(
        request,
        "students.html",
        status=status,
        students=studio.students.all(),
        archived=studio.students.all(archived=True),
        stages=stage_names(studio),
        day_names=DAY_NAMES,
        columns=", ".join(COLUMNS),
        said=said_here(request),
        **shown,
    )


def add(request: Request) -> Response:
    """Take one student in, and make the link."""
    studio = studio_of(request)
    typed = _typed(request, FACTS)
    fields, wrong = read_fields(typed, path=path_of(studio))
    if not wrong and same_name(fields["name"], _names(studio)):
        wrong = (Wrong("same_name", fields["name"]),)
    if wrong:
        return all_students(request, status=422, values=typed, wrong=_by_field(wrong, stage_names(studio)))
    return _invited(request, take_in(studio, [fields]))


def invite(request: Request) -> Response:
    """Take many students in from a table, all or none, and make their links."""
    studio = studio_of(request)
    try:
        text = _table_text(request)
        found, wrong = read_table(text, _names(studio), path=path_of(studio))
    except UnicodeDecodeError:
        text, found, wrong = "", (), (Wrong("text", ""),)
    if wrong:
        return all_students(
            request,
            status=422,
            table=text,
            wrong_rows=[wrong_words(each, stage_names(studio)) for each in wrong],
        )
    return _invited(request, take_in(studio, found))


def one(request: Request) -> Response:
    """Show one student."""
    return one_student(request, student_of(request))


def change(request: Request) -> Response:
    """Change one part of what is known of a student."""
    student = student_of(request)
    part = str(request.state.form.get("part", ""))
    fields, wrong, typed = _changes(request, part, student)
    if wrong:
        return one_student(
            request, student, status=422, typed=typed, wrong=_by_field(wrong, stage_names(studio_of(request)))
        )
    studio_of(request).students.change(student.id, **fields)
    said = "Saved."
    if "archived" in fields:
        left = fields["archived"]
        request.state.act = "student left" if left else "student back"
        said = f"{student.name} is archived." if left else f"{student.name} is back; make a new link."
    return go(f"/students/{student.id}", said)


def make_link(request: Request) -> Response:
    """Make a private link, and show it this once."""
    student = student_of(request)
    link = made_link(request, student)
    return one_student(request, student, link=link)


def make_parents_link(request: Request) -> Response:
    """Switch the parent's view on: make its link, and show it this once."""
    student = student_of(request)
    link = made_link(request, student, "days")
    return one_student(request, student, link=link)


def revoke_link(request: Request) -> Response:
    """Take a link back."""
    studio_of(request).access.revoke_link(request.path_params["link_id"])
    student_id = str(request.state.form.get("student", ""))
    to = f"/students/{student_id}" if student_id.isalnum() else "/students"
    return go(to, "The link is withdrawn; whoever used it is logged out.")


def export(request: Request) -> Response:
    """Give all that is kept of a student as one archive, while it is made; nothing of it stays here."""
    student, at = student_of(request), now().astimezone()
    named = {"Content-Disposition": f'attachment; filename="{file_name(student, at)}"'}
    note(request, "student exported", student.id)
    return StreamingResponse(
        student_archive(studio_of(request), student, at),
        media_type="application/zip",
        headers={"Cache-Control": "no-store", **named},
    )


def erase(request: Request) -> Response:
    """Erase a student for good, once the name was typed."""
    student = student_of(request)
    typed = " ".join(str(request.state.form.get("name", "")).split())
    if typed.casefold() != student.name.casefold():
        wrong = {"erase": "That is not the name. Nothing was erased."}
        return one_student(request, student, status=422, typed={"erase": typed}, wrong=wrong)
    studio_of(request).students.erase(student.id)
    return go("/students", f"{student.name} is erased; nothing is left.")


def progress(request: Request) -> Response:
    """Show the weeks and judge the stage, for the student's page that fetches it, or as a page of its own."""
    student = student_of(request)
    template = "student_progress.html" if is_part(request) else "student_weeks.html"
    shown = weeks_shown(studio_of(request), student, now().astimezone())
    return page(request, template, student=student, **shown)


def wrong_words(wrong: Wrong, stages: Sequence[str]) -> str:
    """Say what is wrong, and what must be."""
    words = MUST_BE.get(wrong.field, "that cannot be read; got “{got}”")
    words = words.format(got=wrong.got, stages=", ".join(stages), columns=", ".join(COLUMNS))
    words = words[:1].upper() + words[1:] + "."
    return words if wrong.row is None else f"Row {wrong.row}: {words}"


def _by_field(wrong: tuple[Wrong, ...], stages: Sequence[str]) -> dict[str, str]:
    return {
        ("name" if each.field == "same_name" else each.field): wrong_words(each, stages) for each in wrong
    }


def _names(studio: Studio) -> list[str]:
    return [student.name for student in studio.students.all(archived=None)]


def _typed(request: Request, names: tuple[str, ...]) -> dict[str, str]:
    """Return what was typed into these fields; a box that was not ticked is an empty text."""
    return {name: str(request.state.form.get(name, "")) for name in names}


def _table_text(request: Request) -> str:
    """Return the table: the file where there is one, else what was typed."""
    file = request.state.form.get("file")
    if isinstance(file, UploadFile) and file.size:
        return file.file.read().decode("utf-8-sig")
    return str(request.state.form.get("table", ""))


def _changes(
    request: Request, part: str, student: Student
) -> tuple[dict[str, Any], tuple[Wrong, ...], dict[str, str]]:
    """Read the form of one part of the page: the changes, what is wrong, what was typed."""
    if part == "facts":
        typed = _typed(request, FACTS)
        fields, wrong = read_fields(typed, path=path_of(studio_of(request)))
        others = [name for name in _names(studio_of(request)) if name != student.name]
        if not wrong and same_name(fields["name"], others):
            wrong = (Wrong("same_name", fields["name"]),)
        return fields, wrong, typed
    if part == "notes":
        typed = _typed(request, ("notes",))
        return *read_fields(typed, path=path_of(studio_of(request))), typed
    if part == "consent":
        typed = _typed(request, ("consent_by", "consent_on"))
        return *read_consent(typed["consent_by"], typed["consent_on"], today()), typed
    if part == "archive":
        return {"archived": not student.archived}, (), {}
    return {}, (Wrong("unknown", part),), {}


def _invited(request: Request, students: tuple[Student, ...]) -> Response:
    """Show the links of those who were taken in, this once."""
    links: list[tuple[Student, MadeLink]] = [(student, made_link(request, student)) for student in students]
    for student in students:
        note(request, "link made", student.id)
    answer = page(request, "invited.html", links=links, until=datetime.now().astimezone() + LINK_LASTS)
    answer.headers["Cache-Control"] = "no-store"
    return answer
