"""The book: exercises kept, typed, generated, covered, printed."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from evenhand.errors import EvenhandError, NotFound, WrongOptions
from evenhand.music.book import Use
from evenhand.report.print.setting import Paper
from evenhand.report.words.figures import count
from evenhand.studio.book import (
    TYPED_PX,
    ShownExercises,
    book_of,
    book_text,
    covering,
    easy_first,
    generated,
    read_in,
    same_as,
    typed,
)
from evenhand.studio.path import mark_of, path_of, read_mark, stage_names
from evenhand.studio.typed import whole_number
from evenhand.web.pages import go, page, said_here
from evenhand.web.requests import pdf_answer, studio_of, texts_of

LARGEST_BOOK = 2000
USE_WORDS: dict[Use, str] = {"use": "use these", "also": "also", "never": "never"}


def shelf(
    request: Request, *, text: str = "", title: str = "", section: str = "", wrong: str = ""
) -> Response:
    """Show the book, the place to type, and the generator; what cannot be read stands there again."""
    studio = studio_of(request)
    entries, path = studio.book.all(), path_of(studio)
    sections: dict[str, list[tuple[object, str]]] = {}
    for entry, why in easy_first(entries):
        sections.setdefault(entry.section, []).append((entry, why))
    return page(
        request,
        "book.html",
        status=422 if wrong else 200,
        sections=sections,
        count=len(entries),
        typed=typed(text),
        text=text,
        title=title,
        section=section,
        wrong=wrong,
        said=said_here(request),
        marks={entry.id: mark_of(entry, path) for entry in entries},
        uses=USE_WORDS,
        stages=stage_names(studio),
    )


def mark(request: Request) -> Response:
    """Say what is wanted of an exercise where weeks are planned."""
    studio, texts = studio_of(request), texts_of(request)
    try:
        wanted = read_mark(texts.get("use", ""), texts.get("stages", ""), path_of(studio))
    except WrongOptions as error:
        return shelf(request, wrong=str(error))
    studio.book.mark(request.path_params["entry_id"], wanted)
    return go("/book", "Marked.")


def add(request: Request) -> Response:
    """Put one exercise, or those ticked, into the book."""
    form, studio = request.state.form, studio_of(request)
    texts = [str(each) for each in form.getlist("text") if str(each).strip()]
    title, section = str(form.get("title", "")).strip(), str(form.get("section", "")).strip()
    entries = studio.book.all()
    if len(entries) + len(texts) > LARGEST_BOOK:
        return shelf(
            request, text=texts[0] if texts else "", wrong=f"The book holds at most {LARGEST_BOOK} exercises."
        )
    if not texts:
        return shelf(request, title=title, section=section, wrong="Type an exercise first, or tick some.")
    for text in texts:
        read = typed(text)
        if read.wrong:
            return shelf(request, text=text, title=title, section=section, wrong=read.wrong)
    same = [found for text in texts if (found := same_as(text, entries))]
    for text in texts:
        studio.book.add(typed(text).text, title if len(texts) == 1 else "", section)
    said = f"{count(len(texts), 'exercise is', 'exercises are')} in the book."
    if same:
        said += f" One is the same as {same[0]}, begun on another note or with the hands swapped."
    return go("/book", said)


def remove(request: Request) -> Response:
    """Take an exercise out of the book."""
    studio_of(request).book.remove(request.path_params["entry_id"])
    return go("/book", "Removed from the book.")


def engrave(request: Request) -> Response:
    """Give the music of what is typed."""
    read = typed(str(request.state.form.get("text", "")), TYPED_PX)
    return page(request, "book_typed.html", typed=read)


def generate(request: Request) -> Response:
    """Generate exercises by what the form asks."""
    try:
        found = generated(dict(request.state.form))
    except EvenhandError as error:
        found = ShownExercises(str(error), ())
    return page(request, "book_found.html", found=found)


def cover(request: Request) -> Response:
    """Cut a list to the fewest that hold all its hand changes."""
    form = request.state.form
    changes = str(form.get("changes", "3"))
    try:
        found = covering([str(each) for each in form.getlist("text")], whole_number(changes) or 0)
    except EvenhandError as error:
        found = ShownExercises(str(error), ())
    return page(request, "book_found.html", found=found)


def print_all(request: Request) -> Response:
    """Print the book as PDF."""
    from evenhand.acts.exercises.print import print_book

    studio = studio_of(request)
    entries = studio.book.all()
    if not entries:
        raise NotFound(what="a book with exercises")
    paper: Paper = "letter" if request.query_params.get("paper") == "letter" else "a4"
    return pdf_answer(
        print_book(book_of(entries, studio.facts.name), title=studio.facts.name, paper=paper), "book"
    )


def as_text(request: Request) -> Response:
    """Give the book as plain text."""
    text = book_text(studio_of(request).book.all())
    return PlainTextResponse(text, headers={"Content-Disposition": 'attachment; filename="book.txt"'})


async def read_in_file(request: Request) -> Response:
    """Read a book's file into the book."""
    from starlette.concurrency import run_in_threadpool

    given = request.state.form.get("book")
    content = b"" if given is None or isinstance(given, str) else await given.read()
    return await run_in_threadpool(_read, request, content)


def _read(request: Request, content: bytes) -> Response:
    try:
        found = read_in(content.decode("utf-8-sig"), "book", LARGEST_BOOK)
    except UnicodeDecodeError:
        return shelf(
            request, wrong="That is not a text file. A book is a text file with one exercise a line."
        )
    except EvenhandError as error:
        return shelf(request, wrong=str(error))
    studio = studio_of(request)
    if len(studio.book.all()) + len(found) > LARGEST_BOOK:
        return shelf(request, wrong=f"The book holds at most {LARGEST_BOOK} exercises.")
    for each in found:
        studio.book.add(*each)
    return go(
        "/book",
        f"{count(len(found), 'exercise is', 'exercises are')} in the book.",
    )
