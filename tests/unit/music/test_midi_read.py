"""Standard MIDI Files of other programs and of pads, read; files are made byte by byte from the format."""

from __future__ import annotations

import re

import numpy as np
import pytest

from evenhand.errors import UnreadableScore
from evenhand.music.exercise import Tempo
from evenhand.music.formats.midi.read import read_midi_score
from evenhand.music.formats.midi.strokes import HandNotes
from evenhand.music.formats.midi.write import to_midi
from evenhand.music.formats.passages import ReadScore
from evenhand.music.text import parse_exercise, print_exercise
from tests.media_files import a_midi, end, note_on, tempo, ticks

TWO_DRUMS = HandNotes(right=38, left=40)
FOUR_FOUR = bytes.fromhex("00ff580404021808")


def exercises(score: ReadScore) -> list[str]:
    return [print_exercise(entry.exercise) for entry in score.entries]


def text(after: int, words: str, kind: int = 0x05) -> bytes:
    """Give a lyric, or another kind of text."""
    return ticks(after) + bytes([0xFF, kind, len(words)]) + words.encode()


def note_off(after: int, note: int = 38) -> bytes:
    return ticks(after) + bytes([0x89, note, 64])


def played(letters: str, step: int = 240, hold: int | None = None, *, velocity: int = 100) -> bytes:
    """Give notes so many ticks apart, R on 38 and L on 40, held for ``hold`` ticks or until the next."""
    out, wait = b"", 0
    for letter in letters:
        if letter == "-":
            wait += step
            continue
        note = 38 if letter == "R" else 40
        held = step if hold is None else hold
        out += note_on(wait, note, velocity) + note_off(held, note)
        wait = step - held
    return out


def test_two_notes_are_two_hands() -> None:
    score = read_midi_score(a_midi(FOUR_FOUR + played("RLRRLRLL") + end()), hand_notes=TWO_DRUMS)
    assert exercises(score) == ["4/4 1/8: RLRR LRLL"]
    assert score.warnings == ()


def test_words_beside_the_notes_are_hands() -> None:
    track = b"".join(text(0, letter) + note_on(0) + note_off(240) for letter in "RLRRLRLL")
    assert exercises(read_midi_score(a_midi(FOUR_FOUR + track + end()))) == ["4/4 1/8: RLRR LRLL"]


def test_notes_that_sound_until_the_next_leave_rests_where_they_stop() -> None:
    score = read_midi_score(a_midi(FOUR_FOUR + played("RLR-LRL-") + end(240)), hand_notes=TWO_DRUMS)
    assert exercises(score) == ["4/4 1/8: RLR- LRL-"]


def test_a_pads_short_notes_last_until_the_next() -> None:
    score = read_midi_score(a_midi(FOUR_FOUR + played("RLR-LRL-", hold=10) + end()), hand_notes=TWO_DRUMS)
    assert exercises(score) == ["4/4 1/8: RL 1/4: R 1/8: LRL"]


def test_triplets_and_plain_notes_side_by_side() -> None:
    track = played("RL", 240) + played("RLR", 160) + played("RLRL", 120) + played("R", 480)
    score = read_midi_score(a_midi(FOUR_FOUR + track + end()), hand_notes=TWO_DRUMS)
    assert exercises(score) == ["4/4 1/8: RL 1/12: RLR 1/16: RLRL 1/4: R"]


def struck_at(at: np.ndarray[tuple[int], np.dtype[np.int64]]) -> bytes:
    """Give notes of no length at these ticks."""
    waits = np.diff(np.concatenate([[0], at]))
    return FOUR_FOUR + b"".join(note_on(int(wait)) + bytes([0, 0x99, 38, 0]) for wait in waits)


