"""Threads of words on a page: what comes in is kept, what was said is shown, what is new is named.

Conventions: ``who`` is who says something, or looks. What is shown to somebody counts as opened by them.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Any

from starlette.datastructures import UploadFile
from starlette.requests import Request

from evenhand.errors import CannotKeep, EvenhandError, NotFound, StudioFull
from evenhand.studio.spoken import NotSaid, new_said
from evenhand.studio.values import Role, Said, Student, StudioTake, Week
from evenhand.studio.weeks.next import title_of, titles_of
from evenhand.web.pages import now, today, weekday_words, when_words
from evenhand.web.requests import RequestRefused, studio_of, texts_of, written_file

NO_VOICE = "Voice notes can be recorded once your teacher has noted that a parent or guardian agrees."
FULL = "There is no room for more recordings. Tell your teacher; a sentence can be sent."
NOT_SAID = {
    "nothing": "Write a sentence, or record a voice note.",
    "long": "These are {got} letters, and {most} is the most. Shorten them: they are still here.",
    "voice": "This is no voice note of the page's own recorder. Record it here, or write a sentence.",
    "seconds": "A voice note lasts half a second to {most:.0f} s; this one is {got:.1f} s. Record it again.",
}
SHOWN_LETTERS = 160


@dataclass(frozen=True, slots=True)
class News:
    """Something said that was not opened yet: what of, and where it is opened."""

    said: Said
    about: str
    to: str
    short: str


def keep_said(request: Request, who: Role, student: Student, **about: str | None) -> Said:
    """Keep what a form says of a take or a week.

    Raises
    ------
    RequestRefused
        In words for whoever said it.
    """
    threads = studio_of(request).threads
    voice = request.state.form.get("voice")
    spoken = isinstance(voice, UploadFile) and bool(voice.size)
    if spoken and who == "student" and not student.may_record:
        raise RequestRefused(NO_VOICE, 403)
    try:
        with ExitStack() as lent:
            place = written_file(lent, studio_of(request).takes, voice) if spoken else None
            new = new_said(texts_of(request), who, student.id, now=now(), voice=place, **about)
            return threads.say(new, place)
    except StudioFull as error:
        raise RequestRefused(FULL, 413) from error
    except NotSaid as error:
        raise RequestRefused(NOT_SAID[error.kind].format(got=error.got, most=error.most)) from error
    except (CannotKeep, NotFound):
        raise
    except EvenhandError as error:
        raise RequestRefused(str(error)) from error


def thread_facts(
    request: Request,
    thread: Sequence[Said],
    who: Role,
    student: Student,
    wrong: RequestRefused | None = None,
) -> dict[str, Any]:
    """Return what a thread's part of a page shows, and note that who looks at it opened it."""
    studio_of(request).threads.read([each.id for each in thread if each.who != who])
    return {
        "thread": thread,
        "me": who,
        "key": secrets.token_urlsafe(12),
        "voices": who == "teacher" or student.may_record,
        "said_when": lambda each: when_words(each.said_at, today()),
        "wrong_words": "" if wrong is None else str(wrong),
        "words": "" if wrong is None else texts_of(request).get("words", ""),
    }


def news_of(request: Request, unread: Iterable[Said], base: str) -> list[News]:
    """Say what was not opened yet is about; ``base`` is where the reader's pages are."""
    studio, found = studio_of(request), list(unread)
    takes = {each.id: each for each in studio.takes.all(ids={each.take_id for each in found if each.take_id})}
    titles = titles_of(studio.book.all()) if takes else {}
    news = []
    for each in found:
        take = takes.get(each.take_id or "")
        week = None if each.week_id is None else studio.weeks.find(each.week_id)
        if take is not None:
            about, to = about_take(take, title_of(take.exercise, titles)), f"{base}/takes/{take.id}"
        elif week is not None:
            about, to = about_week(week), f"{base}/weeks/{week.id}/words"
        else:
            continue
        news.append(News(each, about, f"{to}#thread", _short(each)))
    return news


def about_take(take: StudioTake, title: str) -> str:
    """Name a take as one says it: "about Thursday's doubles"."""
    day = when_words(take.recorded_at, today()).rpartition(", ")[0]
    return f"about {day}'s {title or take.exercise or 'recording'}"


def about_week(week: Week) -> str:
    """Name a week as one says it."""
    newest = week.starts <= today() and (today() - week.starts).days < 7
    return "about this week" if newest else f"about the week from {weekday_words(week.starts)}"


def _short(each: Said) -> str:
    text = each.text if len(each.text) <= SHOWN_LETTERS else f"{each.text[:SHOWN_LETTERS].rstrip()} …"
    spoken = "a voice note" if each.recording else ""
    return f"{text} (with {spoken})" if text and spoken else text or spoken
