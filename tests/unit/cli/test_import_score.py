"""``evenhand exercises import``: what comes in, where it goes, and what is said."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.cli.main import run
from evenhand.music.book import parse_book
from tests.media_files import a_midi, end, note_on
from tests.score_files import a_note, a_score, attributes, notes, packed

SINGLE, PARADIDDLE = (
    a_score(attributes() + notes(letters, 4, "quarter"), title=title)
    for letters, title in (("RLRL", "Single"), ("RLRR", "Paradiddle"))
)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a folder with two scores, a file without hands and one without music, and go there."""
    monkeypatch.chdir(tmp_path)
    Path("single.musicxml").write_bytes(SINGLE)
    Path("paradiddle.mxl").write_bytes(packed({"score.xml": PARADIDDLE}))
    Path("plain.musicxml").write_bytes(a_score(attributes() + a_note(8, "half") * 2))
    Path("pad.mid").write_bytes(a_midi(note_on(0, 38) + note_on(240, 40) + note_on(240, 38) + end(240)))
    Path("words.musicxml").write_text("Once upon a time\n", encoding="utf-8")
    Path("list.txt").write_text("# Warm up\n1. rlrr lrll\n2) 1/16: RRLL # Doubles\nRLXX\n", encoding="utf-8")
    return tmp_path


@pytest.mark.usefixtures("here")
def test_exercises_are_printed_as_a_book(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["exercises", "import", "single.musicxml"]) == 0
    said = capsys.readouterr()
    assert said.out == "4/4 1/4: RLRL  # Single\n"
    assert said.err == ""


@pytest.mark.usefixtures("here")
def test_several_files_are_sections_of_one_book(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["exercises", "import", "single.musicxml", "paradiddle.mxl", "--out", "book.txt"]) == 0
    assert capsys.readouterr().out == "2 exercises in book.txt\n"
    book = parse_book(Path("book.txt").read_text("utf-8"))
    assert [(entry.section, entry.title) for entry in book.entries] == [
        ("single", "Single"),
        ("paradiddle", "Paradiddle"),
    ]


@pytest.mark.usefixtures("here")
def test_json_alone_on_stdout(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["pad.mid", "--right-note", "38", "--left-note", "40", "--json", "-"]
    assert run(["exercises", "import", *arguments]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    assert json.loads(said.out) == {
        "schema": "urn:evenhand:imported-1",
        "files": [
            {
                "file": "pad.mid",
                "tempo": None,
                "exercises": [{"title": "", "exercise": "1/8: RLR", "hands_proposed": 0}],
                "warnings": [],
            }
        ],
    }


@pytest.mark.usefixtures("here")
def test_warnings_go_to_stderr_and_name_the_file(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["exercises", "import", "plain.musicxml", "--hands", "alternate"]) == 0
    said = capsys.readouterr()
    assert said.out == "4/4 1/2: RL  # (hands proposed)\n"
    assert said.err == (
        "evenhand: plain.musicxml: 2 of 2 notes had no hand: "
        "each the other hand than the note before was put in.\n"
    )


@pytest.mark.usefixtures("here")
def test_a_plain_list_comes_in_and_what_was_assumed_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["exercises", "import", "list.txt"]) == 0
    said = capsys.readouterr()
    assert said.out == "# Warm up\n1/8: RLRR LRLL  # 1\n1/16: RRLL  # Doubles\n"
    told = [line.removeprefix("evenhand: list.txt: ") for line in said.err.splitlines()]
    assert told[:3] == [
        "numbers before lines became titles (line 2, line 3).",
        "small letters without capitals were taken as notes (line 2).",
        "no note value: eighths were taken (line 2).",
    ]
    assert told[3].startswith("list.txt, line 4, column 3: got 'X'")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["gone.mid"], "gone.mid: there is no such file"),
        (
            ["words.musicxml"],
            "words.musicxml: text in which no line is an exercise (words.musicxml, line 1, column 1",
        ),
        (["plain.musicxml"], "2 of 2 notes have no hand, the first in measure 1"),
        (["single.musicxml", "words.musicxml", "--out", "book.txt"], "words.musicxml: text"),
        (["single.musicxml", "--bars", "9"], "none of the bars that were asked for"),
        (["single.musicxml", "--bars", "4-2"], "bars 4 to 2"),
        (["single.musicxml", "--bars", "x"], "bars 'x'"),
        (["single.musicxml", "--part", "Bass"], "no part 'Bass' in it"),
        (["pad.mid", "--right-note", "60", "--left-note", "61"], "none of the MIDI notes 60, 61 in it"),
        (["pad.mid", "--right-note", "38", "--left-note", "38"], "note 38 for both hands"),
        (["pad.mid", "--right-note", "200"], "MIDI note 200"),
        (["single.musicxml", "--out", "a", "--json", "a"], "a as the place of two results"),
        (["single.musicxml", "--out", "no/such/a.txt"], "there is no such folder"),
        ([], "Missing argument 'FILE...'"),
    ],
)
def test_wrong_use_ends_with_2_in_one_line_and_writes_nothing(
    arguments: list[str], message: str, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = sorted(here.iterdir())
    assert run(["exercises", "import", *arguments]) == 2
    said = capsys.readouterr()
    assert message in said.err
    assert said.err.count("\n") == 1
    assert said.out == ""
    assert sorted(here.iterdir()) == before


def test_what_was_exported_comes_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    exercise = "4/4 1/16: >RLRR lRLRR 1/12: RLR RLR | 1/8: R~L- llR 1/4: LR"
    score, midi = str(tmp_path / "a.musicxml"), str(tmp_path / "a.mid")
    wishes = ["--tempo", "1/4=90", "--repeat", "4", "--musicxml", score, "--midi", midi]
    assert run(["export", "--exercise", exercise, *wishes]) == 0
    for file in (score, midi):
        capsys.readouterr()
        assert run(["exercises", "import", file]) == 0
        assert capsys.readouterr().out == f"{exercise}\n"