@pytest.mark.parametrize(("step", "value"), [(240, "1/8"), (160, "1/12"), (120, "1/16"), (80, "1/24")])
@pytest.mark.parametrize("late", [0, 9])
def test_what_was_played_is_moved_to_its_grid_and_by_how_much_is_said(
    step: int, value: str, late: int
) -> None:
    """Sixteen strokes scattered by 5 ticks, all of them late: what was drawn has a known mean and scatter."""
    off = np.random.default_rng(3).normal(0, 5, 16).round().astype(np.int64) + late
    track = struck_at(1920 + np.arange(16) * step + off)
    score = read_midi_score(a_midi(track + end()), hands="alternate")
    (exercise,) = exercises(score)
    assert exercise.split(" ")[1] == f"{value}:"
    assert [note.hand for note in score.entries[0].exercise.notes] == list("RL" * 8)
    said = rf"16 notes .* grid of {value}: by ([\d.]+) ms .* beside ([-+\d.]+) ms"
    found = re.search(said, score.warnings[0])
    assert found
    assert float(found[1]) == pytest.approx(np.std(off) * 500 / 480, abs=0.051)  # 0.1 ms is shown
    assert float(found[2]) == pytest.approx(np.mean(off) * 500 / 480, abs=0.051)


def test_a_first_note_played_early_opens_the_bar_it_belongs_to() -> None:
    track = struck_at(np.array([1910, 2163, 2398, 2641, 2880, 3120, 3361, 3600]))
    (exercise,) = exercises(read_midi_score(a_midi(track + end()), hands="alternate"))
    assert exercise == "4/4 1/8: RLRL RLRL"


def test_what_keeps_to_no_grid_is_refused() -> None:
    rng = np.random.default_rng(5)
    track = b"".join(note_on(int(wait)) for wait in rng.uniform(60, 200, 64))
    with pytest.raises(UnreadableScore, match=r"64 notes keep to no grid.*: 1 \(\d+ ms off 1/\d+\), 2 \("):
        read_midi_score(a_midi(track + end()), hands="right")


def test_soft_notes_close_ahead_are_graces() -> None:
    """At 120 a quarter 29 ticks are 30 ms: a flam, then a drag, then a note alone."""
    track = (
        note_on(451, 40, 30) + note_on(29, 38) + note_on(422, 40, 30) + note_on(29, 40, 30) + note_on(29, 38)
        + note_on(480, 40)
    )  # fmt: skip
    score = read_midi_score(a_midi(track + end()), hand_notes=TWO_DRUMS)
    assert exercises(score) == ["1/4: - lR llRL"]


def test_accents_are_what_stands_clearly_over_the_rest() -> None:
    track = b"".join(played(letter, velocity=120 if letter == "R" else 70) for letter in "RLLLRLLL")
    score = read_midi_score(a_midi(track + end()), hand_notes=TWO_DRUMS)
    assert exercises(score) == ["1/8: >RLLL >RLLL"]
    near = b"".join(played(letter, velocity=104 if letter == "R" else 100) for letter in "RLLLRLLL")
    assert exercises(read_midi_score(a_midi(near + end()), hand_notes=TWO_DRUMS)) == ["1/8: RLLL RLLL"]


def test_markers_part_exercises_and_name_them() -> None:
    track = text(0, "Singles", 6) + played("RLRL", 480) + text(0, "Doubles", 6) + played("RRLL", 480) + end()
    score = read_midi_score(a_midi(FOUR_FOUR + track), hand_notes=TWO_DRUMS)
    assert [(entry.title, print_exercise(entry.exercise)) for entry in score.entries] == [
        ("Singles", "4/4 1/4: RLRL"),
        ("Doubles", "4/4 1/4: RRLL"),
    ]


def test_repetitions_that_we_wrote_are_one_exercise() -> None:
    exercise = parse_exercise("4/4 1/8: lRLRR >LRLL")
    score = read_midi_score(to_midi(exercise, tempo=Tempo.parse("1/4=90"), repetitions=8, title="Flams"))
    assert [(entry.title, entry.exercise) for entry in score.entries] == [("Flams", exercise)]
    assert str(score.tempo) == "1/4 = 90"


def test_tempos_bend_what_is_said_in_milliseconds() -> None:
    """12 ticks to one side and to the other at half the tempo are 25 ms, not 12.5."""
    waits = [0, 252, 216, 252, 240, 240, 240, 240]
    track = tempo(0, 1_000_000) + b"".join(note_on(wait) for wait in waits)
    score = read_midi_score(a_midi(track + end()), hands="alternate")
    assert "25.0 ms at most" in score.warnings[0]
    assert str(score.tempo) == "1/4 = 60"


