"""Standard MIDI Files: bytes -> notes with their ends, words, tempos and meters; ticks -> seconds.

Nothing that is not asked for can be in the way: a general reader gives up over a key signature that does not
exist. A track is read as far as it makes sense, and ``damage`` says what ended it.

Conventions: times are ticks from the start; channels count from 0. After "Standard MIDI Files 1.0".
"""

from __future__ import annotations

import struct
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate, pairwise

from evenhand.music.formats.passages import Reading

REPETITION = "repetition"  # how the markers of our own files begin
WRITTEN_BY = "written by Evenhand"  # in our own files: their notes' lengths and words can be trusted
MOST_BYTES = 16 << 20
DEFAULT_TEMPO_US = 500_000  # microseconds a quarter note, until the file says otherwise
FRAMES = 0x8000  # the division's bit that says: frames (SMPTE), not parts of a quarter note
_FRAME_RATES = {24: 24.0, 25: 25.0, 29: 30_000 / 1001, 30: 30.0}
_DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
_TRACK_NAME, _LYRIC, _TEXT, _MARKER, _END, _TEMPO, _METER = 0x03, 0x05, 0x01, 0x06, 0x2F, 0x51, 0x58
_NO_SENSE = "its header makes no sense"


class BrokenMidi(Exception):
    """The file is no MIDI file, or stops being one; its text says how, for a person."""


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
    """What a track holds, or all tracks together.

    ``words`` are lyrics and texts; ``tempos`` (tick, microseconds a quarter note); ``meters`` (tick, beats,
    unit); ``ticks_a_quarter`` is the header's division, which with its bit ``FRAMES`` counts frames.
    """

    ticks_a_quarter: int
    notes: list[Played] = field(default_factory=list)
    words: list[tuple[int, str]] = field(default_factory=list)
    markers: list[tuple[int, str]] = field(default_factory=list)
    tempos: list[tuple[int, int]] = field(default_factory=list)
    meters: list[tuple[int, int, int]] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    end: int = 0
    size: int = 0  # bytes
    damage: str | None = None  # where reading had to stop

    @property
    def own(self) -> bool:
        """Tell whether Evenhand wrote the file."""
        return any(text == WRITTEN_BY for _, text in self.words[:16])


@dataclass(frozen=True, slots=True)
class MidiFile:
    """A file: format 0 to 2, and its tracks."""

    form: int
    tracks: tuple[Events, ...]


class Clock:
    """Ticks to seconds: by the tempos where ticks divide a beat, else by frames.

    Raises
    ------
    BrokenMidi
        Where the frames are none that there are.
    """

    def __init__(self, events: Events) -> None:
        division = events.ticks_a_quarter
        changes = sorted([(0, DEFAULT_TEMPO_US), *events.tempos], key=lambda change: change[0])
        ticks_s = [tempo * 1e-6 / division for _, tempo in changes]
        if division & FRAMES:
            frames, within = 256 - (division >> 8), division & 0xFF
            if frames not in _FRAME_RATES or within == 0:
                raise BrokenMidi(_NO_SENSE)
            changes, ticks_s = changes[:1], [1 / (_FRAME_RATES[frames] * within)]
        self._at = [tick for tick, _ in changes]
        self._tempos_us = [tempo for _, tempo in changes]
        self._ticks_s = ticks_s
        spans = zip(pairwise(self._at), ticks_s[:-1], strict=True)
        self._reached_s = list(accumulate(((b - a) * tick_s for (a, b), tick_s in spans), initial=0.0))

    def seconds(self, tick: int) -> float:
        """Return a tick's time from the start."""
        last = self._last(tick)
        return self._reached_s[last] + (tick - self._at[last]) * self._ticks_s[last]

    def span_s(self, start: int, stop: int) -> float:
        """Return how long the ticks from ``start`` to ``stop`` last."""
        return self.seconds(stop) - self.seconds(start)

    def microseconds_at(self, tick: int) -> int:
        """Return the length of a quarter note at a tick."""
        return self._tempos_us[self._last(tick)]

    def _last(self, tick: int) -> int:
        return bisect_right(self._at, tick) - 1


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
        raise BrokenMidi(_NO_SENSE)
    tracks = []
    at = 8 + size
    while at + 8 <= len(content):
        name, size = struct.unpack_from(">4sI", content, at)
        if name == b"MTrk":
            tracks.append(_Track(content[at + 8 : at + 8 + size], division).read())
        at += 8 + size
    if not tracks:
        raise BrokenMidi("it has no track")
    return MidiFile(form, tuple(tracks))


