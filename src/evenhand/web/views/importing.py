"""Into the book from a file: a preview of what was understood, and then what is wanted of it."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.requests import Request
from starlette.responses import Response

from evenhand.acts.exercises.convert import ImportOptions, bars_from, grids_from
from evenhand.errors import EvenhandError
from evenhand.music.formats.hands import HandsWhereNone
from evenhand.music.text import print_exercise
from evenhand.report.words.figures import count
from evenhand.studio.imported import Understood, chosen, understood
from evenhand.studio.shelves import drawn
from evenhand.studio.typed import whole_number
from evenhand.web.pages import go, page
from evenhand.web.requests import studio_of, texts_of
from evenhand.web.views.writing import LARGEST_BOOK, go_to

DRAWN_AT_ONCE = 36
HANDS: Mapping[HandsWhereNone, str] = {
    "refuse": "do not read it, and say so",
    "alternate": "put in each hand in turn",
    "right": "put in the right hand",
    "doubles": "put in each hand twice",
    "lead": "put in the right hand on the beat, and on every second place of it",
}
ON_A_PAGE = (  # what the terminal calls its options
    ("or say --hands alternate, doubles, lead or right", "or choose below what is put in"),
    ("Say which are the hands' with --right-note and --left-note", "Say below which note is which hand's"),
    ("with --part", "below"),
    ("with --bars", "below"),
)


def blank(request: Request) -> Response:
    """Ask for a file, or for text."""
    return _desk(request)


def _desk(
    request: Request, *, found: Understood | None = None, wrong: str = "", pasted: str = ""
) -> Response:
    texts = texts_of(request)
    return page(
        request,
        "book_import.html",
        status=422 if wrong else 200,
        found=found,
        cards=_cards(request, found) if found else (),
        wrong=wrong,
        pasted=pasted,
        drawn_at_once=DRAWN_AT_ONCE,
        hands=HANDS,
        asked={
            name: texts.get(name, "") for name in ("hands", "part", "bars", "grid", "right_note", "left_note")
        },
        section=texts.get("section", "")
        or (found.name.rpartition(".")[0] if found and found.form == "score" else ""),
    )


def _cards(request: Request, found: Understood) -> list[dict[str, object]]:
    """Gather what stands on each exercise's card; those further down are drawn when they are come to."""
    there = {entry.text for entry in studio_of(request).book.all()}
    cards: list[dict[str, object]] = []
    for number, each in enumerate(found.entries):
        text = print_exercise(each.exercise)
        lines = drawn(text) if number < DRAWN_AT_ONCE else ()
        cards.append({"entry": each, "text": text, "lines": lines, "there": text in there})
    return cards


def preview(request: Request) -> Response:
    """Show what was understood of a file or of what was pasted; nothing is kept."""
    texts, given = texts_of(request), request.state.form.get("file")
    pasted = texts.get("pasted", "")
    content, name = pasted.encode("utf-8", "replace"), "what you pasted"
    if given is not None and not isinstance(given, str) and given.size:
        content, name = given.file.read(), given.filename or "the file"
    if not content.strip():
        return _desk(request, wrong="Choose a file, or paste text.")
    try:
        found = understood(content, name, _options(texts), most=LARGEST_BOOK)
    except EvenhandError as error:
        return _desk(request, wrong=_said(str(error)), pasted=pasted)
    return _desk(request, found=found, pasted=pasted)


def _options(texts: Mapping[str, str]) -> ImportOptions:
    hands: HandsWhereNone = next((each for each in HANDS if each == texts.get("hands")), "refuse")
    right, left = (whole_number(texts.get(name, ""), 3) for name in ("right_note", "left_note"))
    bars = texts.get("bars", "").strip()
    grid = texts.get("grid", "").strip()
    return ImportOptions(
        texts.get("part", "").strip() or None,
        hands,
        right,
        left,
        bars_from(bars) if bars else None,
        grids_from(grid) if grid else (),
    )


def _said(message: str) -> str:
    """Say for a page what is said in the terminal."""
    for option, words in ON_A_PAGE:
        message = message.replace(option, words)
    return message


def keep(request: Request) -> Response:
    """Put those that are ticked into the book."""
    form, texts = request.state.form, texts_of(request)
    ticked = [number for each in form.getlist("keep") if (number := whole_number(str(each))) is not None]
    section = " ".join(texts.get("section", "").split())
    try:
        wanted = chosen(texts.get("book", ""), ticked, section, most=LARGEST_BOOK)
    except EvenhandError as error:
        return _desk(request, wrong=str(error))
    studio = studio_of(request)
    if not wanted:
        return go("/book", "Nothing was ticked, and nothing was kept.")
    if len(studio.book.all()) + len(wanted) > LARGEST_BOOK:
        return _desk(request, wrong=f"The book holds at most {LARGEST_BOOK} exercises.")
    added = studio.book.add_all(wanted)
    return go_to(studio, added[0].id, f"{count(len(wanted), 'exercise is', 'exercises are')} in the book.")
