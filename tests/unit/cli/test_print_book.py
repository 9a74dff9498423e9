"""``evenhand exercises print`` on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest
from pypdf import PdfReader

from evenhand.cli.main import run

Out = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "book.txt").write_text("# First steps\n1/8: RL RL # Singles\n# Then\n1/8: RR LL # Doubles\n")
    return tmp_path


def test_a_book_is_printed_with_its_sections_and_titles(capsys: Out) -> None:
    assert run(["exercises", "print", "book.txt", "--out", "book.pdf", "--title", "My book"]) == 0
    text = PdfReader("book.pdf").pages[0].extract_text()
    order = [text.index(words) for words in ("My book", "2 exercises", "First steps", "Then")]
    assert order == sorted(order)
    assert text.count("1 Singles") == text.count("2 Doubles") == 2  # in the contents and over the music
    assert capsys.readouterr().out == "  2 exercises are in book.pdf\n"


def test_the_same_book_gives_the_same_bytes() -> None:
    for name in ("a.pdf", "b.pdf"):
        assert run(["exercises", "print", "book.txt", "--out", name, "--paper", "letter"]) == 0
    assert Path("a.pdf").read_bytes() == Path("b.pdf").read_bytes()


def test_a_book_that_cannot_be_read_is_refused_by_its_line(folder: Path, capsys: Out) -> None:
    (folder / "bad.txt").write_text("1/8: RL\n1/8: RQ\n")
    assert run(["exercises", "print", "bad.txt", "--out", "bad.pdf"]) == 2
    assert "bad.txt, line 2, column 7: got 'Q'; must be" in capsys.readouterr().err
    assert not Path("bad.pdf").exists()
