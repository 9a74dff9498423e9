"""Standard MIDI Files from an electronic pad: strokes as times and levels.

Conventions: times are seconds from the file's start; a level is 40 log10(velocity / 127) dB, the
square law usual for sound banks (from memory). Ticks become seconds here and nowhere else.

Standard MIDI Files, read for strokes and tempo only; nothing else in them can be in the way.

A general reader gives up over a key signature that does not exist; a pad's strokes do not depend on
it. Conventions: times are ticks from the start of a track. After "Standard MIDI Files 1.0".
"""

from __future__ import annotations

import struct
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import NoSound, UnreadableRecording
from evenhand.media import refusals
from evenhand.media.stored import LONGEST_S
from evenhand.take import SNARE_NOTES, InputFacts, MidiTake

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


MOST_BYTES = 16 << 20
MOST_STROKES = 50_000  # over an hour and a half of eighths at 1/4 = 240, eight a second
DEFAULT_TEMPO_US = 500_000  # microseconds a quarter note, until the file says otherwise
_SMPTE_RATES = {24: 24.0, 25: 25.0, 29: 30_000 / 1001, 30: 30.0}


def read_midi(path: Path, notes: Sequence[int] = SNARE_NOTES) -> MidiTake:
    """Read the chosen notes' strokes.

    Raises
    ------
    UnreadableRecording
        The file is broken, or hours long.
    NoSound
        None of the chosen notes is in it.
    """
    midi = _parsed(path)
    warnings = _damage(path, midi)
    events = _one_of(midi.tracks, notes, warnings) if midi.form == 2 else _together(midi.tracks)
    chosen = [stroke for stroke in events.strokes if stroke[1] in set(notes)]
    others = Counter(note for _, note, _ in events.strokes if note not in set(notes))
    if not chosen:
        raise _no_strokes(path, notes, others)
    if len(chosen) > MOST_STROKES:
        raise refusals.too_many_strokes(path, len(chosen), MOST_STROKES)
    if others:
        warnings.append(f"other notes were left out: {_counted(others)}")
    ticks, numbers, velocities = np.array(sorted(chosen), dtype=np.int64).T
    times_s = _seconds(path, np.append(ticks, events.end), events.tempos, midi.division)
    duration_s = float(times_s[-1])
    return MidiTake(
        times_s=times_s[:-1],
        levels_db=40.0 * np.log10(velocities / 127.0),
        notes=numbers,
        facts=InputFacts(format="midi", seconds=duration_s, warnings=tuple(warnings)),
        duration_s=duration_s,
    )


def _parsed(path: Path) -> MidiFile:
    """Parse the file, or refuse it as broken."""
    if path.stat().st_size > MOST_BYTES:
        raise _broken(path, f"larger than {MOST_BYTES >> 20} MB")
    try:
        return parse_midi(path.read_bytes())
    except BrokenMidi as broken:
        raise _broken(path, broken.how) from None


def _damage(path: Path, midi: MidiFile) -> list[str]:
    """Warn of damaged tracks; refuse the file where nothing came before the damage."""
    damage = [track.damage for track in midi.tracks if track.damage is not None]
    if damage and not any(track.strokes for track in midi.tracks):
        raise _broken(path, damage[0])
    return [f"damaged ({how}): only what comes before is read" for how in damage[:1]]


def _together(tracks: Sequence[Track]) -> Track:
    """Put tracks that play together into one; the tempo of any is the tempo of all."""
    return Track(
        strokes=[stroke for track in tracks for stroke in track.strokes],
        tempos=[tempo for track in tracks for tempo in track.tempos],
        end=max((track.end for track in tracks), default=0),
    )


def _one_of(tracks: Sequence[Track], notes: Sequence[int], warnings: list[str]) -> Track:
    """Choose among independent tracks (format 2) the one with the most chosen notes."""
    wanted = [sum(note in set(notes) for _, note, _ in track.strokes) for track in tracks]
    best = int(np.argmax(wanted))
    if sum(wanted) > wanted[best]:
        warnings.append(f"independent tracks (format 2): only track {best + 1} of {len(tracks)} is read")
    return tracks[best]


def _seconds(
    path: Path, ticks: NDArray[np.int64], tempos: list[tuple[int, int]], division: int
) -> NDArray[np.float64]:
    """Turn ticks into seconds: by the tempos where ticks divide a beat, else by frames (SMPTE)."""
    if division & 0x8000:
        frames, within = 256 - (division >> 8), division & 0xFF
        if frames not in _SMPTE_RATES or within == 0:
            raise _broken(path, "its header makes no sense")
        seconds = ticks / (_SMPTE_RATES[frames] * within)
    else:
        changes = sorted([(0, DEFAULT_TEMPO_US), *tempos], key=lambda change: change[0])
        at = np.array([tick for tick, _ in changes], np.int64)
        tick_s = np.array([tempo for _, tempo in changes]) * 1e-6 / division
        reached_s = np.concatenate([[0.0], np.cumsum(np.diff(at) * tick_s[:-1])])
        last = np.searchsorted(at, ticks, side="right") - 1
        seconds = reached_s[last] + (ticks - at[last]) * tick_s[last]
    if seconds[-1] > LONGEST_S:
        raise refusals.too_long(path, float(seconds[-1]))
    return np.asarray(seconds, np.float64)


def _broken(path: Path, how: str) -> UnreadableRecording:
    return UnreadableRecording(
        name=path.name, got=f"a broken MIDI file ({how})", do="Save it again as a Standard MIDI File."
    )


def _no_strokes(path: Path, notes: Sequence[int], others: Counter[int]) -> NoSound:
    """Say which notes there are instead of the chosen ones."""
    asked = ", ".join(str(note) for note in notes)
    if not others:
        return NoSound(got=f"{path.name}: a MIDI file without any notes", do="Record the pad's notes in it.")
    common = [str(note) for note, _ in others.most_common(3)]
    return NoSound(
        got=f"{path.name}: none of the MIDI notes {asked}; it has {_counted(others)}",
        do=f"Say which are the pad's, such as {','.join(common)}.",
    )


def _counted(notes: Counter[int]) -> str:
    """List notes with how often they come, the commonest first, eight at most."""
    listed = ", ".join(f"{note} ({times}×)" for note, times in notes.most_common(8))
    return listed + (", and more" if len(notes) > 8 else "")
