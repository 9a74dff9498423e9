"""Engraved exercises: places that a chart can stand under, and drawings that stand alone."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenhand.errors import CannotEngrave
from evenhand.music.engraving.columns import Spacing
from evenhand.music.engraving.engrave import SCALE_WIDE, engrave
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine, EngravedNote
from evenhand.music.engraving.rolls import Rolls
from evenhand.music.engraving.stems import middle, placed, sign_of
from evenhand.music.exercise import Exercise, Note, Tempo
from evenhand.music.text import parse_exercise
from tests.depth import share
from tests.strategies import exercises, signed_texts

SVG = "{http://www.w3.org/2000/svg}"
PHONE, DESK = 336.0, 1000.0


def engraved(text: str, width: float = DESK) -> EngravedExercise:
    return engrave(parse_exercise(text), width=width)


def notes_of(exercise: EngravedExercise) -> list[EngravedNote]:
    return [note for line in exercise.lines for note in line.notes]


def letters_of(line: EngravedLine) -> dict[float, str]:
    svg = ET.fromstring(line.svg)
    return {float(text.get("x", "nan")): text.text or "" for text in svg.iter(f"{SVG}text")}


@pytest.mark.parametrize("width", [PHONE, DESK])
@pytest.mark.parametrize(
    "text",
    [
        "1/4: R",
        "1/8: RLRR LRLL",
        "4/4 1/16: >RLRR >LRLL RLRL RRLL",
        "1/8: lR rL llR rrL lllR L",
        "4/4 1/12: RLR LRL RLR LRL | 1/24: RLRLRL RLRLRL RLRLRL RLRLRL",
        "1/20: RLRLR 1/4: R - 1/2: L~ 1/1: R~ 2/1: L",
        "1/8: R 5/16: L 1/64: RLRL - 3/16: R",
        "1/4: R 5/16: L",
    ],
)
def test_each_note_and_rest_has_one_rising_place_inside_the_line(text: str, width: float) -> None:
    exercise = engraved(text, width)
    assert [note.position for note in notes_of(exercise)] == list(range(len(parse_exercise(text).notes)))
    for line in exercise.lines:
        places = [note.x for note in line.notes]
        assert all(before < after for before, after in pairwise(places))
        assert places[0] > 0
        assert places[-1] < line.end_x <= line.width <= max(width, 120)


def test_columns_are_in_proportion_to_written_time() -> None:
    """A column is 1/16; each place follows from the values before it, by hand."""
    (line,) = engraved("4/4 1/16: RLRR 1/8: LR 3/16: L 1/16: L 1/12: RLR").lines
    starts = [0, 1, 2, 3, 4, 6, 8, 11, 12, 12 + 4 / 3, 12 + 8 / 3]
    first, column = line.notes[0].x, line.notes[1].x - line.notes[0].x
    assert [(note.x - first) / column for note in line.notes] == pytest.approx(starts, abs=1e-9)


def test_a_printed_page_makes_wide_room_only_before_graces() -> None:
    exercise = parse_exercise("4/4 1/16: RLR llL RLR L RLRL")
    (even,), (page,) = (engrave(exercise, width=DESK, spacing=by).lines for by in ("time", "note"))
    for line, widths in ((even, 1), (page, 2)):
        steps = [round(after.x - before.x, 3) for before, after in pairwise(line.notes)]
        assert len(set(steps)) == widths
        assert max(steps) == steps[2]  # before the drag


def test_a_phone_holds_half_a_bar_of_sixteenths_between_its_repeat_signs() -> None:
    exercise = engrave(parse_exercise("4/4 1/16: RLRR LRLL RLRR LRLL"), width=PHONE, repeat=8)
    assert [len(line.notes) for line in exercise.lines] == [8, 8]
    assert exercise.lines[0].width <= PHONE


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_a_meter_of_two_digits_stands_clear_of_the_first_note(width: float) -> None:
    """The two digits' outlines end left of the first head by at least half a head."""
    scale = 0.07 if width < 600 else SCALE_WIDE
    line = engraved("12/8 1/8: RLR LRL RLR LRL", width).lines[0]
    two = placed("E082", 0, 0, 0.72 * scale).removeprefix("M0 0")
    (left,) = (float(x) for x in re.findall(r"M([\d.]+) -?[\d.]+" + re.escape(two), line.svg))
    sign = sign_of("E082")
    assert left + (sign.left + sign.width) * 0.72 * scale < line.notes[0].x - 1.5 * 106 * scale


