"""Standard MIDI Files from an electronic pad: strokes as times and levels.

Conventions: times are seconds from the file's start; a level is 40 log10(velocity / 127) dB, the
square law usual for sound banks (from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from evenhand.errors import NoSound, UnreadableRecording
from evenhand.media import refusals
from evenhand.media.stored import LONGEST_S
from evenhand.music.formats.midi.events import (
    MOST_BYTES,
    BrokenMidi,
    Clock,
    Events,
    MidiFile,
    parse_midi,
    together,
)
from evenhand.take import SNARE_NOTES, InputFacts, MidiTake

MOST_STROKES = 50_000  # over an hour and a half of eighths at 1/4 = 240, eight a second


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
    events = _one_of(midi.tracks, notes, warnings) if midi.form == 2 else together(midi.tracks)
    chosen = sorted(
        (played.on, played.note, played.velocity) for played in events.notes if played.note in notes
    )
    others = Counter(played.note for played in events.notes if played.note not in notes)
    if not chosen:
        raise _no_strokes(path, notes, others)
    if len(chosen) > MOST_STROKES:
        raise refusals.too_many_strokes(path, len(chosen), MOST_STROKES)
    if others:
        warnings.append(f"other notes were left out: {_counted(others)}")
    clock = _clock(path, events)
    duration_s = clock.seconds(events.end)
    if duration_s > LONGEST_S:
        raise refusals.too_long(path, duration_s)
    ticks, numbers, velocities = zip(*chosen, strict=True)
    return MidiTake(
        times_s=np.array([clock.seconds(tick) for tick in ticks]),
        levels_db=40.0 * np.log10(np.array(velocities) / 127.0),
        notes=np.array(numbers),
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
        raise _broken(path, str(broken)) from None


def _damage(path: Path, midi: MidiFile) -> list[str]:
    """Warn of damaged tracks; refuse the file where nothing came before the damage."""
    damage = [track.damage for track in midi.tracks if track.damage is not None]
    if damage and not any(track.notes for track in midi.tracks):
        raise _broken(path, damage[0])
    return [f"damaged ({how}): only what comes before is read" for how in damage[:1]]


def _one_of(tracks: Sequence[Events], notes: Sequence[int], warnings: list[str]) -> Events:
    """Choose among independent tracks (format 2) the one with the most chosen notes."""
    wanted = [sum(played.note in notes for played in track.notes) for track in tracks]
    best = int(np.argmax(wanted))
    if sum(wanted) > wanted[best]:
        warnings.append(f"independent tracks (format 2): only track {best + 1} of {len(tracks)} is read")
    return tracks[best]


def _clock(path: Path, events: Events) -> Clock:
    try:
        return Clock(events)
    except BrokenMidi as broken:
        raise _broken(path, str(broken)) from None


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
