"""The hard exercises, drawn: no ink on ink, beams by the beat, lines as wide as the page; and planted faults.

The rules stand in ``drawings.py``, with where they come from. ``snapshots.txt`` is what was drawn when all
were looked at one by one: a snapshot, made by ``python -m tests.gallery.book``. It says that nothing changed,
not that it is right.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from unittest.mock import patch

import pytest

from evenhand.music.engraving import extents, ink
from evenhand.music.text import parse_exercise
from tests.gallery.book import PAGE, SNAPSHOTS, hard_exercises, page_of, snapshot
from tests.gallery.drawings import Drawing, Shape, drawn, faults_of, shapes_of, uneven, unlike

PHONE = {"width": 336.0}


@pytest.mark.parametrize("asked", [PAGE, PHONE], ids=["page", "phone"])
def test_no_drawing_has_a_fault(asked: dict[str, object]) -> None:
    wrong = {}
    for entry in hard_exercises():
        drawings = page_of(entry)[1] if asked is PAGE else drawn(entry.exercise, **asked)[1]
        faults = [*unlike(drawings), *(fault for drawing in drawings for fault in faults_of(drawing))]
        faults += uneven(drawings) if asked is PAGE else []
        if faults:
            wrong[entry.title] = faults
    assert wrong == {}


def test_what_is_drawn_is_what_was_looked_at() -> None:
    """A snapshot."""
    assert [snapshot(entry) for entry in hard_exercises()] == SNAPSHOTS.read_text("utf-8").splitlines()


def line_of(text: str) -> Drawing:
    (drawing,) = drawn(parse_exercise(text), **PAGE)[1]
    assert faults_of(drawing) == []
    return drawing


def changed(drawing: Drawing, kind: str, piece: int, change: Callable[[Shape], Shape]) -> list[str]:
    """Return the faults once a shape is another."""
    shapes = tuple(
        change(each) if (each.kind, each.piece) == (kind, piece) else each for each in drawing.shapes
    )
    assert any(one is not other for one, other in zip(shapes, drawing.shapes, strict=True))
    return faults_of(replace(drawing, shapes=shapes))


def wider(by: float) -> Callable[[Shape], Shape]:
    def change(shape: Shape) -> Shape:
        (corners,) = shape.contours
        right = corners[:, 0] == corners[:, 0].max()
        return replace(shape, contours=(corners + by * right[:, None] * (1.0, 0.0),))

    return change


def test_planted_faults_are_found() -> None:
    line = line_of("4/4 1/8: RLRR lRLR- | 1/16: RLRL 1/4: R~ (L)R")
    places = [shape.box[0] for shape in line.of("head")]
    step = places[1] - places[0]
    said = changed(line, "head", 1, lambda shape: shape.moved(step - 12.0))
    assert any("head of 1" in fault and "head of 2" in fault for fault in said)
    said = changed(line, "letter", 1, lambda shape: shape.moved(step - 8.0))
    assert any("letter of 1" in fault and "letter of 2" in fault for fault in said)
    said = changed(line, "head", 4, lambda shape: shape.moved(-4.0))
    assert any("grace of 4" in fault for fault in said)
    said = changed(line, "roll", 12, lambda shape: shape.moved(0.0, 14.0))
    assert any("roll of 12" in fault and "head of 12" in fault for fault in said)
    said = changed(line, "clef", -1, lambda shape: shape.moved(-9.0))
    assert said == ["clef of -1 at -7, -14 is outside the drawing"]
    assert changed(line, "head", 0, lambda shape: shape.moved(0.0)) == []
    line = line_of("4/4 1/2: Rk _ | 1/1: B")
    assert "0 is held at another height" in changed(line, "head", 1, lambda shape: shape.moved(0.0, -14.0))


def test_a_beam_across_a_beat_is_found() -> None:
    line = line_of("3/4 1/8: RL RL RL")
    across = line.of("stem")[2].box[2] - line.of("stem")[1].box[2]
    assert "the beam from 0 to 2 crosses a beat of 3/4" in changed(line, "beam", 0, wider(across))
    line = line_of("3+2+2/8 1/8: RLR LR LR")
    across = line.of("stem")[3].box[2] - line.of("stem")[2].box[2]
    assert "the beam from 0 to 3 crosses a beat of 3+2+2/8" in changed(line, "beam", 0, wider(across))


def test_ink_that_is_not_where_the_engraver_says_is_found() -> None:
    exercise = parse_exercise("1/8: RL")
    with patch(
        "evenhand.music.engraving.ink.LineInk.centred",
        lambda ink, _, x, *__: ink.outlines.append(f"M{x} 0h9v9z"),
    ):
        (drawing,) = drawn(exercise, **PAGE)[1]
    assert sum("nobody claims" in fault for fault in drawing.faults) == 2
    (drawing,) = drawn(exercise, **PAGE)[1]
    assert drawing.faults == ()


def test_faults_that_were_there_are_found() -> None:
    """A flag on the head behind it; brackets on a stem; signs that stand on a short line."""
    with patch.object(extents, "FLAM_UNITS", 292.0):
        assert any(
            "grace of 0" in fault for fault in faults_of(drawn(parse_exercise("1/4: lR"), **PAGE)[1][0])
        )
    with patch.object(ink, "BRACKET_UNITS", 75.0):
        assert any(
            "bracket of 0" in fault for fault in faults_of(drawn(parse_exercise("1/4: (R)"), **PAGE)[1][0])
        )
    lines = drawn(parse_exercise("1/16: " + "RLRR" * 40), **PAGE)[1]
    assert len(lines) > 2
    assert list(uneven(lines)) == []
    short = replace(lines[1].line.placing.columns, ends_x=(900.0,) * len(lines))
    shorter = replace(lines[1].line, placing=replace(lines[1].line.placing, columns=short))
    assert [*uneven([lines[0], replace(lines[1], line=shorter), *lines[2:]])] != []


def test_shapes_are_read_as_they_are_drawn() -> None:
    """A square; a curve that reaches three quarters of the way to its two controls; a disc."""
    square, curve, disc = shapes_of("M1 2H5V6H1zM0 0m0 0c0 4 8 4 8 0zM1 1a2 2 0 1 0 4 0a2 2 0 1 0 -4 0z")
    assert square.box == pytest.approx((1, 2, 5, 6))
    assert curve.box == pytest.approx((0, 0, 8, 3), abs=0.01)
    assert disc.box == pytest.approx((1, -1, 5, 3), abs=0.1)
