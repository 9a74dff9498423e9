"""Standard MIDI Files from an electronic pad: strokes as times and levels.

Conventions: times are seconds from the file's start; a level is 40 log10(velocity / 127) dB, the
square law usual for sound banks (from memory). Ticks become seconds here and nowhere else.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenhand.application.ports import SNARE_NOTES, MidiTake
from evenhand.domain.take import InputFacts
from evenhand.errors import NoSound, UnreadableRecording
from evenhand.media import refusals
from evenhand.media.midi_file import BrokenMidi, MidiFile, Track, parse_midi
from evenhand.media.recording import LONGEST_S

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
