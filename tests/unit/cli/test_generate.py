"""``evenhand exercises generate``: what is said, what is written, and how it ends."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.cli.main import run
from evenhand.report.words.figures import EXERCISES_CAUTION


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[str, str]:
    assert run(["exercises", "generate", *arguments]) == 0
    captured = capsys.readouterr()
    return captured.out, captured.err


@pytest.mark.parametrize(
    ("arguments", "count"),
    [
        ("--length 8 --value 1/16", 256),
        ("--length 8 --value 1/16 --up-to rotation", 36),
        ("--length 8 --value 1/16 --up-to rotation-reversal", 30),
        ("--length 8 --value 1/16 --up-to rotation-swap", 20),
        ("--length 8 --value 1/16 --balanced", 70),
        ("--length 8 --value 1/16 --balanced --up-to rotation", 10),
        ("--length 8 --value 1/16 --longest-run 2", 68),
        ("--length 8 --value 1/16 --longest-run 3 --up-to none", 162),
        ("--length 8 --longest-run 2 --around", 46),
        ("--length 8 --longest-run 2 --balanced", 34),
    ],
)
def test_the_contract_s_counts(arguments: str, count: int, capsys: pytest.CaptureFixture[str]) -> None:
    """Published sequences, as in tests/reference/test_sequences_published.py."""
    out, err = said(capsys, *arguments.split(), "--json", "-")
    written = json.loads(out)
    assert (written["count"], len(written["exercises"]), err) == (count, count, "")
    assert set(written) == {"count", "exercises"}


def test_in_a_terminal_some_are_shown_and_the_rest_counted(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = said(capsys, "--length", "8", "--longest-run", "2")
    lines = out.splitlines()
    assert lines[0] == "68 exercises of 8 notes, no run over 2"
    assert lines[1] == "  1/16: RRLR RLRR"
    assert lines[-2:] == ["", EXERCISES_CAUTION]
    assert len(lines[1:-3]) == 40
    assert lines[-3] == "  and 28 more: --out BOOK.txt or --json FILE has all"


def test_easy_to_hard_each_says_why(capsys: pytest.CaptureFixture[str]) -> None:
    out, _ = said(
        capsys, "--length", "4", "--balanced", "--up-to", "rotation", "--sort", "easy", "--tempo", "1/4=60"
    )
    first = "the easiest of these: no hand plays two in a row, and the left hand plays 2 strokes a second"
    second = "harder than the one before because the left hand plays 2 in a row at 4 strokes a second"
    assert out.splitlines() == [
        (
            "2 exercises of 4 notes, as many rights as lefts; left out: the same from another note on; "
            "easy to hard at 1/4 = 60"
        ),
        f"  1/16: RLRL   {first}",
        f"  1/16: RRLL   {second}",
        "",
        EXERCISES_CAUTION,
    ]


def test_where_there_are_none_it_says_why_and_ends_well(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    book = tmp_path / "none.txt"
    arguments = ["--length", "8", "--longest-run", "1", "--rights", "6", "--out", str(book)]
    out, err = said(capsys, *arguments, "--json", "-")
    written = json.loads(out)
    assert (written["count"], written["exercises"]) == (0, [])
    assert err == f"evenhand: {written['why']}\n"
    assert err.startswith("evenhand: With 8 notes, no run over 1 and 6 rights do not go together.")
    assert not book.exists()
    assert said(capsys, *arguments) == ("", err)


def test_a_book_is_written_and_read_again(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    book = tmp_path / "page.txt"
    out, _ = said(capsys, "--length", "8", "--up-to", "rotation", "--limit", "5", "--out", str(book))
    listed = "36 exercises of 8 notes; left out: the same from another note on, 5 of them listed"
    assert out == f"{listed}; in {book}\n\n{EXERCISES_CAUTION}\n"
    assert book.read_text("utf-8").splitlines()[:2] == [
        "# 8 notes; left out: the same from another note on",
        "1/16: RRRR RRRR",
    ]
    assert run(["exercises", "cover", str(book), "--changes", "2", "--json", "-"]) == 0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ("--length 25", "a length of 25 notes; must be 1 to 24 notes"),
        ("--length 8 --longest-run 0", "--longest-run"),
        ("--length 8 --up-to reversal", "--up-to"),
        ("--length 8 --value 1/7x", "the value '1/7x'"),
        ("--length 8 --out no/such/place.txt", "there is no such folder"),
        ("", "--length"),
    ],
)
def test_nonsense_ends_with_2(arguments: str, message: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["exercises", "generate", *arguments.split()]) == 2
    captured = capsys.readouterr()
    assert message in captured.err
    assert captured.out == ""
