"""Standard MIDI Files, read for strokes and tempo only; nothing else in them can be in the way.

A general reader gives up over a key signature that does not exist; a pad's strokes do not depend on
it. Conventions: times are ticks from the start of a track. After "Standard MIDI Files 1.0".
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

_DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
_NOTE_ON, _SYSEX, _SYSEX_MORE, _META = 0x90, 0xF0, 0xF7, 0xFF
_TEMPO, _END = 0x51, 0x2F


class BrokenMidi(Exception):
    """The file is no MIDI file, or stops being one; ``how`` says it for a person."""

    def __init__(self, how: str) -> None:
        super().__init__(how)
        self.how = how


@dataclass(slots=True)
class Track:
    """What counts in a track. ``damage`` says where reading had to stop, else None."""

    strokes: list[tuple[int, int, int]] = field(default_factory=list)  # tick, note, velocity
    tempos: list[tuple[int, int]] = field(default_factory=list)  # tick, microseconds a quarter note
    end: int = 0
    damage: str | None = None


@dataclass(frozen=True, slots=True)
class MidiFile:
    """A file: format 0 to 2; the division as it stands in the header, 16 bits; the tracks."""

    form: int
    division: int
    tracks: tuple[Track, ...]


def parse_midi(content: bytes) -> MidiFile:
    """Read a file's bytes, bare or in a RIFF container.

    Raises
    ------
    BrokenMidi
        There is no header that makes sense, or no track.
    """
    content = _out_of_riff(content)
    if len(content) < 14:
        raise BrokenMidi("it ends too early")
    name, size, form, _, division = struct.unpack_from(">4sIHHH", content)
    if name != b"MThd" or size < 6 or form > 2 or division == 0:
        raise BrokenMidi("its header makes no sense")
    tracks = []
    at = 8 + size
    while at + 8 <= len(content):
        name, size = struct.unpack_from(">4sI", content, at)
        if name == b"MTrk":
            tracks.append(_read_track(content[at + 8 : at + 8 + size]))
        at += 8 + size
    if not tracks:
        raise BrokenMidi("it has no track")
    return MidiFile(form, division, tuple(tracks))


def _out_of_riff(content: bytes) -> bytes:
    """Take the file out of a RIFF container, if it is in one."""
    if not content.startswith(b"RIFF"):
        return content
    at = 12
    while at + 8 <= len(content):
        name, size = struct.unpack_from("<4sI", content, at)
        if name == b"data":
            return content[at + 8 : at + 8 + size]
        at += 8 + size + size % 2
    return b""


def _read_track(data: bytes) -> Track:
    """Read a track as far as it makes sense."""
    track = Track()
    try:
        _read_events(data, track)
    except BrokenMidi as broken:
        track.damage = broken.how
    except IndexError:
        track.damage = "it ends too early"
    return track


def _read_events(data: bytes, track: Track) -> None:
    """Read events one after another; an index error means that the data end too early."""
    at, running = 0, 0
    while at < len(data):
        after, at = _number(data, at)
        track.end += after
        if data[at] >= 0x80:
            status, at = data[at], at + 1
        else:
            status = running
        if status in {_META, _SYSEX, _SYSEX_MORE}:
            at = _read_long_event(data, at, status, track)
            if at < 0:
                return
        elif (count := _DATA_BYTES.get(status & 0xF0)) is not None:
            running = status
            _read_stroke(data, at, status, track)
            at += count
        else:
            raise BrokenMidi("data without a command")
    raise BrokenMidi("it ends too early")


def _read_stroke(data: bytes, at: int, status: int, track: Track) -> None:
    """Keep a note that is struck; velocity 0 is how pads say note off."""
    if status & 0xF0 == _NOTE_ON and 0 < data[at + 1] < 0x80 and data[at] < 0x80:
        track.strokes.append((track.end, data[at], data[at + 1]))


def _read_long_event(data: bytes, at: int, status: int, track: Track) -> int:
    """Step over an event that states its length; keep a tempo; return -1 at the track's end."""
    kind = 0
    if status == _META:
        kind, at = data[at], at + 1
    size, at = _number(data, at)
    if kind == _END:
        return -1
    if kind == _TEMPO and size == 3 and (tempo := int.from_bytes(data[at : at + 3], "big")):
        track.tempos.append((track.end, tempo))
    return at + size


def _number(data: bytes, at: int) -> tuple[int, int]:
    """Read a number of seven bits a byte, and where the next byte is."""
    number = 0
    for place in range(at, at + 4):
        number = number << 7 | data[place] & 0x7F
        if data[place] < 0x80:
            return number, place + 1
    raise BrokenMidi("a number of more than four bytes")
