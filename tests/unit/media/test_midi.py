"""Standard MIDI Files, written byte by byte; expected times are worked out by hand."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from evenhand.errors import NoSound, UnreadableRecording
from evenhand.media.open_take import open_take
from evenhand.take import MidiTake
from tests.media_files import a_midi, end, note_on, tempo, ticks


def read(tmp_path: Path, content: bytes, *, notes: tuple[int, ...] = (37, 38, 40)) -> MidiTake:
    path = tmp_path / "take.mid"
    path.write_bytes(content)
    take = open_take(path, midi_notes=notes)
    assert isinstance(take, MidiTake)
    return take


def test_without_a_tempo_a_quarter_note_lasts_half_a_second(tmp_path: Path) -> None:
    take = read(tmp_path, a_midi(note_on(0) + note_on(480) + note_on(240) + end(480)))
    assert take.times_s.tolist() == [0.0, 0.5, 0.75]
    assert take.duration_s == take.facts.seconds == 1.25
    assert take.facts.format == "midi"


def test_a_tempo_change_bends_what_follows_only(tmp_path: Path) -> None:
    """480 ticks at 120, then 480 at 60 beats a minute: 0.5 s and 1 s."""
    track = note_on(0) + note_on(480) + tempo(0, 1_000_000) + note_on(480) + end()
    assert read(tmp_path, a_midi(track)).times_s.tolist() == [0.0, 0.5, 1.5]


def test_in_format_1_the_first_track_gives_the_tempo_of_all(tmp_path: Path) -> None:
    conductor = tempo(0, 250_000) + tempo(960, 1_000_000) + end()
    pad = note_on(480) + note_on(960) + end()
    take = read(tmp_path, a_midi(conductor, pad, form=1))
    assert take.times_s.tolist() == [0.25, 1.5]  # a quarter note of 0.25 s; another, then one of 1 s


def test_tracks_that_play_together_are_put_in_order(tmp_path: Path) -> None:
    take = read(tmp_path, a_midi(note_on(960) + end(), note_on(480, 40) + end(), form=1))
    assert take.times_s.tolist() == [0.5, 1.0]
    assert take.notes.tolist() == [40, 38]


def test_in_format_2_one_track_is_read_and_it_is_said(tmp_path: Path) -> None:
    take = read(tmp_path, a_midi(note_on(0) + end(), note_on(480) + note_on(480) + end(), form=2))
    assert take.times_s.tolist() == [0.5, 1.0]
    assert "only track 2 of 2" in take.facts.warnings[0]


def test_running_status_repeats_the_command(tmp_path: Path) -> None:
    track = (
        note_on(0) + ticks(480) + bytes([38, 90]) + ticks(480) + bytes([38, 0]) + ticks(480) + bytes([38, 80])
    )
    take = read(tmp_path, a_midi(track + end()))
    assert take.times_s.tolist() == [0.0, 0.5, 1.5]  # velocity 0 in between is a note off


def test_a_division_in_frames_needs_no_tempo(tmp_path: Path) -> None:
    """25 frames a second of 40 ticks: a tick is a millisecond (the MIDI standard's own example)."""
    division = struct.unpack(">H", bytes([256 - 25, 40]))[0]
    take = read(
        tmp_path, a_midi(tempo(0, 1_000_000) + note_on(100) + note_on(250) + end(), division=division)
    )
    assert take.times_s.tolist() == pytest.approx([0.1, 0.35], abs=1e-12)


def test_a_riff_around_it_is_taken_off(tmp_path: Path) -> None:
    inner = a_midi(note_on(480) + end())
    content = (
        b"RIFF" + struct.pack("<I", len(inner) + 12) + b"RMIDdata" + struct.pack("<I", len(inner)) + inner
    )
    assert read(tmp_path, content).times_s.tolist() == [0.5]


def test_other_notes_are_left_out_and_counted(tmp_path: Path) -> None:
    take = read(tmp_path, a_midi(note_on(0) + note_on(10, 42) + note_on(10, 42) + note_on(0, 36) + end()))
    assert take.notes.tolist() == [38]
    assert take.facts.warnings == ("other notes were left out: 42 (2×), 36 (1×)",)


def test_the_notes_can_be_chosen(tmp_path: Path) -> None:
    content = a_midi(note_on(0) + note_on(480, 31) + end())
    assert read(tmp_path, content, notes=(31,)).times_s.tolist() == [0.5]


def test_without_the_chosen_notes_it_says_which_there_are(tmp_path: Path) -> None:
    content = a_midi(note_on(0, 31) + note_on(480, 31) + note_on(0, 48) + end())
    expected = (
        r"take\.mid: none of the MIDI notes 37, 38, 40; it has 31 \(2×\), 48 \(1×\)\. .* such as 31,48\."
    )
    with pytest.raises(NoSound, match=expected):
        read(tmp_path, content)


def test_without_any_notes_it_says_so(tmp_path: Path) -> None:
    with pytest.raises(NoSound, match="without any notes"):
        read(tmp_path, a_midi(tempo(0, 500_000) + end()))


def test_a_cut_off_file_gives_the_strokes_before_the_cut(tmp_path: Path) -> None:
    take = read(tmp_path, a_midi(note_on(0) + note_on(480) + note_on(480) + end())[:-6])
    assert take.times_s.tolist() == [0.0, 0.5]
    assert take.facts.warnings == ("damaged (it ends too early): only what comes before is read",)


def test_what_is_no_stroke_is_never_in_the_way(tmp_path: Path) -> None:
    """A key signature that does not exist, a system message, a controller, pressure, an unknown chunk."""
    nonsense = (
        ticks(0) + bytes.fromhex("ff5902 63ff")
        + ticks(0) + bytes.fromhex("f003 7e09f7")
        + ticks(0) + bytes.fromhex("b90440")
        + ticks(0) + bytes.fromhex("d940")
        + ticks(0) + bytes.fromhex("ff5103 000000")
    )  # fmt: skip
    content = a_midi(note_on(0) + nonsense + note_on(480) + end())
    content = content[:14] + b"XFIH" + struct.pack(">I", 3) + b"abc" + content[14:]
    take = read(tmp_path, content)
    assert take.times_s.tolist() == [0.0, 0.5]
    assert take.facts.warnings == ()


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(a_midi(note_on(0) + end())[:20], id="cut in a track"),
        pytest.param(b"MThd", id="cut in the header"),
        pytest.param(a_midi(note_on(0) + end(), division=0), id="a division of 0"),
        pytest.param(a_midi(note_on(0) + end(), form=7), id="a format that is none"),
        pytest.param(a_midi(note_on(0) + end(), division=0x9000), id="frames that are none"),
        pytest.param(a_midi(bytes([0, 38, 100]) + end()), id="data without a command"),
        pytest.param(a_midi(b"\xff" * 9), id="a time without end"),
        pytest.param(a_midi(ticks(0) + bytes([0xF4])), id="a command that no file has"),
        pytest.param(b"RIFF\x04\0\0\0RMID", id="a RIFF with nothing in it"),
    ],
)
def test_broken_midi_is_refused_in_one_line(tmp_path: Path, content: bytes) -> None:
    with pytest.raises(UnreadableRecording, match=r"take\.mid: a broken MIDI file \(.+\)\. Save it again"):
        read(tmp_path, content)


def test_hours_of_midi_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UnreadableRecording, match="hours long"):
        read(tmp_path, a_midi(note_on(0) + note_on(0x0FFFFFFF) + end()))
