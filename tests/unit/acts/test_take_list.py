"""A list of takes is read row by row, and what is wrong is named by row and column."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenhand.acts.takes.many import ListedTake, read_list
from evenhand.errors import BadList


def read(text: str) -> tuple[ListedTake, ...]:
    return read_list(text, name="week.csv", folder=Path("takes"))


def test_rows_are_read_relative_to_the_list() -> None:
    first, second = read("file,exercise,tempo\na.wav,1/8: RLRR LRLL,1/8=140\nmay/b.m4a,,\n")
    assert first.path == Path("takes/a.wav")
    assert first.request.exercise_text == "1/8: RLRR LRLL"
    assert first.request.click == "auto"
    assert (second.row, second.path, second.stem) == (3, Path("takes/may/b.m4a"), "b")
    assert second.request.blind


def test_columns_may_stand_in_any_order_and_click_is_read() -> None:
    (take,) = read("click,tempo,file,exercise\nnone,1/8=70,a.wav,1/8: RL\n")
    assert take.request.click == "none"


@pytest.mark.parametrize(
    "text",
    [
        "\ufefffile,exercise,tempo\r\na.wav,1/8: RL,1/8=70\r\n",
        "file;exercise;tempo\na.wav;1/8: RL;1/8=70\n",
        'File, Exercise ,TEMPO\n\n"a.wav","1/8: RL","1/8=70"\n\n',
    ],
)
def test_what_spreadsheets_write_is_read(text: str) -> None:
    """Byte order marks, semicolons, spaces, empty lines and quotes."""
    (take,) = read(text)
    assert (take.path.name, take.request.exercise_text) == ("a.wav", "1/8: RL")


def test_takes_of_one_stem_are_told_apart() -> None:
    takes = read("file,exercise,tempo\nx/a.wav,,\ny/A.wav,,\nz/a.mp3,,\na-2.wav,,\nb.wav,,\n")
    stems = [take.stem for take in takes]
    assert stems == ["a", "A-3", "a-4", "a-2", "b"]
    assert len({stem.casefold() for stem in stems}) == len(stems)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", r"week\.csv, row 1: got the columns none; must be file,exercise,tempo"),
        ("file,tempo\na,b\n", r"row 1: got the columns file, tempo; must be"),
        ('"file\n\nx",tempo\n', r"row 1: got the columns file x, tempo; must be"),
        ("file,exercise,tempo,note\n", r"row 1: got the column 'note'; must be"),
        ("file,file,exercise,tempo\n", r"row 1: got the column 'file' 2 times; must be"),
        ("file,exercise,tempo\n", r"got no takes; must be a heading and at least one row"),
        ("file,exercise,tempo\n,1/8: RL,1/8=70\n", r"row 2, column file: got nothing"),
        ("file,exercise,tempo\na.wav,1/8: RL,\n", r"row 2, column tempo: got an exercise without a tempo"),
        ("file,exercise,tempo\na.wav,,1/8=70\n", r"row 2, column tempo: got a tempo without an exercise"),
        ("file,exercise,tempo\na.wav,1/8: RL,70\n", r"row 2, column tempo: got '70'; must be"),
        (
            "file,exercise,tempo\na.wav,,\nb.wav,1/8: RX,1/8=70\n",
            r"row 3, column exercise, at its character 7: got",
        ),
        ("file,exercise,tempo,click\na.wav,,,loud\n", r"row 2, column click: got click 'loud'; must be auto"),
        ("file,exercise,tempo\na.wav,,,,x\n", r"row 2: got 5 cells; must be 3"),
        ('file,exercise,tempo\n"a.wav,,\n', r"row 2: got .*; must be comma-separated values"),
    ],
)
def test_what_is_wrong_is_named_by_row_and_column(text: str, message: str) -> None:
    with pytest.raises(BadList, match=message):
        read(text)
