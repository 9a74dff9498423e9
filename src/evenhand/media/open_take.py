"""Open a take: from a file's bytes to samples or strokes, or to a refusal in one line."""

from __future__ import annotations

import stat
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from evenhand.media import refusals
from evenhand.media.channels import COARSE_SILENCE, FINE_SILENCE, Choice, choose
from evenhand.media.stored import (
    HIGHEST_RATE_HZ,
    IN_MEMORY_SAMPLES,
    LONGEST_S,
    LOWEST_RATE_HZ,
    MOST_CHANNELS,
    SHORTEST_S,
    LongSamples,
    Recording,
    Source,
    in_floats,
    repaired,
)
from evenhand.media.wav import read_wav
from evenhand.take import SNARE_NOTES, InputFacts, MidiTake, Progress, Samples, SoundTake

HEAD_BYTES = 4096
BROKEN_SHARE = 0.001  # of samples that are not numbers: fewer are mended, more are refused


def open_take(
    path: Path, *, midi_notes: Sequence[int] = SNARE_NOTES, progress: Progress | None = None
) -> SoundTake | MidiTake:
    """Open a recording or a Standard MIDI File; its content says what it is, not its name.

    Parameters
    ----------
    path
        A local file. No other file and no network is touched on its behalf.
    midi_notes
        The notes that are the pad's, in a MIDI file.
    progress
        Told the share that is done, 0 to 1.

    Raises
    ------
    UnreadableRecording
        The file is no recording, broken, too long or too short.
    NoSound
        There is nothing but silence, or none of the chosen notes.
    """
    path = Path(path)
    head = _first_bytes(path)
    try:
        if _is_midi(head):
            from evenhand.media.midi import read_midi

            return read_midi(path, midi_notes)
        recording = read_wav(path) or _decoded(path, head, progress)
    except OSError as error:
        raise refusals.not_opened(path, error) from None
    take = _as_take(path, recording)
    if progress is not None:
        progress(1.0)
    return take


def _first_bytes(path: Path) -> bytes:
    """Read the beginning of a regular file; refuse whatever is none, or empty."""
    try:
        kind = path.stat().st_mode
        if stat.S_ISDIR(kind):
            raise refusals.refusal(path, "folder")
        if not stat.S_ISREG(kind):
            raise refusals.refusal(path, "special")
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except OSError as error:
        raise refusals.not_opened(path, error) from None
    except ValueError:  # a name with a zero byte in it
        raise refusals.refusal(path, "missing") from None
    if not head:
        raise refusals.refusal(path, "empty")
    return head


def _is_midi(head: bytes) -> bool:
    """Tell by the first bytes whether a file is MIDI, bare or in a RIFF container."""
    return head.startswith(b"MThd") or (head.startswith(b"RIFF") and head[8:12] == b"RMID")


def _decoded(path: Path, head: bytes, progress: Progress | None) -> Recording:
    """Decode what is not plain; what that takes is loaded only now."""
    from evenhand.media.decoding import decode

    return decode(path, head, progress=progress)


def _as_take(path: Path, recording: Recording) -> SoundTake:
    """Choose a channel and say what was done."""
    _check_shape(path, recording)
    source = in_floats(recording.source)
    silent_span = COARSE_SILENCE if recording.source.form in {"u8", "s16"} else FINE_SILENCE
    choice = choose(source, recording.rate_hz, silent_span)
    if choice.broken > BROKEN_SHARE * source.frames:
        raise refusals.refusal(path, "broken_samples")
    if choice.silent:
        raise refusals.silent(path)
    facts = InputFacts(
        format=recording.format,
        seconds=recording.duration_s,
        rate_hz=recording.rate_hz,
        channels=source.channels,
        channel_used=choice.why,
        warnings=recording.warnings + choice.warnings,
    )
    return SoundTake(_samples(source, choice), recording.rate_hz, facts)


def _check_shape(path: Path, recording: Recording) -> None:
    """Refuse rates, channels and lengths that no take has."""
    if not LOWEST_RATE_HZ <= recording.rate_hz <= HIGHEST_RATE_HZ:
        raise refusals.odd_rate(path, recording.rate_hz)
    if not 1 <= recording.source.channels <= MOST_CHANNELS:
        raise refusals.odd_channels(path, recording.source.channels)
    if recording.duration_s > LONGEST_S:
        raise refusals.too_long(path, recording.duration_s)
    if recording.duration_s < SHORTEST_S:
        raise refusals.too_short(path, recording.duration_s)


def _samples(source: Source, choice: Choice) -> Samples:
    """Give the channel's samples: an array where it is short, slices from disk where it is long."""
    if source.frames > IN_MEMORY_SAMPLES:
        return LongSamples(source, choice.channel, mend=choice.broken > 0)
    samples = np.ascontiguousarray(source.read(0, source.frames, choice.channel))
    return repaired(samples) if choice.broken else samples
