"""The book: the studio's own exercises and the library as music, searched, heard, marked, printed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from evenhand.errors import NotFound, WrongOptions
from evenhand.music.book import Use
from evenhand.music.library.tracks import TRACKS
from evenhand.report.print.book_pages import PAPERS, BookPaper, Edition
from evenhand.report.words.exercises import lies_words
from evenhand.report.words.figures import count
from evenhand.studio.arranged import by_section, place_of, put_beside, section_stepped, stepped
from evenhand.studio.book import book_of, book_text
from evenhand.studio.path import mark_of, path_of, read_mark, stage_names
from evenhand.studio.played import SPEEDS, USUAL_SPEED, heard_here
from evenhand.studio.shelves import (
    A_PAGE,
    ALL,
    BY_HAND,
    OWN,
    SORTS,
    THIRDS,
    TRAINS,
    ShelfPage,
    ShelfQuery,
    browse,
    counts,
    drawn,
    third_of,
)
from evenhand.studio.typed import whole_number
from evenhand.studio.values import BookChange, BookChangeKind, BookEntry
from evenhand.web.pages import go, page, said_here
from evenhand.web.requests import bytes_answer, pdf_answer, studio_of, texts_of
from evenhand.web.views.writing import go_to

USE_WORDS: dict[Use, str] = {"use": "use these", "also": "also", "never": "never"}
HAND_WORDS: Mapping[str, str] = {
    "R leads": "the right hand leads",
    "L leads": "the left hand leads",
    "in turn": "each hand leads in turn",
    "works R": "the right hand has more to do",
    "works L": "the left hand has more to do",
    "R alone": "the right hand alone",
    "L alone": "the left hand alone",
}
TRAINS_WORDS: Mapping[str, str] = {
    "singles": "single strokes",
    "doubles": "second notes of doubles",
    "three in a row": "three or more in a row",
    "rolls": "rolls",
    "heights": "accents and taps",
    "flams": "flams",
    "drags": "drags",
    "ghosts": "ghost notes",
    "dynamics": "loud and soft",
    "buzzes": "buzzes",
    "triplets": "triplets",
    "values": "changes of note value",
    "rests": "rests",
}
THIRD_WORDS: Mapping[str, str] = {
    "easy": "easy third of the library",
    "middle": "middle third of the library",
    "hard": "hard third of the library",
}
SORT_WORDS: Mapping[str, str] = {"stands": "as they stand", "easy": "easy to hard"}
CHANGE_WORDS: Mapping[BookChangeKind, str] = {
    "added": "added",
    "changed": "written anew",
    "marked": "marked",
    "removed": "removed",
    "moved": "moved",
}
STEPS = {"up": -1, "down": 1}
LONGEST_IN_AN_ADDRESS = 3000  # characters of an exercise


def shelf(request: Request, *, wrong: str = "") -> Response:
    """Show a shelf, or what was found on all of them, one page at a time."""
    studio = studio_of(request)
    entries = studio.book.all()
    query = _query(request.query_params)
    try:
        found = browse(query, entries)
    except WrongOptions as error:
        wrong, found = str(error), ShelfPage((), 0, 1, 1)
    own = {entry.id: entry for entry in entries}
    path, last = path_of(studio), studio.book.last_change()
    shown = [(each, own.get(each.id)) for each in found.exercises]
    return page(
        request,
        "book.html",
        status=422 if wrong else 200,
        query=query,
        found=found,
        cards=[_card(each, entry) for each, entry in shown],
        marks={each.id: mark_of(entry, path) for each, entry in shown if entry is not None},
        own_count=len(entries),
        sections=_sections(entries) if query.shelf == OWN and not query.searches else [],
        shelves=counts(),
        library_count=sum(counts().values()),
        options=OPTIONS,
        to=_addresses(query, found),
        speeds=tuple(SPEEDS),
        usual_speed=USUAL_SPEED,
        wrong=wrong,
        said=said_here(request),
        last=last and {"id": last.id, "words": change_words(last)},
        uses=USE_WORDS,
        stages=stage_names(studio),
    )


OPTIONS = {"hand": HAND_WORDS, "trains": TRAINS_WORDS, "hard": THIRD_WORDS, "sort": SORT_WORDS}


def _query(asked: Mapping[str, str]) -> ShelfQuery:
    """Read what is looked for; what there is none of is not looked for."""
    given = {
        name: value if (value := asked.get(name, "")) in known else ""
        for name, known in (("hand", BY_HAND), ("trains", TRAINS), ("hard", THIRDS), ("sort", SORTS))
    }
    sticking = asked.get("sticking", "")[:200]
    searches = bool(sticking.strip() or given["hand"] or given["trains"] or given["hard"])
    shelf = asked.get("shelf", ALL if searches else OWN)
    return ShelfQuery(
        shelf=shelf if shelf in {OWN, ALL, *TRACKS} else OWN,
        sticking=sticking,
        swap=bool(asked.get("swap")),
        page=whole_number(asked.get("page", "")) or 1,
        **{**given, "sort": given["sort"] or SORTS[0]},
    )


def _sections(entries: Sequence[BookEntry]) -> list[tuple[str, int, str]]:
    """List the sections of one's own shelf: on which page each begins, and with which exercise."""
    found: dict[str, tuple[str, int, str]] = {}
    for at, each in enumerate(by_section(entries)):
        found.setdefault(each.section, (each.section, at // A_PAGE + 1, each.id))
    return list(found.values())


def _addresses(query: ShelfQuery, found: ShelfPage) -> dict[str, Any]:
    """Return where the pages before and after are."""
    asked = {name: getattr(query, name) for name in ("shelf", "sticking", "hand", "trains", "hard", "sort")}
    asked |= {"swap": "1"} if query.swap else {}
    to = {}
    for name, number in (("before", found.page - 1), ("after", found.page + 1)):
        to[name] = f"/book?{urlencode({**asked, 'page': number})}" if 1 <= number <= found.pages else ""
    return to


def _card(each: Any, entry: BookEntry | None) -> dict[str, Any]:  # noqa: ANN401 - a shelved exercise
    """Gather what stands on a card."""
    address = urlencode({"exercise": each.text, "title": each.title})
    return {
        "at": each,
        "entry": entry,
        "lines": drawn(each.text),
        "third": THIRD_WORDS.get(third_of(each.text), ""),
        "found": lies_words(each.found) if each.found else "",
        "address": address if len(each.text) <= LONGEST_IN_AN_ADDRESS else "",
    }


def hear(request: Request) -> Response:
    """Play an exercise as it is written."""
    asked = request.query_params
    content, _ = heard_here(
        asked.get("exercise", "")[:LONGEST_IN_AN_ADDRESS],
        asked.get("speed", USUAL_SPEED),
        click=asked.get("click", "1") != "0",
    )
    return bytes_answer(request, content, "audio/mpeg")


def mark(request: Request) -> Response:
    """Say what is wanted of an exercise where weeks are planned."""
    studio, texts = studio_of(request), texts_of(request)
    try:
        wanted = read_mark(texts.get("use", ""), texts.get("stages", ""), path_of(studio))
    except WrongOptions as error:
        return shelf(request, wrong=str(error))
    entry_id = request.path_params["entry_id"]
    studio.book.mark(entry_id, wanted)
    return go(_back(request), "Marked.", at=f"e-{entry_id}")


def remove(request: Request) -> Response:
    """Take an exercise out of the book."""
    studio_of(request).book.remove(request.path_params["entry_id"])
    return go(_back(request), "Removed from the book.")


def _back(request: Request) -> str:
    """Return the page of one's own shelf that a form stood on."""
    number = whole_number(texts_of(request).get("page", "")) or 1
    return f"/book?page={number}" if number > 1 else "/book"


def move(request: Request) -> Response:
    """Move an exercise or a section up or down, or an exercise before or after another."""
    texts, shelf = texts_of(request), studio_of(request).book
    entry_id, by = texts.get("entry", ""), STEPS.get(texts.get("by", ""), 0)
    if not entry_id:
        section = texts.get("section", "")
        shelf.change("moved", lambda there: section_stepped(there, section, by), about=section)
        return go(_back(request), f"{section or 'What is without a section'} was moved.")
    entry = shelf.get(entry_id)
    other, after = texts.get("after") or texts.get("before", ""), bool(texts.get("after"))

    def act(there: list[BookEntry]) -> list[BookEntry]:
        return put_beside(there, entry_id, other, after=after) if other else stepped(there, entry_id, by)

    shelf.change("moved", act, about=entry.title or entry.text)
    place = place_of(shelf.all(), entry_id)
    said = f"{entry.title or entry.text} is number {place.number} of {place.of} in its section."
    at = texts["by"] if by else "e"  # where the focus is, and goes on
    return go_to(studio_of(request), entry_id, said, at=at)


def undo(request: Request) -> Response:
    """Undo the last change of the book."""
    try:
        undone = studio_of(request).book.undo(texts_of(request).get("change", ""))
    except NotFound:
        return go(
            "/book", "Nothing was undone: the book was changed meanwhile. Look at what can be undone now."
        )
    return go("/book", f"Undone: {change_words(undone)}.")


def change_words(change: BookChange) -> str:
    """Say what was changed."""
    many = count(change.many, "exercise was", "exercises were")
    told = f"{change.about or 'an exercise'} was" if change.many == 1 else many
    if change.what == "moved":
        return f"{change.about or 'what is without a section'} was moved"
    return f"{told} {CHANGE_WORDS[change.what]}"


def print_all(request: Request) -> Response:
    """Print the book as PDF."""
    from evenhand.acts.exercises.print import print_book

    studio = studio_of(request)
    entries = studio.book.all()
    if not entries:
        raise NotFound(what="a book with exercises")
    asked = request.query_params
    paper: BookPaper = next((each for each in PAPERS if each == asked.get("paper")), "a4")
    edition: Edition | None = "left" if asked.get("edition") == "left" else None
    book = book_of(entries, studio.facts.name)
    return pdf_answer(print_book(book, title=studio.facts.name, paper=paper, edition=edition), "book")


def as_text(request: Request) -> Response:
    """Give the book as plain text."""
    text = book_text(studio_of(request).book.all())
    return PlainTextResponse(text, headers={"Content-Disposition": 'attachment; filename="book.txt"'})
