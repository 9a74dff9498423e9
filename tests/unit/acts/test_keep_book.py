"""Books are read from files and folders, and what cannot be read is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenhand.acts.exercises.books import read_books, read_shelf
from evenhand.errors import BadBook


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "week 10.txt").write_text("1/8: LLRR  # ten\n")
    (tmp_path / "week 2.TXT").write_text("# Two\n\n1/8: RLRR  # two\n1/8: RL\n")
    (tmp_path / ".hidden.txt").write_text("no exercise")
    (tmp_path / "notes.md").write_text("no exercise")
    (tmp_path / "old.txt").mkdir()
    return tmp_path


def titles(*paths: Path) -> list[str]:
    return [entry.title for entry in read_books(paths).entries]


def test_a_folder_is_its_text_files_in_the_order_people_give_them(folder: Path) -> None:
    assert titles(folder) == ["two", "", "ten"]


def test_files_are_read_in_the_order_given_and_each_once(folder: Path) -> None:
    assert titles(folder / "week 10.txt", folder / "week 2.TXT") == ["ten", "two", ""]
    assert titles(folder / "week 10.txt", folder, folder / ".." / folder.name) == ["ten", "two", ""]


def test_each_entry_keeps_its_place(folder: Path) -> None:
    assert [str(placed) for placed in read_shelf([folder]).placed] == [
        f"{folder / 'week 2.TXT'}, line 3",
        f"{folder / 'week 2.TXT'}, line 4",
        f"{folder / 'week 10.txt'}, line 1",
    ]


def test_a_title_is_kept_where_there_is_one(tmp_path: Path) -> None:
    for name, title in (("a", "Winter"), ("b", ""), ("c", "Summer")):
        heading = f"# {title}\n# Singles\n" if title else ""
        (tmp_path / f"{name}.txt").write_text(f"{heading}1/8: RL\n")
    a, b, c = (tmp_path / f"{name}.txt" for name in "abc")
    assert read_books([a, b]).title == "Winter"
    assert read_books([a, c]).title == ""
    assert read_books([b]).title == ""


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"1/8: RX", "book.txt, line 1, column 7: got 'X'"),
        (b"", "book.txt: got no exercises; must be one exercise a line"),
        (
            b"1/8: RL\n1/8: LR # \xfcben\n",
            "book.txt, line 2: got a letter that is not UTF-8; must be saved as UTF-8",
        ),
        ("1/8: RL".encode("utf-16"), "book.txt: got UTF-16 text; must be saved as UTF-8 text"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "book.txt: got bytes that are not text; must be a text file"),
    ],
)
def test_what_cannot_be_read_is_named(tmp_path: Path, data: bytes, message: str) -> None:
    path = tmp_path / "book.txt"
    path.write_bytes(data)
    with pytest.raises(BadBook, match=message):
        read_books([path])


def test_a_place_without_books_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadBook, match=r"got a folder with no \*\.txt in it; must be a text file"):
        read_books([tmp_path])
    with pytest.raises(BadBook, match=r"gone\.txt: got no such file; must be a text file"):
        read_books([tmp_path / "gone.txt"])
    with pytest.raises(BadBook, match="null byte"):
        read_books([tmp_path / "a\0b.txt"])


def test_a_file_too_large_to_be_a_book_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("evenhand.acts.exercises.books.LARGEST_BYTES", 2**20)
    path = tmp_path / "book.txt"
    path.write_bytes(b"1/8: RL\n" * 2**17 + b"\n")
    with pytest.raises(BadBook, match="got more than 1 MB"):
        read_books([path])