def test_columns_stand_under_each_other_from_line_to_line() -> None:
    lines = engraved("4/4 1/16: " + "RLRR LRLL " * 8).lines
    assert len(lines) == 4
    assert {line.width for line in lines} == {lines[0].width}
    for line in lines[1:]:
        assert [note.x for note in line.notes] == pytest.approx([note.x for note in lines[0].notes])


@pytest.mark.parametrize(
    ("text", "width", "counts"),
    [
        ("4/4 1/16: RLRR LRLL RLRL RRLL", DESK, [16]),
        ("4/4 1/16: RLRR LRLL RLRL RRLL", PHONE, [8, 8]),  # half bars
        ("4/4 1/8: " + "RLRR LRLL " * 3, DESK, [16, 8]),  # whole bars
        ("6/8 1/16: RLRLRL RLRLRL", PHONE, [6, 6]),  # beats
        ("4/4 1/24: " + "RLRLRL " * 4, DESK, [24]),  # a whole bar, even of 24
        ("1/4 1/48: RLRLRL RLRLRL", PHONE, [6, 6]),  # eighths, where a beat does not fit
        ("1/8: " + "RLRR LRLL " * 3, DESK, [12, 12]),  # equal lines
        ("5/4 1/8: RLRLR LRLRL", PHONE, [6, 4]),
        ("1/16: RLRRLRLLRLRRLRLLR", DESK, [8, 9]),  # no widow
        ("1/4: R", PHONE, [1]),
    ],
)
def test_lines_break_at_bars_then_half_bars_then_beats(text: str, width: float, counts: list[int]) -> None:
    assert [len(line.notes) for line in engraved(text, width).lines] == counts


@pytest.mark.parametrize("width", [PHONE, 600.0, DESK, 1400.0])
def test_a_column_is_at_least_34_px(width: float) -> None:
    for line in engraved("4/4 1/16: " + "RLRR LRLL " * 8, width).lines:
        places = [note.x for note in line.notes]
        assert min(after - before for before, after in pairwise(places)) >= 34 - 1e-9


def test_letters_are_centred_under_their_heads() -> None:
    line = engraved("1/8: lRL - llR").lines[0]
    expected = {round(note.x, 2): hand for note, hand in zip(line.notes, "RL-R", strict=True) if hand != "-"}
    graces = {round(x, 2): "L" for note in line.notes for x in note.grace_x}
    assert letters_of(line) == expected | graces
    assert line.svg.count('text-anchor="middle"') == 2


def test_heads_are_centred_on_their_places() -> None:
    """A black head of this font is 1.18 staff spaces wide (the font's published metadata)."""
    line = engraved("1/8: RLRR").lines[0]
    size = 0.72 * SCALE_WIDE  # px a font unit; a staff space is 250 of them
    head = placed("E0A4", 0, 0, size).removeprefix("M0 0")
    lefts = [float(x) for x in re.findall(r"M(-?[\d.]+) -?[\d.]+" + re.escape(head), line.svg)]
    assert [left + 1.18 * 250 * size / 2 for left in lefts] == pytest.approx(
        [note.x for note in line.notes], abs=0.02
    )


def test_graces_stand_before_their_note_and_after_the_one_before() -> None:
    line = engraved("1/8: R lL llR lllL").lines[0]
    for before, note in pairwise(line.notes):
        places = [before.x + 7, *note.grace_x, note.x]
        assert all(a < b for a, b in pairwise(places))
    assert [len(note.grace_x) for note in line.notes] == [0, 1, 2, 3]


