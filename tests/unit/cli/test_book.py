"""The teacher's books on the command line: listed, the same found, sorted, written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.acts.exercises.books import read_books
from evenhand.cli.main import run

Out = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "books").mkdir()
    (tmp_path / "books" / "a.txt").write_text("# Paradiddles\n1/16: RLRR LRLL  # Paradiddle\n1/16: RL\n")
    (tmp_path / "books" / "b.txt").write_text("1/16: RLLR LRRL  # Inverted\n")
    return tmp_path


def said(capsys: Out, *arguments: str, exit_code: int = 0) -> str:
    assert run(["exercises", "book", *arguments]) == exit_code
    captured = capsys.readouterr()
    return captured.err if exit_code else captured.out


def test_books_are_listed_under_their_sections_and_counted(capsys: Out) -> None:
    lines = said(capsys, "books").splitlines()
    assert lines[1:4] == [
        "     Paradiddles",
        "  1  Paradiddle   1/16: RLRR LRLL",
        "  2               1/16: RL",
    ]
    assert lines[-1] == (
        "  3 exercises from 2 files; 1 is the same as an earlier one"
        " (--same lists them, --without-same drops them)"
    )


def test_the_same_are_listed_with_file_and_line(capsys: Out) -> None:
    lines = said(capsys, "books", "--same").splitlines()
    first, other = Path("books/a.txt"), Path("books/b.txt")
    assert lines[0] == f"  1/16: RLRR LRLL  Paradiddle  {first}, line 2"
    assert (
        lines[1]
        == f"  1/16: RLLR LRRL  Inverted    {other}, line 1  the hands swapped, and begun 1 note later"
    )


def test_up_to_nothing_no_two_are_the_same(capsys: Out) -> None:
    assert "3 exercises from 2 files, no two of them the same" in said(capsys, "books", "--up-to", "none")


def test_one_book_is_written_without_those_that_are_the_same(shelf: Path, capsys: Out) -> None:
    text = said(capsys, "books", "--without-same", "--sort", "notes", "--out", "all.txt")
    assert text == "  2 exercises from 2 files in all.txt; 1 dropped that was the same as an earlier one\n"
    assert (shelf / "all.txt").read_text() == "# Paradiddles\n1/16: RL\n1/16: RLRR LRLL  # Paradiddle\n"


def test_a_book_can_be_written_over_itself(shelf: Path, capsys: Out) -> None:
    said(capsys, "books/a.txt", "--sort", "notes", "--out", "books/a.txt")
    assert [len(entry.exercise.notes) for entry in read_books([shelf / "books" / "a.txt"]).entries] == [2, 8]


def test_json_on_stdout_is_json_alone(capsys: Out) -> None:
    written = json.loads(said(capsys, "books", "--same", "--json", "-"))
    assert (written["count"], len(written["same"])) == (3, 1)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "Missing argument 'BOOK...'"),
        (["gone.txt"], "gone.txt: got no such file"),
        (["books", "--sort", "colour"], "--sort"),
        (["books", "--json", "-", "--out", "-"], "the place of two results"),
        (["books", "--out", "no/such/place.txt"], "there is no such folder"),
    ],
)
def test_wrong_use_is_one_line(capsys: Out, arguments: list[str], message: str) -> None:
    line = said(capsys, *arguments, exit_code=2)
    assert message in line
    assert line.count("\n") == 1


def test_a_title_stands_above_the_list_and_the_count_below_alone_where_no_two_are_the_same(
    shelf: Path, capsys: Out
) -> None:
    (shelf / "winter.txt").write_text("# Winter\n# Singles\n1/8: RL  # Even\n")
    assert said(capsys, "winter.txt").splitlines() == [
        "",
        "  Winter",
        "",
        "     Singles",
        "  1  Even     1/8: RL",
        "",
        "  1 exercise from 1 file",
    ]
