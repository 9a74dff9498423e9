"""What must be so of every exercise on its way out and back, and of every file that may come in."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evenhand.errors import UnreadableScore
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.formats.midi.read import read_midi_score
from evenhand.music.formats.midi.write import to_midi
from evenhand.music.formats.musicxml.read import read_musicxml
from evenhand.music.formats.musicxml.write import to_musicxml
from evenhand.music.formats.passages import ReadScore
from evenhand.music.text import parse_exercise, print_exercise
from tests.depth import share
from tests.score_files import a_note, a_rest, a_score, attributes, notes, words
from tests.strategies import exercises

SOME = parse_exercise("4/4 1/16: >RLRR lRLRR 1/12: RLR 1/8: R~ - | 1/4: RLRL")
GOOD_XML = to_musicxml(SOME, tempo=Tempo.parse("1/4=90"), repeat=4, title="A").encode()
GOOD_MIDI = to_midi(SOME, tempo=Tempo.parse("1/4=90"), repetitions=2)
tempos = st.sampled_from(
    [Tempo.parse(text) for text in ("1/4=120", "1/8=70", "3/8=200", "1/4=40", "1/2=99.5")]
)
edits = st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), max_size=12)


def came_back(written: Exercise, read: ReadScore) -> None:
    """Hold what was read to what was written: every blow with all its signs, the meter and the length."""
    (entry,) = read.entries
    back = entry.exercise
    blows, again = (
        [(exercise.starts[at], exercise.notes[at]) for at in exercise.struck] for exercise in (written, back)
    )
    assert again == blows
    assert (back.meter, back.length) == (written.meter, written.length)
    assert parse_exercise(print_exercise(back)) == back


@share(0.6)
@given(exercises(), tempos, st.none() | st.integers(1, 9))
def test_musicxml_brings_an_exercise_back(exercise: Exercise, tempo: Tempo, repeat: int | None) -> None:
    """Only rests may come back cut or joined, where a bar line or no single sign holds them."""
    read = read_musicxml(to_musicxml(exercise, tempo=tempo, repeat=repeat, title="A").encode())
    came_back(exercise, read)
    assert (read.tempo, read.warnings) == (tempo, ())


@share(0.6)
@given(exercises(), tempos, st.integers(1, 3))
def test_midi_brings_an_exercise_back(exercise: Exercise, tempo: Tempo, repetitions: int) -> None:
    """MIDI has no rests: where those of unlike tuplets meet, their sum is rounded, and is left out here."""
    assume(
        not any(
            before.is_rest and after.is_rest and before.value != after.value
            for before, after in pairwise(exercise.notes)
        )
    )
    came_back(exercise, read_midi_score(to_midi(exercise, tempo=tempo, repetitions=repetitions, title="A")))


@share(0.6)
@given(exercises())
def test_bars_without_a_cut_come_back_note_for_note(exercise: Exercise) -> None:
    """Where no rest was cut, the notes are the same, rests and all; and bar lines hold full bars."""
    back = read_musicxml(to_musicxml(exercise).encode()).entries[0].exercise
    if len(back.notes) == len(exercise.notes):
        assert back.notes == exercise.notes
    again = read_musicxml(to_musicxml(back).encode()).entries[0].exercise
    assert again == back  # a second time nothing changes any more


def became_of(content: bytes, *, midi: bool) -> ReadScore | str:
    """Return what was read, or the refusal's line."""
    try:
        if midi:
            return read_midi_score(content, hands="alternate")
        return read_musicxml(content, hands="alternate")
    except UnreadableScore as refusal:
        return str(refusal)


def reads_or_refuses(content: bytes, *, midi: bool) -> None:
    """Read what may be anything: exercises that text can hold, or a refusal in one line."""
    became = became_of(content, midi=midi)
    if isinstance(became, str):
        assert "\n" not in became
        return
    for entry in became.entries:
        assert parse_exercise(print_exercise(entry.exercise)) == entry.exercise
        assert "\n" not in entry.title
    assert all("\n" not in warning for warning in became.warnings)


def edited(content: bytes, edits: list[tuple[float, int]], kept: float) -> bytes:
    changed = bytearray(content)
    for where, value in edits:
        changed[int(where * len(changed))] = value
    return bytes(changed[: max(int(kept * len(changed)), 1)])


@share(0.6)
@given(edits, st.floats(0.9, 1))
def test_damaged_scores_are_refused_or_exercises(edits: list[tuple[float, int]], kept: float) -> None:
    reads_or_refuses(edited(GOOD_XML, edits, kept), midi=False)
    reads_or_refuses(edited(GOOD_MIDI, edits, 1.0), midi=True)
    reads_or_refuses(edited(GOOD_MIDI, edits, kept), midi=True)


@share(0.6)
@given(st.binary(max_size=400))
def test_any_bytes_are_refused_or_exercises(content: bytes) -> None:
    reads_or_refuses(content, midi=False)
    reads_or_refuses(b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk" + len(content).to_bytes(4, "big") + content, midi=True)


SNIPPETS = (
    notes("RL-R"),
    a_note(3, "eighth", "R", after="<dot/>"),
    a_note(0),
    a_note(7, "half"),
    a_rest(5),
    words("R L rr"),
    words("B", tag="rehearsal"),
    attributes(7, "<time><beats>7</beats><beat-type>8</beat-type></time>"),
    attributes(0, "<time><beats>x</beats><beat-type>0</beat-type></time>"),
    "<backup><duration>9</duration></backup>",
    "<forward><duration>2</duration></forward>",
    "<note><grace/><unpitched/><voice>1</voice></note>",
    "<note><chord/><unpitched/><duration>2</duration></note>",
    a_note(4, "quarter", inside='<tie type="stop"/><tie type="start"/>'),
    a_note(4, "quarter", after="<notations><ornaments><tremolo>3</tremolo></ornaments></notations>"),
    '<barline location="right"><repeat direction="backward"/></barline>',
    "<note/>",
)  # fmt: skip


@share(0.6)
@given(st.lists(st.lists(st.sampled_from(SNIPPETS), max_size=6).map("".join), min_size=1, max_size=5))
def test_scores_of_any_order_are_refused_or_exercises(bars: list[str]) -> None:
    """Everything a measure may hold, in orders that no program would write."""
    reads_or_refuses(a_score(attributes() + bars[0], *bars[1:]), midi=False)


def test_what_is_whole_is_read() -> None:
    """Else the laws above could hold by refusing everything."""
    assert replace(read_musicxml(GOOD_XML).entries[0].exercise, bar_lines=SOME.bar_lines) == SOME
    assert read_midi_score(GOOD_MIDI).entries[0].exercise == SOME
    with pytest.raises(UnreadableScore):
        read_musicxml(GOOD_XML[:200])
