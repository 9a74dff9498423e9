"""The routes of the studio: every route, who may use it, and how it is guarded. This table is the permission.

Conventions: ``who`` is ``anyone``, ``teacher``, or ``student``; a student's route gives only what
belongs to the student of the session. A route that changes something takes a POST and a CSRF
token (``checks``); ``origin`` alone is for those where there is no session yet. ``kind`` says
what comes out: a page, a part of one (htmx), JSON, a file, or a socket.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenhand.studio.values import Session

Who = Literal["anyone", "teacher", "student", "administrator"]
Kind = Literal["page", "part", "json", "file", "socket", "action"]
Checks = Literal["none", "origin", "csrf"]


@dataclass(frozen=True, slots=True)
class StudioRoute:
    """One route. ``view`` is the module and function under ``evenhand.web.views`` that answers."""

    method: str
    path: str
    who: Who
    kind: Kind
    view: str
    checks: Checks = "none"
    limit: str = ""  # a rate limit's name, see guard.LIMITS; where secrets are tried, the view counts
    largest_bytes: int = 1 << 20
    waits: bool = False  # its answer may wait for news: it is not counted among pages in the making


def _look(path: str, who: Who, kind: Kind, view: str, limit: str = "", *, waits: bool = False) -> StudioRoute:
    return StudioRoute("GET", path, who, kind, view, limit=limit, waits=waits)


def _act(path: str, who: Who, view: str, kind: Kind = "action", **more: object) -> StudioRoute:
    return StudioRoute("POST", path, who, kind, view, "csrf", **more)  # type: ignore[arg-type]


RECORDING_BYTES = 400 << 20  # an hour in stereo
VOICE_BYTES = 5 << 20  # a minute of a voice, and the form around it

ROUTES: tuple[StudioRoute, ...] = (
    # anyone
    _look("/health", "anyone", "json", "entrance.health"),
    _look("/ready", "anyone", "json", "entrance.ready", limit="ready"),
    _look("/metrics", "anyone", "file", "entrance.metrics", limit="metrics"),
    _look("/login", "anyone", "page", "entrance.login_page"),
    StudioRoute("POST", "/login", "anyone", "action", "entrance.login", "origin", largest_bytes=1 << 13),
    _look("/s/{secret}", "anyone", "action", "entrance.student_link"),
    _look("/p/{secret}", "anyone", "page", "entrance.parents_page"),
    _look("/gone", "anyone", "page", "entrance.link_gone"),
    _look("/calendar/{secret}/lessons.ics", "anyone", "file", "whole.lessons.calendar"),
    _look("/stand-worker.js", "anyone", "file", "installed.worker"),
    _look("/stand.webmanifest", "anyone", "file", "installed.manifest"),
    # the teacher's desk
    _act("/logout", "teacher", "entrance.logout"),
    _look("/", "teacher", "page", "desk.today"),
    _look("/news", "teacher", "json", "between.news.came", waits=True),
    _look("/students", "teacher", "page", "students.all_students"),
    _act("/students", "teacher", "students.add"),
    _act("/students/invite", "teacher", "students.invite", largest_bytes=1 << 20),
    _look("/students/{student_id}", "teacher", "page", "students.one"),
    _act("/students/{student_id}", "teacher", "students.change"),
    _act("/students/{student_id}/links", "teacher", "students.make_link"),
    _act("/students/{student_id}/parent", "teacher", "students.make_parents_link"),
    _act("/links/{link_id}/revoke", "teacher", "students.revoke_link"),
    _look("/students/{student_id}/export", "teacher", "file", "students.export"),
    _act("/students/{student_id}/erase", "teacher", "students.erase"),
    _look("/students/{student_id}/progress", "teacher", "part", "students.progress"),
    _look("/students/{student_id}/report", "teacher", "page", "whole.terms.page"),
    _act("/students/{student_id}/report", "teacher", "whole.terms.printed"),
    _look("/students/{student_id}/rudiments", "teacher", "page", "rudiments.shown"),
    _act("/students/{student_id}/rudiments", "teacher", "rudiments.sign"),
    _act("/students/{student_id}/takes", "teacher", "takes.teacher_upload", largest_bytes=RECORDING_BYTES),
    # the next week
    _look("/students/{student_id}/week", "teacher", "page", "week.edit"),
    _act("/students/{student_id}/week", "teacher", "week.save"),
    _act("/students/{student_id}/week/propose", "teacher", "week.propose", kind="part"),
    _act("/students/{student_id}/week/put", "teacher", "placing.put"),
    _act("/students/{student_id}/week/sum", "teacher", "week.sum_up", kind="part"),
    _act("/students/{student_id}/week/discard", "teacher", "week.discard"),
    _act("/weeks/{week_id}/send", "teacher", "week.send"),
    _act("/weeks/{week_id}/copy", "teacher", "whole.copied.copy"),
    _look("/weeks/{week_id}/sheet.pdf", "teacher", "file", "week.sheet"),
    _look("/weeks/{week_id}/week.ics", "teacher", "file", "week.calendar"),
    # the whole studio
    _look("/overview", "teacher", "page", "whole.overview.page"),
    _look("/search", "teacher", "page", "whole.search.page"),
    _look("/hear", "teacher", "page", "whole.triage.page"),
    _act("/hear/listened", "teacher", "whole.triage.listened"),
    _look("/hear/aside", "teacher", "page", "whole.aside.page"),
    _act("/hear/aside", "teacher", "whole.aside.see_to"),
    _look("/again", "teacher", "page", "whole.again.page"),
    _act("/again", "teacher", "whole.again.change"),
    _look("/lessons", "teacher", "page", "whole.lessons.page"),
    _act("/lessons/changes", "teacher", "whole.lessons.change"),
    _act("/lessons/changes/{change_id}/remove", "teacher", "whole.lessons.as_usual"),
    _act("/lessons/holidays", "teacher", "whole.lessons.add_holiday"),
    _act("/lessons/holidays/{holiday_id}/remove", "teacher", "whole.lessons.remove_holiday"),
    _act("/lessons/feed", "teacher", "whole.lessons.feed"),
    # a lesson
    _look("/students/{student_id}/lesson", "teacher", "page", "lesson.shown"),
    _look("/students/{student_id}/lesson/takes", "teacher", "part", "lesson.takes"),
    _act(
        "/students/{student_id}/lesson/takes",
        "teacher",
        "lesson.receive",
        kind="json",
        largest_bytes=RECORDING_BYTES,
    ),
    # a take
    _look("/takes/{take_id}", "teacher", "page", "takes.one"),
    _look("/takes/{take_id}/sound", "teacher", "file", "takes.sound"),
    _look("/takes/{take_id}/film", "teacher", "file", "takes.film"),
    _act("/takes/{take_id}/film/delete", "teacher", "takes.delete_film"),
    _look("/takes/{take_id}/figures.json", "teacher", "json", "takes.figures"),
    _look("/takes/{take_id}/beside/{other_id}", "teacher", "page", "takes.beside"),
    _act("/takes/{take_id}/words", "teacher", "takes.save_words", largest_bytes=VOICE_BYTES),
    _act("/takes/{take_id}/listened", "teacher", "takes.listened"),
    _act("/takes/{take_id}/correct", "teacher", "takes.correct"),
    _act("/takes/{take_id}/hear-again", "teacher", "takes.hear_again"),
    _act("/takes/{take_id}/give", "teacher", "takes.give"),
    _act("/takes/{take_id}/delete", "teacher", "takes.delete"),
    # words both ways
    _look("/weeks/{week_id}/words", "teacher", "page", "between.words.of_week"),
    _act("/weeks/{week_id}/words", "teacher", "between.words.say_of_week", largest_bytes=VOICE_BYTES),
    _look("/words/{said_id}/sound", "teacher", "file", "between.words.sound"),
    _act("/words/{said_id}/take-back", "teacher", "between.words.take_back"),
    # a model, played by the teacher
    _look("/models/new", "teacher", "page", "between.models.record"),
    _act(
        "/models/takes",
        "teacher",
        "between.models.receive",
        kind="json",
        limit="upload",
        largest_bytes=RECORDING_BYTES,
    ),
    _look("/models/takes/{take_id}/state.json", "teacher", "json", "between.news.state", waits=True),
    _look("/models/takes/{take_id}/result", "teacher", "part", "stand.result"),
    _act("/models/device", "teacher", "stand.save_device", kind="json"),
    # the book
    _look("/book", "teacher", "page", "book.shelf"),
    _look("/book/hear.mp3", "teacher", "file", "book.hear", limit="hear"),
    _look("/book/week", "teacher", "page", "placing.students"),
    _act("/book/move", "teacher", "book.move"),
    _act("/book/undo", "teacher", "book.undo"),
    _look("/book/write", "teacher", "page", "writing.blank"),
    _act("/book/entries", "teacher", "writing.add"),
    _look("/book/entries/{entry_id}", "teacher", "page", "writing.entry"),
    _act("/book/entries/{entry_id}", "teacher", "writing.save"),
    _act("/book/entries/{entry_id}/mark", "teacher", "book.mark"),
    _act("/book/entries/{entry_id}/remove", "teacher", "book.remove"),
    _act("/book/engrave", "teacher", "writing.engrave", kind="part"),
    _act("/book/generate", "teacher", "writing.generate", kind="part"),
    _act("/book/cover", "teacher", "writing.cover", kind="part"),
    _look("/book/book.pdf", "teacher", "file", "book.print_all"),
    _look("/book/book.txt", "teacher", "file", "book.as_text"),
    _look("/book/import", "teacher", "page", "importing.blank"),
    _act("/book/import", "teacher", "importing.preview", kind="part", largest_bytes=4 << 20),
    _act("/book/import/keep", "teacher", "importing.keep"),
    # the path, settings, the whole studio
    _look("/path", "teacher", "page", "path.page"),
    _look("/path/stage", "teacher", "page", "path.stage"),
    _act("/path/stage", "teacher", "path.save"),
    _act("/path/change", "teacher", "path.change"),
    _look("/path/path.toml", "teacher", "file", "path.as_toml"),
    _act("/path/read", "teacher", "path.read_in_file", largest_bytes=1 << 20),
    _look("/settings", "teacher", "page", "settings.page"),
    _act("/settings", "teacher", "settings.change"),
    _act("/settings/password", "teacher", "settings.change_password", limit="password"),
    _look("/access", "teacher", "page", "access.page"),
    _look("/access/log.csv", "teacher", "file", "access.log_as_table"),
    _act("/access/sessions/{session_id}/end", "teacher", "access.end_session"),
    _act("/access/out", "teacher", "access.put_out"),
    _look("/access/second", "teacher", "page", "second.page"),
    _act("/access/second", "teacher", "second.put_on", limit="password"),
    _act("/access/second/codes", "teacher", "second.new_codes", limit="password"),
    _act("/access/second/off", "teacher", "second.drop", limit="password"),
    _look("/export", "teacher", "file", "settings.export"),
    _look("/table", "teacher", "file", "settings.table"),
    _look("/openapi.json", "teacher", "json", "settings.openapi"),
    # a school
    _look("/school", "administrator", "page", "whole.school.page"),
    _act("/school/move", "administrator", "whole.school.move"),
    _act("/school/substitutes", "administrator", "whole.school.add_substitute"),
    _act("/school/substitutes/{substitute_id}/remove", "administrator", "whole.school.remove_substitute"),
    _act("/stand-in/end", "teacher", "whole.school.back"),
    _act("/stand-in/{substitute_id}", "teacher", "whole.school.stand_in"),
    # the student's stand
    _look("/stand", "student", "page", "stand.today"),
    _look("/stand/practice/{number}", "student", "page", "stand.practice"),
    _look("/stand/today.json", "student", "json", "stand.today_json"),
    _look("/stand/summary", "student", "part", "stand.summary"),
    _look("/stand/sheet.pdf", "student", "file", "stand.sheet"),
    _look("/stand/takes", "student", "page", "stand.takes"),
    _look("/stand/weeks", "student", "page", "own.weeks.own_weeks"),
    _act(
        "/stand/takes",
        "student",
        "own.sending.receive",
        kind="json",
        limit="upload",
        largest_bytes=RECORDING_BYTES,
    ),
    _act("/stand/ticket", "student", "own.sending.ticket", kind="json", limit="upload"),
    _look("/stand/takes/{take_id}", "student", "page", "between.words.own_take_page"),
    _look("/stand/takes/{take_id}/result", "student", "part", "stand.result"),
    _look("/stand/takes/{take_id}/state.json", "student", "json", "between.news.state", waits=True),
    _look("/stand/takes/{take_id}/beside", "student", "page", "between.models.beside"),
    _look("/stand/takes/{take_id}/sound", "student", "file", "stand.sound"),
    _act(
        "/stand/takes/{take_id}/words",
        "student",
        "between.words.answer_take",
        limit="words",
        largest_bytes=VOICE_BYTES,
    ),
    _look("/stand/weeks/{week_id}/words", "student", "page", "between.words.own_week"),
    _act(
        "/stand/weeks/{week_id}/words",
        "student",
        "between.words.answer_week",
        limit="words",
        largest_bytes=VOICE_BYTES,
    ),
    _look("/stand/words/{said_id}/sound", "student", "file", "between.words.own_sound"),
    _act("/stand/words/{said_id}/take-back", "student", "between.words.take_back_own"),
    _act("/stand/device", "student", "stand.save_device", kind="json"),
    _act("/stand/leave", "student", "stand.leave"),
    StudioRoute("GET", "/stand/live", "student", "socket", "live.live", "origin", limit="live"),
)

# What an administrator has in common with a teacher: a password, a second factor, sessions and a log.
ADMINISTRATORS_TOO = frozenset(
    {
        "access.page",
        "access.log_as_table",
        "access.end_session",
        "access.put_out",
        "second.page",
        "second.put_on",
        "second.new_codes",
        "second.drop",
        "settings.change_password",
        "entrance.logout",
    }
)
# What is a teacher's own, and not a substitute's: what outlives the days, leaves the studio, or is gone then.
NOT_FOR_SUBSTITUTES = frozenset(
    {
        *(ADMINISTRATORS_TOO - {"entrance.logout"}),
        "settings.page",
        "settings.change",
        "settings.export",
        "settings.table",
        "students.add",
        "students.invite",
        "students.change",
        "students.make_link",
        "students.make_parents_link",
        "students.revoke_link",
        "students.export",
        "students.erase",
        "takes.delete",
        "takes.delete_film",
        "whole.lessons.feed",
        "path.save",
        "path.change",
        "path.read_in_file",
        "importing.keep",
    }
)


def may(session: Session, route: StudioRoute) -> bool:
    """Tell whether whoever is there may use a route."""
    if session.role == "administrator" and route.view in ADMINISTRATORS_TOO:
        return True
    if session.stands_in_for and route.view in NOT_FOR_SUBSTITUTES:
        return False
    return session.role == route.who
