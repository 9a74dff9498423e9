"""The fewest of a list, easy to hard, and how far the first few go."""

from __future__ import annotations

import json

import pytest

from evenhand.acts.exercises.choose import Covered, cover_list
from evenhand.errors import WrongOptions
from evenhand.music.book import parse_book
from evenhand.music.exercise import Tempo
from evenhand.music.text import print_exercise

# RRRL LRLL... : a de Bruijn cycle RRRLRLLL holds all 8 hand changes of three notes (de Bruijn 1946).
LIST = """\
1/16: RLRL RLRL  # Singles
1/16: LRLR LRLR  # Singles, left first
1/16: RRLL RRLL  # Doubles
1/16: RLRR LRLL  # Paradiddle
1/16: RRRR RRRR
1/16: LLLL LLLL
"""


def covered(text: str = LIST, changes: int = 3, *, show_shares: bool = False) -> Covered:
    return cover_list(parse_book(text), changes, Tempo.parse("1/4=90"), show_shares=show_shares)


def test_the_fewest_come_easy_to_hard_with_their_titles() -> None:
    """By hand: the paradiddle holds all that singles and doubles do; RRR and LLL are in one exercise each."""
    found = covered()
    assert [(e.title, print_exercise(e.exercise)) for e in found.chosen] == [
        ("Paradiddle", "1/16: RLRR LRLL"),
        ("", "1/16: RRRR RRRR"),
        ("", "1/16: LLLL LLLL"),
    ]
    assert (found.covered, found.of, found.optimal, found.bound) == (8, 8, True, 3)


def test_one_de_bruijn_cycle_does_the_work_of_all() -> None:
    found = covered(LIST + "1/16: RRRL RLLL\n")
    assert [print_exercise(entry.exercise) for entry in found.chosen] == ["1/16: RRRL RLLL"]


def test_the_json_is_the_contract_s() -> None:
    written = json.loads(covered().json)
    assert {key: written[key] for key in ("chosen", "covered", "of", "optimal")} == {
        "chosen": ["1/16: RLRR LRLL", "1/16: RRRR RRRR", "1/16: LLLL LLLL"],
        "covered": 8,
        "of": 8,
        "optimal": True,
    }
    assert (written["bound"], written["listed"], written["titles"][0]) == (3, 6, "Paradiddle")
    assert "shares" not in written


def test_the_shares_count_what_the_first_few_hold() -> None:
    """By hand, of 8: singles 2, the same again 2, doubles 6, the paradiddle adds none, RRR 7, LLL 8."""
    found = covered(show_shares=True)
    assert found.shares is not None
    assert found.shares.first == (2, 2, 6, 6, 7, 8)
    assert found.shares.greedy == (6, 7, 8)
    assert found.shares.best == (6, 7, 8)
    assert found.shares.proven == (True, True, True)
    assert found.shares.easiest[-1] == 8
    assert json.loads(found.json)["shares"]["first"] == [2, 2, 6, 6, 7, 8]


def test_the_book_reads_back() -> None:
    book = parse_book(covered().book)
    assert [entry.section for entry in book.entries] == ["3 of 6, with all hand changes of 3 notes"] * 3
    assert book.entries[0].title == "Paradiddle"


def test_a_list_of_rests_has_nothing_to_choose() -> None:
    found = covered("1/8: R-L-\n")
    assert (found.chosen, found.of, found.optimal) == ((), 0, True)


def test_no_time_to_choose_in_is_refused() -> None:
    with pytest.raises(WrongOptions, match="0 s to choose in; must be a time above 0"):
        cover_list(parse_book(LIST), 3, Tempo.parse("1/4=90"), time_limit_s=0.0)


MIXED = """\
1/16: RLRR LRLL  # Plain
1/16: >RLRR >LRLL  # Accented
1/16: lRLRR rLRLL  # Flams
1/32: RRLL 1/8: >R 1/32: LLRR 1/8: >L  # Roll
1/8: LRLR LRLR  # Left first
"""


def test_what_else_the_list_has_is_said_and_held_where_asked() -> None:
    """By hand: the plain paradiddle holds all two-note changes, but no accent, flam, roll or lead."""
    book = parse_book(MIXED)
    plain = cover_list(book, 2, Tempo.parse("1/4=60"))
    beside = {name: (n, of) for name, n, of in plain.beside}
    assert [entry.title for entry in plain.chosen] == ["Plain"]
    assert beside == {"accents": (0, 6), "ornaments": (0, 2), "rolls": (0, 2), "lead": (0, 1)}
    assert json.loads(plain.json)["beside"]["rolls"] == {"covered": 0, "of": 2}
    with_all = cover_list(book, 2, Tempo.parse("1/4=60"), hold=("accents", "ornaments", "rolls", "lead"))
    assert all(n == of for _, n, of in with_all.beside)
    assert {"Flams", "Roll", "Left first"} <= {entry.title for entry in with_all.chosen}
    assert (with_all.covered, with_all.of, with_all.optimal) == (plain.covered, plain.of, True)
    with pytest.raises(WrongOptions, match="got --hold loud; must be one of accents, ornaments"):
        cover_list(book, 2, Tempo.parse("1/4=60"), hold=("loud",))