def test_what_no_single_sign_holds_is_tied() -> None:
    """Five sixteenths from a beat on: a quarter, and at four fifths of its time a sixteenth tied to it."""
    line = engraved("1/8: RL 5/16: L 3/16: R").lines[0]
    head = placed("E0A4", 0, 0, 0.72 * SCALE_WIDE).removeprefix("M0 0")
    places = [float(x) for x in re.findall(r"M([\d.]+) -?[\d.]+" + re.escape(head), line.svg)]
    heads = sorted(x + middle("E0A4") * 0.72 * SCALE_WIDE for x in places)
    third, last = line.notes[2].x, line.notes[3].x
    assert heads[3] == pytest.approx(third + (last - third) * 4 / 5, abs=0.02)
    assert len(heads) == 5
    assert placed("E4E7", 0, 0, 0.72 * SCALE_WIDE).removeprefix("M0 0") not in line.svg


def test_a_bar_line_stands_between_its_notes() -> None:
    line = engraved("2/4 1/8: RLRR | lLRLL").lines[0]
    half = 180 * SCALE_WIDE
    corners = f"{half:.2f}".rstrip("0").rstrip(".")
    uprights = {float(x) for x in re.findall(rf"M([\d.]+) -{corners}H", line.svg)}
    inside = [x for x in uprights if line.notes[3].x + 8 < x < line.notes[4].grace_x[0] - 6]
    assert len(inside) == 1


@pytest.mark.parametrize("text", ["1/8: >RLRR", "1/8: l>R llR lllR", "1/16: R>LRR"])
def test_an_accent_stands_clear_of_the_beam(text: str) -> None:
    """Graces inside a beam raise the beam; the accent goes with it."""
    line = engraved(text).lines[0]
    accent = placed("E4A0", 0, 0, 0.72 * SCALE_WIDE).removeprefix("M0 0")
    (foot,) = (float(y) for y in re.findall(r"M[\d.]+ (-[\d.]+)" + re.escape(accent), line.svg))
    beam_top = min(float(y) for y in re.findall(r"M[\d.]+ (-?[\d.]+)(?=H)", line.svg))
    assert foot == pytest.approx(beam_top - 67 * SCALE_WIDE, abs=0.02)


def test_each_line_stands_alone() -> None:
    exercise = engraved("4/4 1/16: " + "RLRR llRRLL " * 4)
    for line in exercise.lines:
        svg = ET.fromstring(line.svg)
        assert svg.get("viewBox") == f"0 0 {line.width:g} {line.height:g}"
        assert svg.get("fill") == "currentColor"
        assert not [element for element in svg.iter() if element.get("id")]
        assert not re.search(r"href|url\(|#|<style|<desc", line.svg)


def test_lines_have_ids_where_a_prefix_is_given() -> None:
    exercise = engrave(parse_exercise("4/4 1/16: " + "RLRR LRLL " * 4), width=DESK, id_prefix="take-7")
    ids = [ET.fromstring(line.svg).get("id") for line in exercise.lines]
    assert ids == ["take-7-1", "take-7-2"]


def test_a_screen_reader_hears_the_sticking() -> None:
    assert 'aria-label="Sticking: R lL rest R"' in engraved("1/8: R lL - R").lines[0].svg
    assert 'aria-label="Sticking, line 2 of 2: ' in engraved("1/16: " + "RL" * 16).lines[1].svg


def test_the_first_line_alone_has_the_meter_and_the_tempo() -> None:
    exercise = parse_exercise("4/4 1/16: " + "RLRR LRLL " * 4)
    first, second = engrave(exercise, width=DESK, tempo=Tempo.parse("1/4=70")).lines
    assert "= 70</text>" in first.svg
    assert "= 70" not in second.svg
    assert first.height > second.height
    four = placed("E084", 0, 0, 0.72 * SCALE_WIDE).removeprefix("M0 0")
    assert (first.svg.count(four), second.svg.count(four)) == (2, 0)


