"""Whatever a file holds, reading it ends: work is bounded by what is in it, and counted here in calls."""

from __future__ import annotations

import struct
import sys
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import NoReturn

import numpy as np
import pytest

from evenhand.acts.takes.document import heard_take_of
from evenhand.acts.takes.history import read_history
from evenhand.acts.takes.many import MOST_TAKES, read_list
from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.weeks.path import path_from_toml
from evenhand.cli.results import write
from evenhand.errors import BadBook, BadHistory, BadList, BadPath, NothingHeard, UnreadableScore, WrongUse
from evenhand.hearing.listen import listen_to_blows
from evenhand.media.midi import MOST_STROKES, read_midi
from evenhand.music.book import MOST_ENTRIES, parse_book
from evenhand.music.exercise import Tempo
from evenhand.music.formats.midi.read import read_midi_score
from evenhand.music.formats.musicxml.read import read_musicxml
from evenhand.music.formats.passages import MOST_NOTES, MOST_WARNINGS
from evenhand.music.text import parse_exercise


def calls_of(act: Callable[[], object]) -> int:
    """Count the calls of Python functions, and of built-in ones, that an act takes."""
    count = 0

    def counted(_frame: FrameType, event: str, _more: object) -> None:
        nonlocal count
        count += event in {"call", "c_call"}

    before = sys.getprofile()
    sys.setprofile(counted)
    try:
        act()
    finally:
        sys.setprofile(before)
    return count


def number(value: int) -> bytes:
    """Write a number of seven bits a byte (Standard MIDI Files 1.0)."""
    out = [value & 0x7F]
    while value := value >> 7:
        out.append(0x80 | value & 0x7F)
    return bytes(reversed(out))


def midi(notes: int, gap: int = 60) -> bytes:
    body = b"\x00\x99\x26\x50" + (number(gap) + b"\x26\x50") * (notes - 1) + b"\x00\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, 480) + b"MTrk" + struct.pack(">I", len(body)) + body


def score(bars: int, in_a_bar: str = "<note><unpitched/><duration>4</duration></note>") -> bytes:
    measures = "".join(f'<measure number="{bar}">{in_a_bar}</measure>' for bar in range(bars))
    parts = '<part-list><score-part id="P1"><part-name>D</part-name></score-part></part-list>'
    return f'<score-partwise>{parts}<part id="P1">{measures}</part></score-partwise>'.encode()


# Takes as MIDI.


def test_a_midi_file_of_300_000_notes_is_refused_before_it_is_heard(tmp_path: Path) -> None:
    """Before, one of 14 MB held the queue for minutes."""
    path = tmp_path / "take.mid"
    path.write_bytes(midi(300_000, gap=1))
    with pytest.raises(Exception, match=rf"300,000 strokes.*{MOST_STROKES:,} at most"):
        read_midi(path)


def test_blows_times_notes_are_bounded_whatever_the_take() -> None:
    """Every way to follow goes through blows times notes: by hand, 2,000 times 4,096 is over 8 million."""
    times_s = np.arange(2000, dtype=np.float64) * 0.1
    exercise = parse_exercise("1/16: " + "R" * 4096)
    with pytest.raises(NothingHeard, match="2,000 hits against 4,096 notes"):
        listen_to_blows(times_s, np.full(2000, -10.0), exercise=exercise, tempo=Tempo.parse("1/4=80"))


# Scores.


def test_a_score_of_very_many_bars_is_refused() -> None:
    with pytest.raises(UnreadableScore, match=f"more than {MOST_NOTES:,} notes or bars"):
        read_musicxml(score(MOST_NOTES + 1, "<note><rest/><duration>4</duration></note>"), part="1")


def test_work_on_a_score_grows_as_the_score() -> None:
    """Twice the bars, each with its own warning, are twice the work: 2.2 allows for what is done once."""
    odd = "<note><unpitched/><duration>40</duration></note>"

    def work(bars: int) -> int:
        return calls_of(lambda: read_musicxml(score(bars, odd), hands="right"))

    assert work(800) < 2.2 * work(400)


def test_of_very_many_warnings_the_first_are_said() -> None:
    read = read_musicxml(score(300, "<note><unpitched/><duration>40</duration></note>"), hands="right")
    assert len(read.warnings) <= MOST_WARNINGS + 1
    assert read.warnings[MOST_WARNINGS] == "and more of this kind"


def test_a_midi_score_with_huge_gaps_is_cut_where_an_exercise_ends() -> None:
    """Before, every gap was written out in rests, to be thrown away: 12 s for 2,000 notes."""
    gaps = midi(400, gap=480 * 300_000)

    def work(content: bytes) -> int:
        return calls_of(lambda: read_midi_score(content, hands="right"))

    assert work(gaps) < 4 * work(midi(400, gap=480)) + 100_000


