"""Laws of the report: whatever is played, the page is whole and each stick stays in its column."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from evenhand.measuring.values import HeardTake
from evenhand.music.exercise import Exercise, Tempo
from evenhand.report.plots.marks import TICK_PX, place, tick_path
from evenhand.report.plots.markup import esc, px
from evenhand.report.take.layout import column_room
from evenhand.report.take.report import report_page
from evenhand.report.take.rows import plain_axis, rows_of
from evenhand.take import Heard, Hit
from tests.depth import share
from tests.strategies import exercises
from tests.unit.measuring.takes import LATE, Played, heard_in, measures_of
from tests.unit.pages.reading import Page, blocks, column_xs, drawings, sticks

rooms = st.floats(5, 40)
lateness = st.floats(-400, 400)
levels = st.floats(-90, 0)


@st.composite
def played(draw: st.DrawFn) -> HeardTake:
    """Draw a take of any exercise, hits as early, late, loud and lost as they like."""
    exercise = draw(exercises())
    repetitions = draw(st.integers(1, 4))
    hits = [
        replace(
            Hit(2.0 + repetition * 4 + 0.01 * position, draw(levels), 0.9, exercise.notes[position].hand),
            repetition=repetition,
            position=position,
            deviation_ms=draw(lateness),
            written=float(exercise.starts[position]),
        )
        for repetition in range(1, repetitions + 1)
        for position in exercise.struck
        if draw(st.integers(0, 9))
    ]
    heard = Heard(hits=tuple(hits), clock="smooth", tempo_bpm=100.0)
    return _take(exercise, heard)


def _take(exercise: Exercise, heard: Heard) -> HeardTake:
    tempo = Tempo.parse("1/4 = 100")
    measures = measures_of(heard, exercise, tempo) if heard.hits else None
    return replace(LATE, exercise=exercise, tempo=tempo, heard=heard, measures=measures, findings=())


@given(played())
@share(0.25)
def test_any_take_has_a_whole_page(take: HeardTake) -> None:
    page = report_page(take, None, None)
    read = Page(page)
    assert len(read.ids) == len(set(read.ids))
    assert "nan" not in read.text
    assert sum(1 for _ in drawings(page)) >= 1 or not take.heard.hits


@given(played())
@share(0.25)
def test_no_stick_leaves_its_column(take: HeardTake) -> None:
    exercise = take.exercise
    assert exercise is not None
    page = report_page(take, None, None)
    half = column_room(plain_axis(exercise, 1000.0), exercise, 200.0).half_px
    for block in blocks(page):
        xs = column_xs(block)
        for _, x, _, width, _ in sticks(block, graces=True):
            assert any(at - half - 0.11 <= x and x + width <= at + half + 0.11 for at in xs)


@given(rooms, st.floats(-1e4, 1e4), st.floats(0, 1))
def test_a_place_is_kept_in_order_and_told_when_moved(room: float, offset: float, share: float) -> None:
    half_x = share * 0.45 * room
    at, side = place(0.0, offset, room_px=room, half_x=half_x)
    assert abs(at) + half_x <= room
    assert at == offset if side == 0 else abs(at) < abs(offset)
    assert side in {-1, 0, 1}
    assert side * offset >= 0


@given(rooms, st.sampled_from((-1, 1)))
def test_a_tick_stays_in_its_column(room: float, side: int) -> None:
    x = float(tick_path(0.0, 0.0, side, room)[1:].split(" ", maxsplit=1)[0])
    assert abs(x) <= room
    assert abs(x) + TICK_PX <= room + 0.05 or room < 2 * TICK_PX + 1


@given(st.text())
def test_escaped_text_opens_nothing(text: str) -> None:
    safe = esc(text)
    assert not set("<>\"'") & set(safe)
    safe.encode("utf-8")


@given(st.floats(-1e5, 1e5))
def test_a_written_length_is_within_a_twentieth(value: float) -> None:
    assert abs(float(px(value)) - value) <= 0.0501
    assert px(value) != "-0"


@given(st.integers(1, 70), st.integers(0, 3))
@share(0.15)
def test_rows_hold_every_hit_once(repetitions: int, begins_at: int) -> None:
    take = Played(text="1/8: RLRL", tempo="1/8 = 300", repetitions=repetitions, begins_at=begins_at)
    heard = heard_in(take)
    assert LATE.exercise is not None
    rows = rows_of(heard, LATE.exercise)
    assert sum(len(row.marks) for row in rows) == len(heard.hits)
    assert len(rows) == repetitions
