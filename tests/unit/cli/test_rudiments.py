"""The rudiments on the command line: a table, JSON, a book."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.acts.exercises.books import read_books
from evenhand.cli.main import run
from tests.histories import write_folder

Out = pytest.CaptureFixture[str]


def said(capsys: Out, *arguments: str, exit_code: int = 0) -> str:
    assert run(["exercises", "rudiments", *arguments]) == exit_code
    captured = capsys.readouterr()
    return captured.err if exit_code else captured.out


def test_the_table_has_a_line_for_each_of_the_forty(capsys: Out) -> None:
    lines = said(capsys).splitlines()
    (line,) = [line for line in lines if line.startswith("  16  Single paradiddle         1/16: >RLRR >LRLL")]
    assert line.endswith("1/8 = 45 · 86 · 164")  # its ladder
    assert len([line for line in lines if ": " in line]) == 40
    assert not any(line.endswith(" ") for line in lines)


def test_json_is_the_contract_and_nothing_else(capsys: Out) -> None:
    listed = json.loads(said(capsys, "--json", "-"))
    assert len(listed) == 40
    assert listed[0] == {
        "number": 1,
        "name": "Single stroke roll",
        "family": "roll",
        "exercise": "1/16: RLRL RLRL",
        "ladder": ["1/8 = 60", "1/8 = 98", "1/8 = 160"],
    }
    assert [
        sum(each["family"] == family for each in listed) for family in ("roll", "diddle", "flam", "drag")
    ] == [
        15,
        4,
        11,
        10,
    ]


def test_one_family_alone(capsys: Out) -> None:
    listed = json.loads(said(capsys, "--family", "diddle", "--json", "-"))
    assert [each["number"] for each in listed] == [16, 17, 18, 19]


def test_a_book_of_them_can_be_read_again(tmp_path: Path, capsys: Out) -> None:
    book = tmp_path / "book.txt"
    assert said(capsys, "--out", str(book)) == f"40 exercises are in {book}\n"
    assert len(read_books([book]).entries) == 40
    assert said(capsys, "--family", "drag", "--out", "-").startswith(
        "# Rudiments\n\n# Drag rudiments\n1/8: llR rrL"
    )


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--family", "ruff"], "--family"),
        (["--json", "-", "--out", "-"], "- as the place of two results"),
        (["--out", "no/such/place.txt"], "there is no such folder"),
    ],
)
def test_wrong_use_is_one_line(capsys: Out, arguments: list[str], message: str) -> None:
    line = said(capsys, *arguments, exit_code=2)
    assert message in line
    assert line.count("\n") == 1


def test_with_a_history_it_says_how_far_up_its_ladder_each_was_heard(tmp_path: Path, capsys: Out) -> None:
    """By hand: of the paradiddle's 45, 86 and 164, ten even repetitions at 100 reach the middle one."""
    even = {"repetitions": 10, "hand_ms": {"R": 2.0, "L": 2.0}, "tempo": "1/8=100"}
    folder = write_folder(tmp_path, [(0, even)], text="1/16: >RLRR >LRLL")
    listed = json.loads(said(capsys, "--history", str(folder), "--json", "-"))
    assert {each["name"]: each["heard"] for each in listed if each["heard"]} == {"Single paradiddle": 2}
    (line,) = [line for line in said(capsys, "--history", str(folder)).splitlines() if "heard" in line]
    assert line.endswith("1/8 = 45 · 86 · 164   middle heard")
