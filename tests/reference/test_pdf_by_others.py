"""Printed pages as others read them.

Sources: pypdf reads the files; paper sizes are those of ISO 216 (A4: 210 x 297 mm) and ANSI Y14.1 (Letter:
8.5 x 11 in) at 72 pt an inch; what a tagged file must hold is ISO 14289-1 (PDF/UA-1), chapter 7; a QR code
is read by zxing-cpp, where it is installed.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader

from evenhand.acts.exercises.print import print_book
from evenhand.acts.exercises.rudiments import as_book, list_rudiments
from evenhand.acts.weeks.sheet import entries_of, print_sheet, sheet_of_exercises, sheet_of_plan
from evenhand.music.book import parse_book
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.report.print.lesson_sheet import LessonSheet, Practice, qr_picture
from evenhand.report.print.setting import Paper
from evenhand.report.words.figures import PRACTICE_CAUTION
from tests.unit.report.test_qr_picture import modules

LINK = "https://studio.example/p/9f3kd2"
TEXTS = ["1/16: RLRR LRLL # Paradiddle", "1/8: lR rL lR rL # Flams", "4/4 1/16: >RLRR >LRLL >RLRR >LRLL"]
MM = 72 / 25.4
SIZES: dict[Paper, tuple[float, float]] = {"a4": (210 * MM, 297 * MM), "letter": (8.5 * 72, 11 * 72)}


def a_sheet(count: int = 3, **head: Any) -> PdfReader:
    """Print a sheet of so many exercises and read it."""
    said = LessonSheet(**{"student": "Mira Anselm", "on": date(2026, 11, 30), "link": LINK, **head})
    practice = Practice(Tempo.parse("1/8=70"), "half", 4, 15, 5)
    entries = entries_of([TEXTS[index % 3] for index in range(count)])
    return PdfReader(io.BytesIO(print_sheet(sheet_of_exercises(entries, practice, said))))


def elements(reader: PdfReader) -> list[tuple[str, str]]:
    """List the tags in the order that a screen reader walks them, each with its alternative text."""
    root: Any = reader.trailer["/Root"]
    return list(_below(root["/StructTreeRoot"]))


def _below(node: Any) -> Iterator[tuple[str, str]]:
    node = node.get_object()
    if isinstance(node, list):
        for each in node:
            yield from _below(each)
    elif isinstance(node, dict):
        if "/S" in node:
            yield node["/S"], node.get("/Alt", "")
        if "/K" in node:
            yield from _below(node["/K"])


def fonts(node: Any, seen: set[int]) -> Iterator[Any]:
    """Find every font of a page's resources, also inside its drawings."""
    resources = node.get("/Resources", {}).get_object()
    yield from (font.get_object() for font in resources.get("/Font", {}).values())
    for each in resources.get("/XObject", {}).values():
        drawing = each.get_object()
        if id(drawing) not in seen:
            seen.add(id(drawing))
            yield from fonts(drawing, seen)


def text_of(reader: PdfReader) -> str:
    return "\n".join(page.extract_text() for page in reader.pages)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_page_has_the_papers_size(paper: Paper) -> None:
    sizes = [
        (float(page.mediabox.width), float(page.mediabox.height)) for page in a_sheet(24, paper=paper).pages
    ]
    assert len(sizes) > 1
    for size in sizes:
        assert size == pytest.approx(SIZES[paper], abs=0.01)


def test_the_text_is_there_in_the_order_it_is_read() -> None:
    text = text_of(a_sheet())
    order = [
        "This week’s practice",
        "Mira Anselm",
        "30 November 2026",
        "15 min a day",
        "= 70",
        "half strokes",
    ]
    order += ["6–9 in", "4 times in one go", "about 5 min each", "1 Paradiddle", "2 Flams"]
    order += [PRACTICE_CAUTION[:40], "From your teacher"]
    places = [text.index(words) for words in order]
    assert places == sorted(places)
    assert " ".join(text.split()).count(PRACTICE_CAUTION) == 1


def test_figures_keep_their_units_on_the_same_line() -> None:
    long = LessonSheet(title="Of 15 min a day, and more " * 6, student="Mira " * 40)
    practice = Practice(Tempo.parse("1/8=70"), "full", 20, 17, 7)
    sheet = sheet_of_exercises(entries_of(TEXTS), practice, long)
    lines = text_of(PdfReader(io.BytesIO(print_sheet(sheet)))).splitlines()
    for figure in ("10–12 in", "20 times in one go", "about 5½ min each", "17 min a day", "7 days"):
        assert any(figure in line for line in lines), figure


@pytest.mark.parametrize("kind", ["sheet", "book"])
def test_every_font_is_embedded(kind: str) -> None:
    book = PdfReader(io.BytesIO(print_book(parse_book("# One\n" + TEXTS[0]))))
    reader = a_sheet(student="Юлия Ελένη مريم") if kind == "sheet" else book
    found = [font for page in reader.pages for font in fonts(page, set())]
    assert len(found) >= 2
    for font in found:
        descendant = font["/DescendantFonts"][0].get_object()
        descriptor = descendant["/FontDescriptor"].get_object()
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & descriptor.keys()
        assert "/ToUnicode" in font


