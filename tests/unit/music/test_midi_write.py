"""Exercises as Standard MIDI Files: bytes worked out by hand from the format's description."""

from __future__ import annotations

import pytest

from evenhand.errors import WrongOptions
from evenhand.music.exercise import Tempo
from evenhand.music.formats.midi.write import to_midi
from evenhand.music.text import parse_exercise


def midi_of(text: str, tempo: str | None = None, **options: object) -> bytes:
    beats = Tempo.parse(tempo) if tempo else None
    return to_midi(parse_exercise(text), tempo=beats, **options)  # type: ignore[arg-type]  # passed on


def test_the_header_says_one_track_of_480_ticks_a_quarter() -> None:
    content = midi_of("1/8: RL")
    assert content[:14] == bytes.fromhex("4d546864 00000006 0000 0001 01e0".replace(" ", ""))
    assert content[14:18] == b"MTrk"
    assert int.from_bytes(content[18:22], "big") == len(content) - 22
    assert content.endswith(b"\xff\x2f\x00")


@pytest.mark.parametrize(
    ("tempo", "event"),
    [
        ("1/4=120", "ff510307a120"),  # 500,000 us, the format's own example
        ("1/4=90", "ff51030a2c2b"),  # 666,667 us, rounded up from 666,666.67
        ("1/8=240", "ff510307a120"),  # eighths at 240 are quarters at 120
        ("3/8=80", "ff510307a120"),  # dotted quarters at 80 are quarters at 120
    ],
)
def test_tempo(tempo: str, event: str) -> None:
    assert bytes.fromhex(event) in midi_of("1/8: RL", tempo)


def test_without_a_tempo_none_is_written() -> None:
    assert b"\xff\x51" not in midi_of("1/8: RL")


@pytest.mark.parametrize(
    ("meter", "event"), [("4/4", "ff580404021808"), ("6/8", "ff580406030c08"), ("5/2", "ff580405013008")]
)
def test_meter(meter: str, event: str) -> None:
    """FF 58 04, beats, the unit's power of two, 24ths of a quarter in the unit, 8."""
    assert bytes.fromhex(event) in midi_of(f"{meter} 1/8: RL")


def test_a_note_is_its_letter_its_blow_and_its_end() -> None:
    """An eighth is 240 ticks, 81 70 in sevens of bits; the tenth channel is 9; General MIDI's snare is 26."""
    track = midi_of("1/8: R")[22:]
    blow = track[track.index(b"\xff\x05") - 1 :]
    assert blow[:6] == bytes.fromhex("00ff05015200")  # at once: the lyric R; at once:
    assert blow[6:8] == bytes.fromhex("9926")
    assert blow[9:14] == bytes.fromhex("8170892640")  # 240 ticks on it ends


def test_a_repetition_is_written_out_and_marked() -> None:
    content = midi_of("1/8: RLRR", repetitions=3)
    assert content.count(b"\xff\x06\x0crepetition ") == 3
    assert content.count(b"\x99\x26") == 12
    assert b"\xff\x06" not in midi_of("1/8: RLRR")


def test_the_drum_is_the_note_that_was_asked_for() -> None:
    assert midi_of("1/8: RL", note=40).count(b"\x99\x28") == 2


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"tempo": "1/64=20"}, "at least 3.58 quarter notes a minute"),  # 60e6 / 16,777,215 us
        ({"repetitions": 0}, "got 0 repetitions"),
        ({"repetitions": 1_000_000}, "1 to 500000 for this exercise"),
        ({"note": 128}, "0 to 127"),
    ],
)
def test_what_midi_cannot_hold_is_refused(options: dict[str, object], said: str) -> None:
    with pytest.raises(WrongOptions, match=said):
        midi_of("1/8: RL", **options)  # type: ignore[arg-type]  # passed on
