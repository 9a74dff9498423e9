"""Into the book from a file: what was understood is shown, what was not is named, what is ticked is kept."""

from __future__ import annotations

import html
import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from evenhand.acts.exercises.convert import ExportOptions, export_exercise
from evenhand.music.text import parse_exercise
from evenhand.studio.values import BookEntry
from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE
from evenhand.web.serving import TEACHER_STAYS, WebSettings
from tests.score_files import a_score, attributes, notes
from tests.studios import a_studio

PARADIDDLE = "4/4 1/16: >RLRR LRLL RLRR LRLL"


class Desk:
    """A teacher who is logged in."""

    def __init__(self, client: TestClient, csrf: str) -> None:
        self.client, self.csrf = client, csrf

    @property
    def book(self) -> list[BookEntry]:
        """The book's exercises."""
        found: list[BookEntry] = self.client.app.state.school.front.book.all()  # type: ignore[attr-defined]
        return found

    def bring(self, content: bytes = b"", name: str = "in.txt", **fields: str) -> str:
        """Ask for a preview of a file."""
        files = {"file": (name, content)} if content else None
        answer = self.client.post("/book/import", data={"csrf": self.csrf, **fields}, files=files)
        assert answer.status_code in {200, 422}
        return html.unescape(answer.text)

    def keep(self, shown: str, *ticked: int, section: str = "") -> str:
        """Send the preview's form with some of its ticks."""
        (book,) = re.findall(r'name="book" value="([^"]*)"', shown)
        data = {"csrf": self.csrf, "book": book, "keep": [str(each) for each in ticked], "section": section}
        return self.client.post("/book/import/keep", data=data).text


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    studio = a_studio(tmp_path)
    secret, session = studio.access.begin("teacher", lasts=TEACHER_STAYS)
    studio.close()
    app = create_app(WebSettings(tmp_path / "studio"), hears=False)
    with TestClient(app, headers={"origin": "http://testserver"}, cookies={COOKIE: secret}) as client:
        yield Desk(client, session.csrf)


def test_of_text_each_line_is_drawn_or_named_and_nothing_is_kept_yet(desk: Desk) -> None:
    text = b"# Mine\n1/8: RLRR LRLL  # Paradiddle [use]\n1/8: RXLL\n\n1/8: RRLL\n1/8: RL 1/16: \n"
    shown = desk.bring(text, "winter.txt")
    assert "2 exercises in winter.txt" in shown
    assert shown.count("<svg") == 2
    assert "winter.txt, line 3, column 7: got 'X'" in shown
    assert "winter.txt, line 6" in shown
    assert desk.book == []
    assert "1 exercise is in the book." in desk.keep(shown, 0)
    (kept,) = desk.book
    assert (kept.text, kept.title, kept.section, kept.mark) == (
        "1/8: RLRR LRLL",
        "Paradiddle",
        "Mine",
        "[use]",
    )


@pytest.mark.parametrize(("form", "name"), [("musicxml", "snare.musicxml"), ("midi", "snare.mid")])
def test_a_score_is_understood_as_it_was_written(desk: Desk, form: str, name: str) -> None:
    options = ExportOptions(title="Snare")
    content = export_exercise(parse_exercise(PARADIDDLE), form, options)  # type: ignore[arg-type]
    shown = desk.bring(content, name)
    assert "1 exercise in " in shown
    assert PARADIDDLE in shown
    desk.keep(shown, 0, section="From a score")
    assert [(each.text, each.section) for each in desk.book] == [(PARADIDDLE, "From a score")]
    assert "In the book already." in desk.bring(content, name)


def test_a_score_without_hands_says_so_in_the_page_s_words_and_is_read_as_asked(desk: Desk) -> None:
    bare = a_score(attributes() + notes("RLRLRLRLRLRLRLRL").replace("<text>R</text>", "<text>la</text>"))
    refused = desk.bring(bare, "bare.xml")
    assert "8 of 16 notes have no hand, the first in measure 1" in refused
    assert "choose below what is put in" in refused
    assert "--" not in refused.partition("<main")[2]
    taken = desk.bring(bare, "bare.xml", hands="right")
    assert "8 of 16 notes had no hand: the right hand was put in" in taken
    assert "4/4 1/16: RLRL RLRL RLRL RLRL" in taken
    assert "(hands proposed)" in taken
    assert "none of the bars that were asked for" in desk.bring(bare, "bare.xml", hands="right", bars="7-9")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\x89PNG\r\n\x1a\n\xff", "a picture (PNG). Notes are not read off pages"),
        (b"%PDF-1.7", "a PDF. Notes are not read off pages"),
        (b"\xff\x80\x81", "neither text in UTF-8 nor a score"),
        (b"X: 1\nT: A tune\nK: C\nCDEF|\n", "ABC is not read"),
        (b"PK\x03\x04 and then nothing", "damaged or cut off"),
        (b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "defines entities"),
        (b"# only a heading\n", "no exercises"),
        (b"1/8: RL\n" * 2001, "more than 2,000 exercises"),
    ],
)
def test_what_cannot_be_brought_in_is_said(desk: Desk, content: bytes, said: str) -> None:
    assert said in desk.bring(content, "../../etc/passwd\0.txt")
    assert desk.book == []


def test_what_a_score_had_to_leave_out_is_named_with_its_bar(desk: Desk) -> None:
    grace = "<note><grace/><unpitched/><voice>1</voice></note>"
    score = a_score(attributes() + notes("RLRR" * 4), notes("LRLL" * 4) + grace)
    assert "graces that no note follows were left out (measure 2)" in desk.bring(score, "late.xml")


def test_nothing_and_pasted_text(desk: Desk) -> None:
    assert "Choose a file, or paste text." in desk.bring()
    shown = desk.bring(pasted="rlrr lrll")
    assert "1 exercise in what you pasted" in shown
    assert "no note value: eighths were taken (line 1)" in shown
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.xml", b" " * (33 << 20))
    assert "larger than 32 MB" in desk.bring(packed.getvalue(), "bomb.mxl")


def test_a_long_list_is_drawn_as_far_as_it_is_seen_and_kept_whole(desk: Desk) -> None:
    shown = desk.bring(b"1/8: RLRR\n1/8: RRLL\n" * 50)
    assert (shown.count("<svg"), shown.count('hx-trigger="revealed"')) == (36, 64)
    assert "Nothing was ticked" in desk.keep(shown)
    desk.keep(shown, *range(100))
    assert len(desk.book) == 100
