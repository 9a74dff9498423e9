"""``evenhand exercises cover``: what is said, what is written, and how it ends."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.cli.main import run
from evenhand.report.words.figures import EXERCISES_CAUTION


@pytest.fixture
def page(tmp_path: Path) -> Path:
    """Give a page on which a de Bruijn cycle (RRRL RLLL, order 3) holds all that the rest holds."""
    path = tmp_path / "page.txt"
    path.write_text("1/16: RLRL RLRL\n1/16: RRLL RRLL\n1/16: RRRL RLLL  # All\n", encoding="utf-8")
    return path


def test_the_choice_is_said_with_its_proof(page: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["exercises", "cover", str(page), "--changes", "3"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "1 of 3 holds all 8 hand changes of 3 notes; no fewer do.",
        "  1/16: RRRL RLLL  All   the left hand plays 3 in a row at 6 strokes a second",
        "",
        EXERCISES_CAUTION,
    ]


def test_the_json_is_the_contract_s(page: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["exercises", "cover", str(page), "--changes", "3", "--json", "-"]) == 0
    written = json.loads(capsys.readouterr().out)
    assert {key: written[key] for key in ("chosen", "covered", "of", "optimal")} == {
        "chosen": ["1/16: RRRL RLLL"],
        "covered": 8,
        "of": 8,
        "optimal": True,
    }


def test_shares_are_shown_until_all_hold_all(page: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: singles hold 2, doubles 4 more; sorted they stand the same; the cycle alone holds 8."""
    assert run(["exercises", "cover", str(page), "--changes", "3", "--show-shares"]) == 0
    assert capsys.readouterr().out.splitlines()[3:] == [
        "  hand changes held, of 8:",
        "  exercises   first  easiest  one by one    best",
        "          1       2        2           8      8",
        "          2       6        6           8      8",
        "          3       8        8           8      8",
        "",
        EXERCISES_CAUTION,
    ]


def test_what_is_not_proven_is_marked(capsys: pytest.CaptureFixture[str]) -> None:
    from evenhand.acts.exercises.choose import Shares
    from evenhand.cli.exercises.choose import _say_shares

    _say_shares(Shares((3,), (2,), (4, 5), (4,), (False,)), of=6)
    assert capsys.readouterr().out.splitlines()[3:] == [
        "          1       3        2           4      4+",
        "  + not proven: there may be a better choice of so many",
    ]


def test_a_bound_is_said_where_there_is_no_proof() -> None:
    from evenhand.acts.exercises.choose import Covered
    from evenhand.cli.exercises.choose import _headline
    from evenhand.music.book import parse_book

    chosen = parse_book("1/16: RL\n1/16: RRL\n1/16: RLL").entries
    said = _headline(Covered(chosen, ("", "", ""), changes=4, covered=9, of=9, listed=30, bound=2))
    assert said == "3 of 30 hold all 9 hand changes of 4 notes; fewer might do, but not fewer than 2."


def test_the_chosen_go_into_a_book(page: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book = tmp_path / "short.txt"
    assert run(["exercises", "cover", str(page), "--changes", "2", "--out", str(book)]) == 0
    assert "hold" in capsys.readouterr().out
    assert book.read_text("utf-8").splitlines()[-1] == "1/16: RRLL RRLL"


def test_nothing_to_choose_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "rests.txt").write_text("1/8: R-L-\n", encoding="utf-8")
    assert run(["exercises", "cover", str(tmp_path / "rests.txt"), "--changes", "2"]) == 0
    assert capsys.readouterr().out.startswith("No exercise of the list has 2 notes in a row without a rest")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--changes", "1"], "hand changes of 1 notes; must be 2 to 16 notes"),
        (["--changes", "3", "--time-limit", "-1"], "-1 s to choose in; must be a time above 0"),
        (["--changes", "3", "--tempo", "fast"], "tempo: got 'fast'"),
        ([], "--changes"),
    ],
)
def test_nonsense_ends_with_2(
    page: Path, arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["exercises", "cover", str(page), *arguments]) == 2
    assert message in capsys.readouterr().err


def test_a_list_that_is_none_is_refused_with_its_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "odd.txt").write_text("1/16: RLRX\n", encoding="utf-8")
    assert run(["exercises", "cover", str(tmp_path / "odd.txt"), "--changes", "3"]) == 2
    assert "odd.txt, line 1, column 10: got 'X'" in capsys.readouterr().err
