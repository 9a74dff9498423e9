"""Tape is what moves and is coloured; clothes, skin and what stands still are not."""

from __future__ import annotations

import numpy as np
import pytest

from evenhand.film import FilmFacts, FilmSample, SampledFrame
from evenhand.watching.tapes import (
    HUES_DEG,
    Tape,
    apart_deg,
    found_tapes,
    named_tape,
    sought,
    survey,
    weights_of,
)

FACTS = FilmFacts("mp4/h264", 320, 200, 4.0, 60.0)
ROWS, COLUMNS = 100, 160
BLUE, GREEN = (170, 110), (100, 105)  # chroma, U and V
SKIN, WOOD = (110, 148), (104, 144)


def frames(
    *things: tuple[tuple[int, int], int, bool], height: int = 4, width: int = 10, n: int = 20
) -> FilmSample:
    """Give frames in which things of a chroma, at a row, go to the right or stand still."""
    out = []
    for i in range(n):
        y, u, v = np.full((3, ROWS, COLUMNS), 128, np.uint8)
        for (cu, cv), row, moves in things:
            left = 10 + 5 * i if moves else 70
            u[row : row + height, left : left + width] = cu
            v[row : row + height, left : left + width] = cv
        out.append(SampledFrame(i / 5, y, u, v))
    return FilmSample(FACTS, tuple(out), 2)


def test_a_named_tape_is_found_with_its_own_hue_and_strength() -> None:
    tape = named_tape(survey(frames((BLUE, 40, True))), "blue")
    assert tape is not None
    assert tape.hue_deg == pytest.approx(np.degrees(np.arctan2(110 - 128, 170 - 128)), abs=0.5)
    assert tape.strength == pytest.approx(np.hypot(42, 18), abs=0.5)


def test_a_colour_that_does_not_move_is_no_tape() -> None:
    seen = survey(frames((BLUE, 40, False), (GREEN, 60, True)))
    assert named_tape(seen, "blue") is None
    assert named_tape(seen, "green") is not None
    assert named_tape(seen, "red") is None


def test_two_colours_are_found_by_themselves_beside_skin_and_wood() -> None:
    seen = survey(frames((BLUE, 20, True), (GREEN, 40, True), (SKIN, 60, True), (WOOD, 80, True)))
    assert {tape.name for tape in found_tapes(seen)} == {"blue", "green"}


def test_a_sleeve_is_too_large_to_be_tape() -> None:
    assert found_tapes(survey(frames((BLUE, 10, True), height=60, width=60))) == ()


def test_a_tape_that_rests_most_of_the_time_is_not_the_background_s() -> None:
    moves = frames((BLUE, 40, True), n=6).frames
    rests = frames((BLUE, 40, False), n=14).frames
    seen = survey(FilmSample(FACTS, (*rests, *moves), 2))
    assert int(seen.u[42, 74]) == 128


def test_a_look_up_takes_in_what_is_blurred_and_leaves_the_other_colour_and_skin() -> None:
    blue = Tape("blue", -23.2, 45.7)
    green = Tape("green", -140.6, 36.2)
    weights = weights_of(blue, [green], palest=0.2)
    assert weights[BLUE] == 255
    half = tuple(128 + round((each - 128) / 2) for each in BLUE)
    assert weights[half] == pytest.approx(128, abs=6)
    assert weights[GREEN] == weights[SKIN] == weights[128, 128] == 0


def test_red_counts_only_where_it_is_stronger_than_skin() -> None:
    weights = weights_of(Tape("red", 107.0, 100.0), palest=0.2)
    assert weights[128 - 29, 128 + 95] > 0
    assert weights[128 - 9, 128 + 28] == 0


def test_how_pale_a_tape_may_be_depends_on_what_else_moves() -> None:
    alone = frames((BLUE, 40, True))
    pale = tuple(128 + round((each - 128) * 0.25) for each in BLUE)
    clothed = FilmSample(
        FACTS,
        tuple(
            SampledFrame(a.time_s, a.y, *(np.where(b == 128, c, b) for b, c in ((a.u, s.u), (a.v, s.v))))
            for a, s in zip(alone.frames, frames((pale, 50, True), height=40, width=40).frames, strict=True)  # type: ignore[arg-type]
        ),
        2,
    )
    counts = []
    for sample in (alone, clothed):
        seen = survey(sample)
        tape = named_tape(seen, "blue")
        assert tape is not None
        counts.append(int(np.count_nonzero(sought({"R": tape}, sample, seen).weights[0])))
    assert counts[1] < counts[0]


def test_common_colours_lie_apart() -> None:
    hues = sorted(HUES_DEG.values())
    assert min(float(apart_deg(a, b)) for a, b in zip(hues, hues[1:] + hues[:1], strict=True)) >= 30
