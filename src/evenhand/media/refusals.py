"""What is said of a file that is no recording: one table, by what went wrong."""

from __future__ import annotations

from pathlib import Path

from evenhand.errors import NoSound, StretchedTime, UnreadableRecording
from evenhand.media.stored import HIGHEST_RATE_HZ, LONGEST_S, LOWEST_RATE_HZ, MOST_CHANNELS, SHORTEST_S

KINDS = "wav, flac, mp3, m4a, ogg, opus, webm, mp4, mov, 3gp, caf, aiff"
GIVE = f"It must be a recording ({KINDS}) or a MIDI file."
FILM = "Give the video as the phone recorded it (mp4 or mov)."
AGAIN = "Copy or send it again: it must arrive whole."
CONVERT = "Save it as wav, flac or m4a."

_SAID = {
    "missing": ("there is no such file", "Check the name and the folder."),
    "folder": ("a folder, not a recording", "Name one file in it."),
    "special": ("not a regular file", GIVE),
    "empty": ("an empty file", AGAIN),
    "text": ("text, whatever its name says", GIVE),
    "no_container": ("no recording that can be decoded", GIVE),
    "no_index": ("a recording that breaks off before its index, so nothing of it can be read", AGAIN),
    "damaged": ("its beginning is damaged or cut off, so nothing of it can be read", AGAIN),
    "no_audio": ("no sound in it", GIVE),
    "video": ("a video without sound", "Record it with the microphone on, or give the sound alone."),
    "no_decoder": ("its sound is coded in a way that cannot be decoded", CONVERT),
    "nothing_decoded": ("no sound could be decoded from it: it is damaged or cut off", AGAIN),
    "memory": ("decoding it takes more memory than a recording should", CONVERT),
    "failed": ("the decoder fails on it", CONVERT),
    "too_large": ("decoded, it takes more room than a recording should", "Give a shorter part, in mono."),
    "no_room": ("there is no room on the disk to decode it", "Free some room, or give a shorter part."),
    "no_picture": ("no pictures in it: there is nothing to watch", FILM),
    "picture_codec": ("its pictures are coded in a way that cannot be decoded", FILM),
    "no_frames": ("no picture could be decoded from it: it is damaged or cut off", AGAIN),
    "small_picture": ("pictures of less than 160 px to a side", "Record it in 720p or more."),
    "broken_samples": ("too many of its samples are not numbers", "Export it again, as 16 or 24 bit wav."),
}

_BEGINNINGS = (b"RIFF", b"fLaC", b"OggS", b"\x1a\x45\xdf\xa3", b"ID3", b"caff", b"FORM", b"RF64")


def refusal(path: Path, why: str) -> UnreadableRecording:
    """Make the refusal for a reason of the table."""
    got, do = _SAID.get(why, _SAID["failed"])
    return UnreadableRecording(name=path.name, got=got, do=do)


def not_opened(path: Path, error: OSError) -> UnreadableRecording:
    """Say that the system would not open the file."""
    if isinstance(error, PermissionError):
        return UnreadableRecording(
            name=path.name, got="may not be read (no permission)", do="Allow reading it, or copy it."
        )
    if isinstance(error, FileNotFoundError):
        return refusal(path, "missing")
    return UnreadableRecording(
        name=path.name, got=f"cannot be opened ({error.strerror or error})", do="Check the disk."
    )


def no_container(path: Path, head: bytes) -> UnreadableRecording:
    """Say what a file that no decoder recognises looks like, by its first bytes."""
    if head[4:8] == b"ftyp":
        return refusal(path, "no_index")
    if head.startswith(_BEGINNINGS):
        return refusal(path, "damaged")
    return refusal(path, "text" if is_text(head) else "no_container")


def decoder_ended(path: Path, why: str) -> UnreadableRecording:
    """Say that the decoder stalled or broke."""
    return UnreadableRecording(name=path.name, got=why, do=CONVERT)


def too_long(path: Path, duration_s: float) -> UnreadableRecording:
    """Refuse a recording of many hours."""
    got = f"{duration_s / 3600:.1f} hours long"
    return UnreadableRecording(
        name=path.name, got=got, do=f"A take may last {LONGEST_S // 3600} hours at most."
    )


def slow_motion(path: Path, filmed_fps: float, shown_fps: float) -> StretchedTime:
    """Refuse a film whose time is stretched."""
    got = f"slow motion, filmed at {filmed_fps:.0f} frames a second and shown at {shown_fps:.0f}"
    return StretchedTime(name=path.name, got=got, do="Record it as a normal video: times must be true.")


def film_too_long(path: Path, seconds: float, longest_s: float) -> UnreadableRecording:
    """Refuse a film that nobody would watch to the end."""
    got = f"a video of {seconds / 60:.0f} minutes"
    do = f"A video to watch may last {longest_s / 60:.0f} minutes: cut it, or hear its sound alone."
    return UnreadableRecording(name=path.name, got=got, do=do)


def too_many_strokes(path: Path, strokes: int, most: int) -> UnreadableRecording:
    """Refuse more strokes than anybody plays in one take."""
    got = f"{strokes:,} strokes"
    return UnreadableRecording(name=path.name, got=got, do=f"A take may have {most:,} at most: cut it.")


def too_short(path: Path, duration_s: float) -> UnreadableRecording:
    """Refuse what is over before anything could be played."""
    got = f"too short, {duration_s:.2f} s of sound"
    return UnreadableRecording(name=path.name, got=got, do=f"A take must last at least {SHORTEST_S:g} s.")


def odd_rate(path: Path, rate_hz: int) -> UnreadableRecording:
    """Refuse a sample rate that no recorder of sound uses."""
    do = f"It must be {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz."
    return UnreadableRecording(name=path.name, got=f"a sample rate of {rate_hz} Hz", do=do)


def odd_channels(path: Path, channels: int) -> UnreadableRecording:
    """Refuse a number of channels that no take has."""
    do = f"It must be 1 to {MOST_CHANNELS}."
    return UnreadableRecording(name=path.name, got=f"{channels} channels", do=do)


def silent(path: Path) -> NoSound:
    """Refuse silence."""
    return NoSound(
        got=f"{path.name}: nothing but silence",
        do="Check that the right microphone was on, and record again.",
    )


def is_text(head: bytes) -> bool:
    """Tell whether bytes read as text."""
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.start < len(head) - 3:  # not merely a letter cut in two at the end
            return False
        text = head[: error.start].decode("utf-8")
    return all(letter.isprintable() or letter in "\r\n\t\f" for letter in text)