@pytest.mark.parametrize(
    ("tempo", "said"), [("3/8=60", "= 60<"), ("1/12=100", "1/12 = 100<"), ("5/8=50", "5/8 = 50<")]
)
def test_a_tempo_that_no_single_note_shows_is_said_in_figures(tempo: str, said: str) -> None:
    line = engrave(parse_exercise("1/8: RL"), width=DESK, tempo=Tempo.parse(tempo)).lines[0]
    assert said in line.svg


def test_without_sticking_there_are_no_letters() -> None:
    line = engrave(parse_exercise("1/8: lRLRR"), width=DESK, show_sticking=False).lines[0]
    assert letters_of(line) == {}


def test_drawn_in_long_notes_take_less_room() -> None:
    exercise = parse_exercise("1/4: R 1/16: RLRL")
    (time,), (note,) = (engrave(exercise, width=DESK, spacing=by).lines for by in ("time", "note"))
    share = [
        (line.notes[1].x - line.notes[0].x) / (line.notes[2].x - line.notes[1].x) for line in (time, note)
    ]
    assert share == pytest.approx([4.0, 2.0])


def test_the_same_exercise_gives_the_same_bytes() -> None:
    text = "4/4 1/16: >RLRR lLRLL 1/12: RLR -RL"
    before = engraved(text)
    engraved("1/8: RL")
    assert engraved(text) == before


def test_threads_engrave_alike() -> None:
    texts = ["4/4 1/16: >RLRR >LRLL", "1/8: lR rL", "1/12: RLR -RL", "1/4: R~"] * 4
    with ThreadPoolExecutor(4) as pool:
        apart = list(pool.map(engraved, texts))
    assert apart == [engraved(text) for text in texts]


def test_the_longest_exercise_is_engraved() -> None:
    exercise = engraved("1/16: " + "RLRR" * 256)
    assert len(notes_of(exercise)) == 1024
    assert len(exercise.lines) == 64


@pytest.mark.parametrize("notes", [(), (Note("R", parse_exercise("1/8: R").notes[0].value * 0),)])
def test_what_is_no_exercise_is_refused(notes: tuple[Note, ...]) -> None:
    with pytest.raises(
        CannotEngrave, match=r"engraving: (an exercise without notes|note 0 with the value 0)"
    ):
        engrave(Exercise(notes), width=DESK)


@share(0.4)
@given(
    exercise=exercises(),
    width=st.sampled_from((200.0, PHONE, DESK)),
    spacing=st.sampled_from(("time", "note")),
    repeat=st.sampled_from((None, 1, 12)),
    rolls=st.sampled_from(("written", "short")),
)
def test_any_exercise_is_engraved(
    exercise: Exercise,
    width: float,
    spacing: Spacing,
    repeat: int | None,
    rolls: Rolls,
) -> None:
    drawn = engrave(exercise, width=width, spacing=spacing, repeat=repeat, rolls=rolls)
    assert [note.position for note in notes_of(drawn)] == list(range(len(exercise.notes)))
    for line in drawn.lines:
        ET.fromstring(line.svg)
        places = [note.x for note in line.notes]
        assert all(before < after for before, after in pairwise(places))
        assert places[-1] < line.end_x < line.width


@share(0.4)
@given(
    text=signed_texts(),
    width=st.sampled_from((PHONE, DESK)),
    spacing=st.sampled_from(("time", "note")),
    rolls=st.sampled_from(("written", "typed", "short")),
)
def test_every_sign_is_engraved(text: str, width: float, spacing: Spacing, rolls: Rolls) -> None:
    exercise = parse_exercise(text)
    drawn = engrave(exercise, width=width, spacing=spacing, rolls=rolls)
    positions = [note.position for note in notes_of(drawn)]
    assert positions == sorted(set(positions))
    if rolls == "written":
        assert positions == list(range(len(exercise.notes)))
    for line in drawn.lines:
        ET.fromstring(line.svg)
        places = [note.x for note in line.notes]
        assert all(before < after for before, after in pairwise(places))
        assert places[-1] < line.end_x < line.width