@pytest.mark.parametrize("kind", ["sheet", "book"])
def test_it_is_tagged_for_screen_readers(kind: str) -> None:
    reader = a_sheet() if kind == "sheet" else PdfReader(io.BytesIO(print_book(parse_book(TEXTS[0]))))
    root: Any = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712 - the reader's own kind of true
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712 - the same
    assert reader.metadata is not None
    assert reader.metadata.title
    assert b"<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data()
    assert [str(page.get("/Tabs")) for page in reader.pages if "/Annots" in page] == ["/S"]


def test_every_picture_has_its_words() -> None:
    figures = [alt for tag, alt in elements(a_sheet()) if tag == "/Figure"]
    assert f"QR code of the address {LINK}" in figures
    assert figures.count("eighth note") == 1
    assert "Sixteenth notes: R L R R L R L L. Repeated." in figures
    assert "Eighth notes: flam R, flam L, flam R, flam L. Repeated." in figures
    assert all(figures)


def test_headings_leave_no_level_out() -> None:
    text = "1/8: RL # a\n# One\n1/8: LR # b\n1/8: RR\n#\n1/8: LL # c"
    for reader in (a_sheet(), PdfReader(io.BytesIO(print_book(parse_book(text))))):
        levels = [int(tag[2:]) for tag, _ in elements(reader) if re.fullmatch(r"/H\d", tag)]
        assert levels[0] == 1
        assert all(after <= before + 1 for before, after in pairwise(levels))


def test_each_day_has_its_heading_and_is_read_as_a_whole() -> None:
    item = PracticeItem(parse_exercise("1/8: RLRR"), Tempo.parse("1/4=60"), 8, 120, "half", 15, "One")
    days = PracticePlan((PracticeDay((item, replace(item, title="Two"))),) * 2, starts=date(2026, 11, 30))
    reader = PdfReader(io.BytesIO(print_sheet(sheet_of_plan(days, LessonSheet()))))
    assert [tag for tag, _ in elements(reader)].count(
        "/H2"
    ) == 2 + 1 + 1  # days, the exercise, the teacher's words
    text = text_of(reader)
    assert text.index("Mon 30") < text.index("= 60") < text.index("Thu 3")


def test_a_date_is_the_only_time_in_the_file() -> None:
    sheet: Any = a_sheet().metadata
    assert [str(sheet[when]) for when in ("/CreationDate", "/ModDate")] == ["D:20261130000000Z"] * 2
    book: Any = PdfReader(io.BytesIO(print_book(parse_book(TEXTS[0])))).metadata
    assert not {"/CreationDate", "/ModDate"} & book.keys()


def test_pages_of_many_are_counted() -> None:
    reader = a_sheet(24)
    many = len(reader.pages)
    assert 2 <= many <= 3
    for number, page in enumerate(reader.pages, start=1):
        assert page.extract_text().splitlines()[-1].endswith(f"{number} of {many}")


@pytest.mark.parametrize("count", [1, 2, 6])
def test_up_to_six_exercises_are_one_page(count: int) -> None:
    assert len(a_sheet(count).pages) == 1


def test_a_plan_shows_each_exercise_once_and_each_day() -> None:
    slow = PracticeItem(parse_exercise("1/8: RLRR"), Tempo.parse("1/4=60"), 8, 120, "half", 15, "One")
    fast = PracticeItem(parse_exercise("1/8: RLRR"), Tempo.parse("1/4=66"), 8, 90, "tap")
    plan = PracticePlan((PracticeDay((slow,)), PracticeDay((fast,))), "Mira Anselm", date(2026, 11, 30))
    text = text_of(PdfReader(io.BytesIO(print_sheet(sheet_of_plan(plan, LessonSheet())))))
    for words in ("Mon 30", "Thu 3", "= 60", "= 66", "half strokes, 6–9 in", "taps, 3–5 in", "1½ min"):
        assert words in text
    assert text.count("8 times") == 2


def test_forty_rudiments_are_a_book_with_contents_outline_and_running_heads() -> None:
    reader = PdfReader(io.BytesIO(print_book(as_book(list_rudiments()), edition="right")))
    texts = [page.extract_text() for page in reader.pages]
    assert "Rudiments" in texts[0]
    assert "Right-handed edition" in texts[0]
    assert "How to practise" in texts[1]
    assert "see a clinician" in texts[1]
    assert all("rudiments" in text for text in texts[3:])  # a section's opening, or its running head
    outline: Any = reader.outline
    sections = [entry for entry in outline if not isinstance(entry, list)]
    titles = [each for entry in outline if isinstance(entry, list) for each in entry]
    assert (len(sections), len(titles)) == (4, 40)
    pages: Any = [reader.get_destination_page_number(each) for each in titles]
    assert all(4 <= many <= 8 for many in Counter(pages).values())
    for each, page in zip(titles, pages, strict=True):
        assert re.search(rf"^{re.escape(each.title)} [. ]*{page + 1}$", texts[2], re.MULTILINE)
        assert each.title in texts[page]


def test_a_qr_code_is_read_by_another_reader() -> None:
    zxing = pytest.importorskip("zxingcpp", reason="zxing-cpp reads QR codes; it is not installed")
    dark = np.array([[letter == "#" for letter in row] for row in modules(qr_picture(LINK))])
    picture = np.where(np.pad(dark, 4), 0, 255).astype(np.uint8)
    assert [code.text for code in zxing.read_barcodes(np.kron(picture, np.ones((4, 4), np.uint8)))] == [LINK]
