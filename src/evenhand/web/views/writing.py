"""Into the book: exercises written, drawn while they are written, generated, cut to the fewest, read in."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.requests import Request
from starlette.responses import Response

from evenhand.errors import EvenhandError
from evenhand.report.words.figures import count
from evenhand.studio.arranged import BookPlace, place_of, put_at
from evenhand.studio.book import (
    TYPED_PX,
    ShownExercises,
    covering,
    generated,
    same_as,
    typed,
)
from evenhand.studio.played import SPEEDS, USUAL_SPEED
from evenhand.studio.shelves import A_PAGE, drawn
from evenhand.studio.store.studio import Studio
from evenhand.studio.typed import whole_number
from evenhand.studio.values import BookEntry
from evenhand.web.pages import go, page, said_here
from evenhand.web.requests import studio_of, texts_of
from evenhand.web.signs import SIGNS

NARROWEST_PX, ROUND_IT_PX = 260.0, 24.0  # of music; its margins
LARGEST_BOOK, LONGEST_TITLE = 2000, 120


def blank(request: Request) -> Response:
    """Show the place to write, empty or with an exercise of the library to be changed."""
    asked = request.query_params
    return _desk(request, {name: asked.get(name, "") for name in ("exercise", "title", "section")})


def entry(request: Request) -> Response:
    """Show an exercise of the book to be changed."""
    there = studio_of(request).book.get(request.path_params["entry_id"])
    fields = {"exercise": there.text, "title": there.title, "section": there.section}
    place = place_of(studio_of(request).book.all(), there.id)
    return _desk(request, fields, entry_id=there.id, place=place)


def save(request: Request) -> Response:
    """Keep an exercise of the book as it was changed; what cannot be read comes back as it was typed."""
    texts, entry_id = texts_of(request), request.path_params["entry_id"]
    fields = {
        "exercise": texts.get("text", ""),
        "title": _line(texts, "title"),
        "section": _line(texts, "section"),
    }
    read = typed(fields["exercise"])
    if read.wrong or not read.text:
        return _desk(request, fields, wrong=read.wrong or "Write an exercise first.", entry_id=entry_id)
    shelf = studio_of(request).book
    was = shelf.get(entry_id)
    shelf.edit(entry_id, text=read.text, title=fields["title"], section=fields["section"])
    number = whole_number(texts.get("number", ""), 4)
    there = place_of(shelf.all(), entry_id).number
    if number not in {None, there} and was.section == fields["section"]:  # the number was of that section
        shelf.change("moved", lambda all_: put_at(all_, entry_id, number or 1), about=was.title or was.text)
    return go_to(studio_of(request), entry_id, "Kept.")


def go_to(studio: Studio, entry_id: str, said: str, *, at: str = "e") -> Response:
    """Go to where an exercise of the book stands; ``at`` says which part of its card."""
    number = place_of(studio.book.all(), entry_id).at // A_PAGE + 1
    return go(f"/book?page={number}" if number > 1 else "/book", said, at=f"{at}-{entry_id}")


def _line(texts: Mapping[str, str], name: str) -> str:
    """Return a field on one line."""
    return " ".join(texts.get(name, "").split())[:LONGEST_TITLE]


def _desk(
    request: Request,
    fields: Mapping[str, str],
    *,
    wrong: str = "",
    entry_id: str = "",
    place: BookPlace | None = None,
) -> Response:
    """Show the place to write, with what was written."""
    text = fields.get("exercise", "")
    entries = studio_of(request).book.all()
    return page(
        request,
        "book_write.html",
        status=422 if wrong else 200,
        typed=typed(text),
        text=text,
        title=fields.get("title", ""),
        section=fields.get("section", ""),
        sections=list(dict.fromkeys(entry.section for entry in entries if entry.section)),
        entry_id=entry_id,
        place=place,
        signs=SIGNS,
        speeds=tuple(SPEEDS),
        usual_speed=USUAL_SPEED,
        wrong=wrong,
        said=said_here(request),
    )


def add(request: Request) -> Response:
    """Put one exercise, or those ticked, into the book."""
    form, studio = request.state.form, studio_of(request)
    texts = [str(each) for each in form.getlist("text") if str(each).strip()]
    title, section = (_line(texts_of(request), name) for name in ("title", "section"))
    fields = {"exercise": texts[0] if texts else "", "title": title, "section": section}
    entries = studio.book.all()
    if len(entries) + len(texts) > LARGEST_BOOK:
        return _desk(request, fields, wrong=f"The book holds at most {LARGEST_BOOK} exercises.")
    if not texts:
        return _desk(request, fields, wrong="Write an exercise first, or tick some.")
    for text in texts:
        read = typed(text)
        if read.wrong:
            return _desk(request, fields | {"exercise": text}, wrong=read.wrong)
    same = [found for text in texts if (found := same_as(text, entries))]
    title = title if len(texts) == 1 else ""
    added = studio.book.add_all([BookEntry("", typed(text).text, title, section) for text in texts])
    said = f"{count(len(texts), 'exercise is', 'exercises are')} in the book."
    if same:
        said += f" One is the same as {same[0]}, begun on another note or with the hands swapped."
    return go_to(studio, added[0].id, said)


def engrave(request: Request) -> Response:
    """Give the music of what is typed."""
    texts = texts_of(request)
    room_px = whole_number(texts.get("width", ""), 4) or TYPED_PX
    read = typed(texts.get("text", ""), min(max(room_px - ROUND_IT_PX, NARROWEST_PX), TYPED_PX))
    return page(request, "book_typed.html", typed=read)


def generate(request: Request) -> Response:
    """Generate exercises by what the form asks."""
    try:
        found = generated(dict(request.state.form))
    except EvenhandError as error:
        found = ShownExercises(str(error), ())
    return _found(request, found)


def cover(request: Request) -> Response:
    """Cut a list to the fewest that hold all its hand changes."""
    form = request.state.form
    changes = str(form.get("changes", "3"))
    try:
        found = covering([str(each) for each in form.getlist("text")], whole_number(changes) or 0)
    except EvenhandError as error:
        found = ShownExercises(str(error), ())
    return _found(request, found)


def _found(request: Request, found: ShownExercises) -> Response:
    lines = {text: drawn(text) for text, _ in found.exercises}
    return page(request, "book_found.html", found=found, lines=lines)
