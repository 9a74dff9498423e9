"""Rows: what was heard, sorted into repetitions, breaks and the places of extra hits."""

from __future__ import annotations

import pytest

from evenhand.music.text import parse_exercise
from evenhand.report.take.folded import extra_x
from evenhand.report.take.rows import ExtraMark, rows_of
from evenhand.take import ExtraHit, Heard, Hit, MissedNote

RLRL = parse_exercise("1/8: RLRL")


def hit(time_s: float, repetition: int, position: int, stretch: int = 0, *, grace: bool = False) -> Hit:
    """Return a hit at its place."""
    hand = RLRL.notes[position].hand
    return Hit(time_s, -20.0, 0.9, hand, repetition, position, grace, None, 1.5, stretch)


def test_a_repetition_is_a_row() -> None:
    heard = Heard(hits=tuple(hit(0.2 * i, 1 + i // 4, i % 4) for i in range(8)), clock="smooth")
    rows = rows_of(heard, RLRL)
    assert [(row.repetition, len(row.marks), row.gap) for row in rows] == [(1, 4, None), (2, 4, None)]


def test_a_stop_inside_a_repetition_makes_two_rows_of_it() -> None:
    heard = Heard(hits=(hit(0, 1, 0), hit(0.2, 1, 1), hit(3.4, 1, 2, 1), hit(3.6, 1, 3, 1)))
    rows = rows_of(heard, RLRL)
    assert [row.repetition for row in rows] == [1, 1]
    assert rows[1].gap == "stopped 3.2 s"


def test_a_new_start_is_said() -> None:
    heard = Heard(hits=(hit(0, 1, 0), hit(0.2, 1, 1), hit(0.6, 2, 0), hit(0.8, 2, 1)))
    assert rows_of(heard, RLRL)[1].gap == "from the top"


def test_a_stop_and_a_new_start_are_said_together() -> None:
    heard = Heard(hits=(hit(0, 1, 0), hit(0.2, 1, 1), hit(20.2, 2, 0, 1)))
    assert rows_of(heard, RLRL)[1].gap == "stopped 20 s, from the top"


def test_a_note_lost_at_the_end_is_no_new_start() -> None:
    hits = (hit(0, 1, 0), hit(0.2, 1, 1), hit(0.4, 1, 2), hit(0.8, 2, 0))
    rows = rows_of(Heard(hits=hits, missed=(MissedNote(1, 3),)), RLRL)
    assert rows[0].missed == (MissedNote(1, 3),)
    assert rows[1].gap is None


def test_a_repetition_lost_as_a_whole_is_still_a_row() -> None:
    hits = (*(hit(0.2 * i, 1, i) for i in range(4)), hit(1.6, 3, 0))
    missed = tuple(MissedNote(2, i) for i in range(4))
    rows = rows_of(Heard(hits=hits, missed=missed), RLRL)
    assert [(row.repetition, len(row.missed)) for row in rows] == [(1, 0), (2, 4), (3, 0)]


@pytest.mark.parametrize(
    ("time_s", "row", "mark"),
    [
        (0.25, 0, ExtraMark(1, 2, 0.25)),  # a quarter of the way from 0.2 to 0.4
        (0.7, 0, ExtraMark(3, None, 0.5)),  # between the rows: with the row before
        (-0.3, 0, ExtraMark(None, 0, 0.5)),
        (9.9, 1, ExtraMark(3, None, 0.5)),
    ],
)
def test_an_extra_hit_is_placed_by_its_time(time_s: float, row: int, mark: ExtraMark) -> None:
    hits = tuple(hit(0.2 * i, 1 + i // 4, i % 4) for i in range(8))
    rows = rows_of(Heard(hits=hits, extra=(ExtraHit(time_s, -30.0),)), RLRL)
    (found,) = rows[row].extra
    assert (found.before, found.after) == (mark.before, mark.after)
    assert found.share == pytest.approx(mark.share)


def test_an_extra_hit_stands_between_its_columns_and_in_one_line_only() -> None:
    xs = {4: 100.0, 5: 160.0}
    assert extra_x(ExtraMark(4, 5, 0.5), xs, 200.0, 20.0) == pytest.approx(130.0)
    assert extra_x(ExtraMark(5, 6, 0.5), xs, 200.0, 20.0) == pytest.approx(180.0)  # up to the bar line
    assert extra_x(ExtraMark(3, 4, 0.5), xs, 200.0, 20.0) is None  # the line before has it


def test_a_grace_knows_how_far_it_is_ahead() -> None:
    flam = parse_exercise("1/8: lR")
    hits = (
        Hit(0.97, -30.0, 0.9, "L", 1, 0, grace=True),
        Hit(1.0, -20.0, 0.9, "R", 1, 0),
    )
    (row,) = rows_of(Heard(hits=hits), flam)
    assert row.graces[0].gap_ms == pytest.approx(30.0)


def test_timing_is_against_the_click_where_it_sounds() -> None:
    one = Hit(1.0, -20.0, 0.9, "R", 1, 0, asynchrony_ms=-20.0, deviation_ms=3.0)
    assert rows_of(Heard(hits=(one,), clock="click"), RLRL)[0].marks[0].late_ms == -20.0
    assert rows_of(Heard(hits=(one,), clock="smooth"), RLRL)[0].marks[0].late_ms == 3.0