def together(tracks: Sequence[Events]) -> Events:
    """Put tracks that play together into one, in order of time; the tempo of any is the tempo of all."""
    all_of = Events(tracks[0].ticks_a_quarter, end=max(track.end for track in tracks))
    for track in tracks:
        all_of.notes += track.notes
        all_of.words += track.words
        all_of.markers += track.markers
        all_of.tempos += track.tempos
        all_of.meters += track.meters
        all_of.names += track.names
    all_of.notes.sort(key=lambda note: (note.on, note.note))
    for timed in (all_of.words, all_of.markers, all_of.tempos, all_of.meters):
        timed.sort(key=lambda each: each[0])
    return all_of


def read_events(content: bytes, reading: Reading) -> Events:
    """Read all tracks of a score into one.

    Raises
    ------
    UnreadableScore
        Where it is broken, or its times are not in beats.
    """
    if len(content) > MOST_BYTES:
        raise reading.refuse(f"larger than {MOST_BYTES >> 20} MB", "Export the drum track alone.")
    try:
        tracks = _score_tracks(parse_midi(content), reading)
    except BrokenMidi as broken:
        again = "Save it again as a Standard MIDI File."
        raise reading.refuse(f"a broken MIDI file ({broken})", again) from None
    events = together(tracks)
    reading.check_number(len(events.notes))
    return events


def _score_tracks(midi: MidiFile, reading: Reading) -> Sequence[Events]:
    """Return the tracks to be read as one, none of them damaged."""
    tracks = midi.tracks
    if tracks[0].ticks_a_quarter & FRAMES:
        raise reading.refuse("a MIDI file timed in frames, not in beats", "Save it with beats.")
    if midi.form == 2 and len(tracks) > 1:
        reading.warn(f"independent tracks: only the longest of {len(tracks)} was read")
        tracks = (max(tracks, key=lambda track: track.size),)
    for track in tracks:
        if track.damage is not None:
            raise BrokenMidi(track.damage)
    return tracks


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


class _Track:
    """Reads one track."""

    def __init__(self, data: bytes, division: int) -> None:
        self.data, self.events = data, Events(division, size=len(data))
        self.at = self.running = 0
        self.open: dict[tuple[int, int], Played] = {}

    def read(self) -> Events:
        """Read to the track's end, or as far as it makes sense; notes that nothing ends last until then."""
        try:
            while self._event():
                pass
        except BrokenMidi as broken:
            self.events.damage = str(broken)
        for note in self.open.values():
            note.off = max(self.events.end, note.on)
        return self.events

    def _event(self) -> bool:
        """Read one event; say whether the track goes on."""
        self.events.end += self._number()
        status = self._bytes(1)[0]
        if status < 0x80:
            self.at -= 1
            status = self.running
        if status == 0xFF:
            return self._meta()
        if status in {0xF0, 0xF7}:
            self._bytes(self._number())
        elif (count := _DATA_BYTES.get(status & 0xF0)) is not None:
            self.running = status
            self._message(status, self._bytes(count))
        else:
            raise BrokenMidi("data without a command")
        return True

    def _message(self, status: int, data: bytes) -> None:
        """Begin or end a note; velocity 0 ends one."""
        kind, channel = status & 0xF0, status & 0x0F
        if kind not in {0x80, 0x90} or max(data) > 0x7F:
            return
        before = self.open.pop((channel, data[0]), None)
        if before:
            before.off = self.events.end
        if kind == 0x90 and data[1]:
            note = Played(self.events.end, self.events.end, data[0], channel, data[1])
            self.open[channel, data[0]] = note
            self.events.notes.append(note)

    def _meta(self) -> bool:
        kind = self._bytes(1)[0]
        data = self._bytes(self._number())
        events, tick = self.events, self.events.end
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
            raise BrokenMidi("it ends too early")
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
        raise BrokenMidi("a number of more than four bytes")


def _text(data: bytes) -> str:
    """Read text, which MIDI leaves without a code: UTF-8 where it is that, else Latin-1."""
    try:
        text = data[:400].decode("utf-8")
    except UnicodeDecodeError:
        text = data[:400].decode("latin-1")
    return " ".join(text.split())
