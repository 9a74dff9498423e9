"""One search for all of the studio: students, exercises, takes, and the studio's own pages.

Conventions: the search is a form that any page of the teacher's has (``base.html``), so it needs no script;
``/`` goes to its field where there is one (``search.js``). A page is found by its name or by other words for
what is there, each by its beginning; a place within a page has an address of its own.
"""

from __future__ import annotations

from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response

from evenhand.studio.shelves import ALL, ShelvedExercise
from evenhand.studio.whole.search import MOST_LETTERS, Found, fits, search, sticking_of, words_in
from evenhand.web.pages import now, when_words
from evenhand.web.pages import page as made
from evenhand.web.requests import studio_of

PAGES = (  # name, address, other words for what is there
    ("Today", "/", "day desk who comes next"),
    ("To hear", "/hear", "inbox takes not heard triage"),
    ("Set aside", "/hear/aside", "takes could not be heard failed again"),
    ("Students", "/students", "add invite table archive everybody"),
    ("The whole studio", "/overview", "who did not practise practice unchanged findings overview everybody"),
    ("Lessons", "/lessons", "move skip timetable"),
    ("Holidays", "/lessons#holidays", "free vacation"),
    ("A calendar to subscribe to", "/lessons#feed", "feed ics icalendar address"),
    ("Add a student", "/students#add", "new invite link"),
    ("Book", "/book", "exercises library sticking music print"),
    ("Write an exercise", "/book/write", "new book generate cover type"),
    ("Import a file", "/book/import", "musicxml midi score text read in"),
    ("Path", "/path", "stages conditions"),
    ("Settings", "/settings", "name units originals videos"),
    ("Change the password", "/settings#password", "login"),
    ("Download the whole studio", "/settings#whole", "export backup archive"),
    ("A table for a spreadsheet", "/settings#table", "export csv parquet data figures years"),
    ("Who is logged in", "/access", "sessions log browsers logout"),
    ("Two-step login", "/access/second", "code app password recovery"),
)
HANDS_SHOWN = 60  # letters of a sticking in an address


def page(request: Request) -> Response:
    """Show what was found; nothing typed is asked for again."""
    text = " ".join(request.query_params.get("q", "").split())[:MOST_LETTERS]
    at = now().astimezone()
    found = search(studio_of(request), text, at) if text else Found()
    pages = [
        (name, to) for name, to, more in PAGES if text and fits(words_in(text), words_in(f"{name} {more}"))
    ]
    return made(
        request,
        "search.html",
        text=text,
        found=found,
        pages=pages,
        n=sum(found.more) + sum(map(len, (found.students, found.exercises, found.takes, pages))),
        when=lambda take: when_words(take.recorded_at, at.date()),
        shelf=shelf_of,
    )


def shelf_of(each: ShelvedExercise) -> str:
    """Return where an exercise stands in the book."""
    return f"/book?{urlencode({'shelf': ALL, 'sticking': sticking_of(each.text)[:HANDS_SHOWN]})}"