def test_a_file_in_a_riff_container_is_read() -> None:
    midi = a_midi(FOUR_FOUR + played("RLRRLRLL") + end())
    riff = b"RIFF" + (len(midi) + 12).to_bytes(4, "little") + b"RMIDdata" + len(midi).to_bytes(4, "little")
    assert exercises(read_midi_score(riff + midi, hand_notes=TWO_DRUMS)) == ["4/4 1/8: RLRR LRLL"]


def test_of_independent_tracks_the_longest_is_read() -> None:
    midi = a_midi(played("RL") + end(), played("RRLLRRLL") + end(), form=2)
    score = read_midi_score(midi, hand_notes=TWO_DRUMS)
    assert exercises(score) == ["1/8: RRLL RRLL"]
    assert score.warnings == ("independent tracks: only the longest of 2 was read",)


def test_other_drums_are_left_out_and_both_hands_notes_together_are_a_unison() -> None:
    kit = note_on(0, 36) + note_on(0, 38, 60) + note_on(0, 40, 90)  # a bass drum, and both hands at once
    track = kit + note_off(480, 40) + played("RLR", 480) + end()
    score = read_midi_score(a_midi(track), hand_notes=TWO_DRUMS)
    assert exercises(score) == ["1/4: BRLR"]
    assert score.warnings == ("1 other note was left out; the file has 38 (3×), 40 (2×), 36 (1×)",)


def test_what_is_no_note_is_passed_over() -> None:
    """A controller, a program change, a bend, a system message and a key signature that does not exist."""
    odd = bytes.fromhex("00b90740 00c901 00e90040 00f0037e7ff7 00ff590209ff".replace(" ", ""))
    score = read_midi_score(a_midi(odd + played("RLRR") + end()), hand_notes=TWO_DRUMS)
    assert exercises(score) == ["1/8: RLRR"]


def test_a_meter_that_changes_is_kept() -> None:
    three_four = bytes.fromhex("00ff580403021808")
    track = FOUR_FOUR + played("RLRL", 480) + three_four + played("RLR", 480) + end()
    score = read_midi_score(a_midi(track), hand_notes=TWO_DRUMS)
    assert exercises(score) == ["4/4 1/4: RLRL | 3/4 RLR"]
    assert score.warnings == ()


def refusal(content: bytes) -> str:
    with pytest.raises(UnreadableScore) as refused:
        read_midi_score(content, name="x.mid")
    assert "\n" not in str(refused.value)
    return str(refused.value)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"MThd", "a broken MIDI file (it ends too early)"),
        (a_midi(note_on(0) + end())[:-3], "a broken MIDI file (it ends too early)"),
        (a_midi(end()), "a MIDI file without any notes"),
        (bytes(17 << 20), "larger than 16 MB"),
        (b"MThd\0\0\0\6\0\0\0\1\1\xe0junk\0\0\0\0", "a broken MIDI file (it has no track)"),
        (b"MThd\0\0\0\6\0\7\0\1\1\xe0", "a broken MIDI file (its header makes no sense)"),
        (a_midi(b"\x00\x40\x40"), "a broken MIDI file (data without a command)"),
        (a_midi(b"\xff\xff\xff\xff\xff"), "a broken MIDI file (a number of more than four bytes)"),
        (a_midi((note_on(1) + note_off(1)) * 100_001 + end()), "more than 40,000 notes"),
        (a_midi(note_on(0) + end(), division=-25 * 256 + 40), "a MIDI file timed in frames, not in beats"),
        (
            a_midi(b"".join(ticks(240) + bytes([0x90, note, 80]) for note in (60, 64, 67)) + end()),
            "none of the MIDI notes 37, 38, 40 in it; it has 60 (1×), 64 (1×), 67 (1×)",
        ),
        (a_midi(played("RLRR") + end()), "4 of 4 notes have no hand, the first in beat 1"),
    ],
)
def test_refusals(content: bytes, said: str) -> None:
    assert refusal(content).startswith(f"x.mid: {said}")
