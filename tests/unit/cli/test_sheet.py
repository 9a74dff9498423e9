"""``evenhand sheet`` on the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from evenhand.cli.main import run

Out = pytest.CaptureFixture[str]
PLAIN = ("--exercise", "1/16: RLRR LRLL # Paradiddle", "--date", "2026-11-30")
WEEK = {
    "student": "Mira Anselm",
    "starts": "2026-11-30",
    "days": [
        {
            "items": [
                {"exercise": "1/8: RLRR", "tempo": "1/8=70", "repetitions": 8, "seconds": 60, "title": "One"}
            ]
        }
    ],
}


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "week.json").write_text(json.dumps(WEEK))
    (tmp_path / "book.txt").write_text("1/8: RL RL # Singles\n1/8: RR LL # Doubles\n")
    return tmp_path


def sheet(*arguments: str, exit_code: int = 0) -> None:
    assert run(["sheet", *arguments, "--out", "sheet.pdf"]) == exit_code


def text() -> str:
    return "\n".join(page.extract_text() for page in PdfReader("sheet.pdf").pages)


def test_a_sheet_of_exercises_says_all_that_was_asked_for(capsys: Out) -> None:
    what = ("--tempo", "1/8=70", "--stroke", "half", "--unit", "cm")
    how_long = ("--repetitions", "4", "--minutes", "15", "--days", "3")
    head = ("--student", "Mira Anselm", "--title", "Week one", "--words", "Slowly.")
    sheet(*PLAIN, *what, *how_long, *head)
    said = text()
    for words in ("Week one", "Mira Anselm", "30 November 2026", "15 min a day", "3 days", "1 Paradiddle"):
        assert words in said
    for words in ("= 70", "half strokes", "15–23 cm", "4 times in one go", "about 15 min a day", "Slowly."):
        assert words in said
    assert capsys.readouterr().out == "  1 exercise is on the sheet in sheet.pdf\n"


def test_a_sheet_of_a_book_has_its_titles(capsys: Out) -> None:
    sheet("--book", "book.txt")
    assert "1 Singles" in text()
    assert "2 Doubles" in text()
    assert capsys.readouterr().out == "  2 exercises are on the sheet in sheet.pdf\n"


def test_a_sheet_of_a_plan_has_its_days() -> None:
    sheet("--plan", "week.json")
    for words in (
        "Mira Anselm",
        "30 November 2026",
        "1 min a day",
        "1 One",
        "8 times",
        "Mon 30",
    ):
        assert words in text()


def test_the_same_arguments_give_the_same_bytes() -> None:
    sheet(*PLAIN, "--link", "https://studio.example/p/9f3kd2")
    first = Path("sheet.pdf").read_bytes()
    sheet(*PLAIN, "--link", "https://studio.example/p/9f3kd2")
    assert Path("sheet.pdf").read_bytes() == first


def test_letter_paper_is_letter() -> None:
    sheet(*PLAIN, "--paper", "letter")
    assert [float(side) for side in PdfReader("sheet.pdf").pages[0].mediabox[2:]] == [612, 792]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "got no exercises; must be one of --exercise, --book and --plan."),
        (
            ("--exercise", "1/8: RL", "--plan", "week.json"),
            "got --exercise and --plan; must be one of --exercise, --book and --plan.",
        ),
        (
            ("--plan", "week.json", "--tempo", "1/8=70"),
            "got a plan and what to do beside it; must be --plan alone: it says tempo, stroke, repetitions,",
        ),
        (("--exercise", "1/8: RQ"), "exercise, column 7: found 'Q'; must be R, L, a grace (lR), > - |"),
        (("--exercise", "1/8: RL", "--tempo", "70"), "tempo: got '70'; must be a note value and beats"),
        (
            ("--exercise", "1/8: RL", "--date", "30.11.2026"),
            "got the date '30.11.2026'; must be a day such as",
        ),
        (
            ("--exercise", "1/8: RL", "--link", "mira"),
            "got the link 'mira'; must be an address such as https:",
        ),
        (("--book", "week.json"), "week.json, line 1, column 2: got '\"'; must be"),
    ],
)
def test_what_does_not_go_together_is_said_on_one_line(
    arguments: tuple[str, ...], said: str, capsys: Out
) -> None:
    sheet(*arguments, exit_code=2)
    assert said in capsys.readouterr().err
    assert not Path("sheet.pdf").exists()


def test_a_plan_that_cannot_be_read_is_named_by_day_and_item(folder: Path, capsys: Out) -> None:
    (folder / "bad.json").write_text(json.dumps(WEEK).replace("RLRR", "RXRR"))
    sheet("--plan", "bad.json", exit_code=2)
    assert (
        "bad.json, day 1, item 1, exercise, at its character 7: got 'X'; must be" in capsys.readouterr().err
    )


def test_a_letter_that_no_font_has_is_named(capsys: Out) -> None:
    sheet(*PLAIN, "--student", "Mira \u0378", exit_code=2)
    assert "printing: no font here holds" in capsys.readouterr().err


def test_a_place_that_cannot_be_written_is_refused_before_the_work(capsys: Out) -> None:
    assert run(["sheet", *PLAIN, "--out", "nowhere/sheet.pdf"]) == 2
    assert "there is no such folder" in capsys.readouterr().err


def test_what_was_typed_is_never_markup() -> None:
    """Each would stop the setter, or change the page, if it were read as its language."""
    typed = '#panic("x") *b* _i_ $x$ = h @r <l> // c \\ ` [ ]'
    sheet("--exercise", f"1/8: RL # {typed}", "--student", typed, "--title", typed, "--words", typed)
    assert text().replace("\n", " ").count(typed) >= 4
