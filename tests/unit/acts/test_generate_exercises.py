"""Options are read or refused by name, and the JSON is the contract's."""

from __future__ import annotations

import json
from typing import Any

import pytest

from evenhand.acts.exercises.generate import Options, generate_exercises, meter_of, value_of
from evenhand.errors import BadTempo, WrongOptions
from evenhand.music.book import parse_book, print_book
from evenhand.music.text import print_exercise


def test_the_json_is_the_contract_s() -> None:
    written = json.loads(generate_exercises(Options(3, value="1/12", lead="R", longest_run=2)).json)
    assert written == {"count": 3, "exercises": ["1/12: RRL", "1/12: RLR", "1/12: RLL"]}


def test_a_list_that_was_cut_says_so_and_the_count_stays_exact() -> None:
    written = json.loads(generate_exercises(Options(8, limit=2)).json)
    assert written == {
        "count": 256, "exercises": ["1/16: RRRR RRRR", "1/16: RRRR RRRL"], "listed": 2, "of": 256,
    }  # fmt: skip


def test_where_there_are_none_it_says_why_and_the_count_is_nought() -> None:
    found = generate_exercises(Options(7, balanced=True))
    assert json.loads(found.json) == {"count": 0, "exercises": [], "why": found.why}
    assert "odd number" in str(found.why)


def test_sorted_they_stand_easy_to_hard_with_their_ranks() -> None:
    found = generate_exercises(Options(4, longest_run=3, sort="easy", up_to="rotation-swap", tempo="1/4=60"))
    assert found.texts == ("1/16: RLRL", "1/16: RRLL", "1/16: RRRL")
    assert (
        found.ranks[1]
        == "harder than the one before because the left hand plays 2 in a row at 4 strokes a second"
    )
    assert json.loads(found.json)["ranks"] == list(found.ranks)
    assert found.asked == (
        "4 notes, no run over 3; left out: the same from another note on, or with the hands swapped; "
        "easy to hard at 1/4 = 60"
    )


def test_the_book_reads_back_as_what_was_listed() -> None:
    found = generate_exercises(Options(6, meter="3/4", accents=1, limit=20))
    book = parse_book(found.book)
    assert tuple(print_exercise(entry.exercise) for entry in book.entries) == found.texts
    assert {entry.section for entry in book.entries} == {"6 notes, 1 accent"}
    assert print_book(book) == found.book


def test_what_was_asked_is_said() -> None:
    assert generate_exercises(Options(1)).asked == "1 note"
    said = generate_exercises(Options(6, lead="L", accent_on="1,4", up_to="swap")).asked
    assert said == "6 notes, the left hand leading, accents on 1,4; left out: the same with the hands swapped"
    assert generate_exercises(Options(6, accents=2)).asked == "6 notes, 2 accents"


def test_some_at_random_are_the_same_for_the_same_seed() -> None:
    one, same, other = (generate_exercises(Options(10, pick=20, seed=seed)).texts for seed in (1, 1, 2))
    assert one == same != other
    assert len(set(one)) == 20
    assert list(one) == sorted(one, key=lambda text: text.replace("R", "0").replace("L", "1"))
    assert generate_exercises(Options(2, pick=20)).count == 4
    shuffled = generate_exercises(Options(10, pick=20, seed=1, sort="random")).texts
    assert set(shuffled) == set(one)
    assert list(shuffled) != list(one)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"value": "2/16"}, "the value '2/16'; must be a note value in lowest terms"),
        ({"value": "R"}, "the value 'R'"),
        ({"meter": "4"}, "the meter '4'; must be a meter, such as 4/4 or 6/8"),
        ({"pairs": "4-2"}, "a number of pairs of '4-2'; must be a number, such as 4, 2-4 or 3"),
        ({"rights": "many"}, "a number of rights of 'many'"),
        ({"weak_share": "120"}, "a share of 120 %; must be 0 to 100 %"),
        (
            {"accents": 1, "accent_on": "1"},
            "both a number of accents and their places; must be one of the two",
        ),
        ({"accent_on": "1;5"}, "accents on '1;5'; must be notes from 1, commas between"),
        ({"accent_on": "0"}, "an accent on note 0 of 8; must be notes from 1 to 8"),
        ({"length": 22, "sort": "easy"}, "4,194,304 exercises to sort; must be at most 2,000,000"),
    ],
)
def test_options_that_make_no_sense_are_refused(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(WrongOptions, match=message):
        generate_exercises(Options(**{"length": 8, **changes}))


def test_a_tempo_that_is_none_is_refused_even_where_it_is_not_needed() -> None:
    with pytest.raises(BadTempo):
        generate_exercises(Options(4, tempo="fast"))


def test_values_and_meters_are_read_as_in_exercise_text() -> None:
    assert str(value_of(" 3/16: ")) == "3/16"
    assert meter_of(None) is None


def test_spans_are_read() -> None:
    """Of 4 notes with 2 to 3 rights there are 6 + 4; with 3 or more, 4 + 1; with half to all lefts, 11."""
    counts = [
        generate_exercises(Options(4, rights="2-3")).count,
        generate_exercises(Options(4, rights="3+")).count,
        generate_exercises(Options(4, rights="4")).count,
        generate_exercises(Options(4, weak_share="50-100%")).count,
        generate_exercises(Options(4, weak_share="50+", weak_hand="R")).count,
    ]
    assert counts == [10, 5, 1, 11, 11]
