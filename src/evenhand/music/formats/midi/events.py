"""A Standard MIDI File's bytes -> its notes with their ends, words, tempos and meters.

Conventions: times are ticks from the start; channels count from 0. After "Standard MIDI Files 1.0".
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

from evenhand.music.formats.passages import Reading

REPETITION = "repetition"  # how the markers of our own files begin
WRITTEN_BY = "written by Evenhand"  # in our own files: their notes' lengths and words can be trusted
MOST_BYTES = 16 << 20
_DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
_TRACK_NAME, _LYRIC, _TEXT, _MARKER, _END, _TEMPO, _METER = 0x03, 0x05, 0x01, 0x06, 0x2F, 0x51, 0x58
_AGAIN = "Save it again as a Standard MIDI File."


class _Broken(Exception):
    """The bytes make no sense from here on."""


@dataclass(slots=True)
class Played:
    """One note: when it begins and ends (ticks), which, on which channel, how hard (1 to 127)."""

    on: int
    off: int
    note: int
    channel: int
    velocity: int


@dataclass(slots=True)
class Events:
    """What a file holds. ``words`` are lyrics and texts, ``meters`` are (tick, beats, unit)."""

    ticks_a_quarter: int
    notes: list[Played] = field(default_factory=list)
    words: list[tuple[int, str]] = field(default_factory=list)
    markers: list[tuple[int, str]] = field(default_factory=list)
    tempos: list[tuple[int, int]] = field(default_factory=list)
    meters: list[tuple[int, int, int]] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    end: int = 0

    @property
    def own(self) -> bool:
        """Tell whether Evenhand wrote the file."""
        return any(text == WRITTEN_BY for _, text in self.words[:16])


def read_events(content: bytes, reading: Reading) -> Events:
    """Read all tracks into one.

    Raises
    ------
    UnreadableScore
        Where it is broken, or its times are not in beats.
    """
    if len(content) > MOST_BYTES:
        raise reading.refuse(f"larger than {MOST_BYTES >> 20} MB", "Export the drum track alone.")
    try:
        form, division, tracks = _chunks(_out_of_riff(content))
        if division & 0x8000:
            raise reading.refuse("a MIDI file timed in frames, not in beats", "Save it with beats.")
        if form == 2 and len(tracks) > 1:
            reading.warn(f"independent tracks: only the longest of {len(tracks)} was read")
            tracks = [max(tracks, key=len)]
        events = Events(division)
        for track in tracks:
            _Track(track, events).read()
    except _Broken as broken:
        raise reading.refuse(f"a broken MIDI file ({broken})", _AGAIN) from None
    except IndexError:
        raise reading.refuse("a broken MIDI file (it ends too early)", _AGAIN) from None
    reading.check_number(len(events.notes))
    events.notes.sort(key=lambda note: (note.on, note.note))
    for timed in (events.words, events.markers, events.tempos, events.meters):
        timed.sort(key=lambda each: each[0])
    return events


def _out_of_riff(content: bytes) -> bytes:
    """Take the file out of a RIFF container, if it is in one."""
    if not content.startswith(b"RIFF"):
        return content
    at = content.find(b"data")
    return content[at + 8 :] if at >= 0 else b""


def _chunks(content: bytes) -> tuple[int, int, list[bytes]]:
    """Return the format, the division and the tracks' bytes."""
    if len(content) < 14:
        raise _Broken("it ends too early")
    name, size, form, _, division = struct.unpack_from(">4sIHHH", content)
    if name != b"MThd" or size < 6 or form > 2 or division == 0:
        raise _Broken("its header makes no sense")
    tracks = []
    at = 8 + size
    while at + 8 <= len(content):
        name, size = struct.unpack_from(">4sI", content, at)
        if name == b"MTrk":
            tracks.append(content[at + 8 : at + 8 + size])
        at += 8 + size
    if not tracks:
        raise _Broken("it has no track")
    return form, division, tracks


class _Track:
    """Reads one track into the events of all."""

    def __init__(self, data: bytes, events: Events) -> None:
        self.data, self.events = data, events
        self.at = self.tick = self.running = 0
        self.open: dict[tuple[int, int], Played] = {}

    def read(self) -> None:
        """Read to the track's end; notes that nothing ends last until then."""
        while self._event():
            pass
        for note in self.open.values():
            note.off = max(self.tick, note.on)
        self.events.end = max(self.events.end, self.tick)

    def _event(self) -> bool:
        """Read one event; say whether the track goes on."""
        self.tick += self._number()
        status = self.data[self.at]
        if status >= 0x80:
            self.at += 1
        else:
            status = self.running
        if status == 0xFF:
            return self._meta()
        if status in {0xF0, 0xF7}:
            self._bytes(self._number())
        elif (count := _DATA_BYTES.get(status & 0xF0)) is not None:
            self.running = status
            self._message(status, self._bytes(count))
        else:
            raise _Broken("data without a command")
        return True

    def _message(self, status: int, data: bytes) -> None:
        """Begin or end a note; velocity 0 ends one."""
        kind, channel = status & 0xF0, status & 0x0F
        if kind not in {0x80, 0x90} or max(data) > 0x7F:
            return
        before = self.open.pop((channel, data[0]), None)
        if before:
            before.off = self.tick
        if kind == 0x90 and data[1]:
            note = Played(self.tick, self.tick, data[0], channel, data[1])
            self.open[channel, data[0]] = note
            self.events.notes.append(note)

    def _meta(self) -> bool:
        kind = self._bytes(1)[0]
        data = self._bytes(self._number())
        events, tick = self.events, self.tick
        if kind in {_LYRIC, _TEXT}:
            events.words.append((tick, _text(data)))
        elif kind == _MARKER:
            events.markers.append((tick, _text(data)))
        elif kind == _TRACK_NAME:
            events.names.append(_text(data))
        elif kind == _TEMPO and len(data) == 3 and any(data):
            events.tempos.append((tick, int.from_bytes(data, "big")))
        elif kind == _METER and len(data) >= 2 and data[1] < 8:
            events.meters.append((tick, data[0], 1 << data[1]))
        return kind != _END

    def _bytes(self, count: int) -> bytes:
        data = self.data[self.at : self.at + count]
        if len(data) < count:
            raise IndexError
        self.at += count
        return data

    def _number(self) -> int:
        """Read a number of seven bits a byte."""
        number = 0
        for _ in range(4):
            byte = self._bytes(1)[0]
            number = number << 7 | byte & 0x7F
            if byte < 0x80:
                return number
        raise _Broken("a number of more than four bytes")


def _text(data: bytes) -> str:
    """Read text, which MIDI leaves without a code: UTF-8 where it is that, else Latin-1."""
    try:
        text = data[:400].decode("utf-8")
    except UnicodeDecodeError:
        text = data[:400].decode("latin-1")
    return " ".join(text.split())
