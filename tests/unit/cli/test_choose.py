"""``evenhand exercises choose``: what is said, what is written, and how it ends."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.acts.takes.document import json_text
from evenhand.cli.main import run
from evenhand.report.words.exercises import NOT_WEIGHED
from evenhand.report.words.figures import EXERCISES_CAUTION
from tests.builders import a_blind_take, a_heard_take


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a book, two heard takes (left hand softer, its second notes weaker) and a blind one."""
    (tmp_path / "book.txt").write_text(
        "1/16: RLRL RLRL  # Singles\n1/16: RRLL RRLL  # Doubles\n1/16: RLLL RLLL\n", encoding="utf-8"
    )
    for name, take in (("a", a_heard_take()), ("b", a_heard_take()), ("c", a_blind_take())):
        (tmp_path / f"{name}.json").write_text(json_text(take), encoding="utf-8")
    return tmp_path


def paths(folder: Path, *names: str) -> list[str]:
    return [str(folder / name) for name in names]


def test_takes_are_given_as_a_shell_lists_them(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """``--takes heard/*.json`` comes as the option, one file, and then more files."""
    book, *takes = paths(folder, "book.txt", "a.json", "b.json", "c.json")
    assert run(["exercises", "choose", book, "--takes", *takes]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "c.json was heard without an exercise: nothing is known of its hands.",
        "Only 2 exercises of the book work on what was weak.",
        "  1/16: RRLL RRLL  Doubles",
        "      doubles with the left hand, to hear their second notes, which were weak in 2 of 2 takes",
        "  1/16: RLLL RLLL",
        "      the left hand has more to do than the other; it was softer in 2 of 2 takes",
        "",
        NOT_WEIGHED,
        EXERCISES_CAUTION,
    ]


def test_as_json_and_as_a_book(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book, take, out = paths(folder, "book.txt", "a.json", "chosen.txt")
    assert (
        run(["exercises", "choose", book, "--takes", take, "--count", "1", "--json", "-", "--out", out]) == 0
    )
    written = json.loads(capsys.readouterr().out)
    assert [each["exercise"] for each in written["chosen"]] == ["1/16: RLLL RLLL"]  # 3.5 dB against 2.6
    assert {(each["need"], each["hand"]) for each in written["weaknesses"]} == {
        ("hand", "L"),
        ("second_notes", "L"),
    }
    assert Path(out).read_text("utf-8") == "1/16: RLLL RLLL\n"


def test_a_folder_of_takes_will_do(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["exercises", "choose", *paths(folder, "book.txt"), "--takes", str(folder)]) == 0
    assert "in 2 of 2 takes" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["book.txt"], "no takes; must be one or more, such as --takes heard/*.json"),
        (["book.txt", "--takes", "book.txt"], "a file that is not JSON"),
        (["book.txt", "--takes", "gone.json"], "gone.json"),
        (["book.txt", "--takes", "a.json", "--count", "0"], "--count"),
    ],
)
def test_nonsense_ends_with_2(
    folder: Path,
    arguments: list[str],
    message: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(folder)
    assert run(["exercises", "choose", *arguments]) == 2
    assert message in capsys.readouterr().err