def test_a_midi_score_of_very_many_notes_is_refused() -> None:
    with pytest.raises(UnreadableScore, match=f"more than {MOST_NOTES:,} notes"):
        read_midi_score(midi(MOST_NOTES + 1))


# Lists and books.


def test_a_list_of_one_file_many_times_takes_work_as_its_rows(tmp_path: Path) -> None:
    """Before, a number was looked for from 2 on in every row: work grew as the square."""

    def work(rows: int) -> int:
        text = "file,exercise,tempo\n" + "none.wav,,\n" * rows
        return calls_of(lambda: read_list(text, name="list", folder=tmp_path))

    assert work(2000) < 2.2 * work(1000)


def test_the_names_of_one_file_many_times_are_told_apart(tmp_path: Path) -> None:
    rows = ["a.wav", "b/a.wav", "a-2.wav", "A.flac", "c/a.mp3", "a-4.wav", "d/a.wav", "a-4.mp3"]
    listed = read_list(
        "file,exercise,tempo\n" + "".join(f"{row},,\n" for row in rows), name="list", folder=tmp_path
    )
    stems = [each.stem.casefold() for each in listed]
    assert len(set(stems)) == len(rows)
    assert [stems[at] for at in (0, 2, 5)] == ["a", "a-2", "a-4"]


def test_a_list_of_very_many_rows_is_refused(tmp_path: Path) -> None:
    text = "file,exercise,tempo\n" + "".join(f"{row}.wav,,\n" for row in range(MOST_TAKES + 1))
    with pytest.raises(BadList, match=f"more than {MOST_TAKES:,} takes"):
        read_list(text, name="list", folder=tmp_path)


def test_a_book_is_read_no_further_than_it_may_go() -> None:
    text = "1/8: RL\n" * 1000
    with pytest.raises(BadBook, match=r"line 11: got more than 10 exercises"):
        parse_book(text, most=10)
    assert calls_of(lambda: _refused(text * 100)) < 1.2 * calls_of(lambda: _refused(text * 10)) + 10_000
    assert MOST_ENTRIES <= 20_000


def _refused(text: str) -> None:
    with pytest.raises(BadBook):
        parse_book(text, most=10)


# What is nested.


@pytest.mark.parametrize(
    "text",
    [
        ".".join(["a"] * 20_000) + " = 1",
        "[" + ".".join(["a"] * 20_000) + "]",
        "x = {" + ".".join(['"a b"'] * 8_000) + " = 1}",
        " . ".join(["'a'"] * 6_000) + " = 1",
        "x = " + "[" * 30_000,
        "x = " + "{a=" * 10_000,
    ],
)
def test_nested_toml_is_refused_and_takes_little_memory(text: str) -> None:
    """Before, 40 kB of nested keys took 1.5 GB."""
    tracemalloc.start()
    try:
        with pytest.raises(BadPath):
            path_from_toml(text, name="path.toml")
        assert tracemalloc.get_traced_memory()[1] < 50e6
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("nested", ["[" * 100_000, '{"a":' * 100_000])
def test_nested_json_is_refused_wherever_it_is_read(tmp_path: Path, nested: str) -> None:
    with pytest.raises(WrongUse):
        heard_take_of(nested)
    (tmp_path / "take.json").write_text(nested)
    (tmp_path / "takes.csv").write_text("date,file,exercise,tempo\n2026-03-02,take.json,,\n")
    with pytest.raises(BadHistory):
        read_history(tmp_path, opens=_never)


def _never(path: Path, **_how: object) -> NoReturn:
    raise AssertionError(f"{path} is not opened")


def test_a_name_that_is_no_text_is_written_as_text(tmp_path: Path) -> None:
    """A file's name may be any bytes; before, a report that names it was an error of ours."""
    write(tmp_path / "report.html", "heard: \udcff.wav")
    assert (tmp_path / "report.html").read_text("utf-8") == "heard: \ufffd.wav"


def test_an_ordinary_take_is_heard_as_before(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    path.write_bytes(midi(64, gap=240))
    take = read_midi(path)
    exercise, tempo = parse_exercise("1/8: RLRR LRLL"), Tempo.parse("1/4=120")
    heard = listen_to_blows(take.times_s, take.levels_db, exercise=exercise, tempo=tempo)
    assert len(heard.hits) == 64
    assert TakeRequest.read("1/8: RLRR LRLL", "1/4=120").exercise == exercise
