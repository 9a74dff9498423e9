"""Write a track block by block: hours need no memory. The name's ending says the format.

Conventions: blocks have shape (n, channels), full scale 1. The file appears whole or not at all.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import CannotWrite, WrongOptions

Block = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class SoundFormat:
    """How one ending is written; ``compression`` of a lossy codec from 0 (best sound) to 1 (fewest bytes)."""

    container: str
    sample: str
    rates_hz: tuple[int, ...]
    compression: float | None = None


RATES_HZ = (44_100, 48_000, 96_000)
FORMATS = {
    ".wav": SoundFormat("WAV", "PCM_16", RATES_HZ),
    ".flac": SoundFormat("FLAC", "PCM_16", RATES_HZ),
    ".ogg": SoundFormat("OGG", "VORBIS", RATES_HZ, 0.2),
    ".mp3": SoundFormat("MP3", "MPEG_LAYER_III", (44_100, 48_000), 0.1),
}


def check_format(path: Path, rate_hz: int) -> SoundFormat:
    """Return the format that a name asks for, or refuse it before the work is done."""
    form = FORMATS.get(path.suffix.lower())
    if form is None:
        raise WrongOptions(got=f"{path.name}", must_be=f"a name that ends in {', '.join(FORMATS)}")
    if rate_hz not in form.rates_hz:
        rates = ", ".join(str(rate) for rate in form.rates_hz)
        raise WrongOptions(got=f"{rate_hz} samples a second for {path.suffix}", must_be=f"one of {rates}")
    return form


def write_track(path: Path, blocks: Iterable[Block], rate_hz: int, channels: int) -> None:
    """Write blocks one after the other."""
    import soundfile

    form = check_format(path, rate_hz)
    if path.exists() and not path.is_file():  # a device or a pipe: nothing may take its place
        raise CannotWrite(name=str(path), got="it is not a regular file")
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        _write(temporary, blocks, rate_hz, channels, form)
        temporary.replace(path)
    except OSError as error:
        raise CannotWrite(name=str(path), got=error.strerror or str(error)) from None
    except soundfile.SoundFileError as error:
        raise CannotWrite(name=str(path), got=_why(error)) from None
    finally:
        with suppress(OSError):
            temporary.unlink()


def _write(path: Path, blocks: Iterable[Block], rate_hz: int, channels: int, form: SoundFormat) -> None:
    """Feed the encoder."""
    import soundfile

    with soundfile.SoundFile(
        str(path),
        "w",
        samplerate=rate_hz,
        channels=channels,
        format=form.container,
        subtype=form.sample,
        compression_level=form.compression,
    ) as file:
        for block in blocks:
            file.write(block)


def _why(error: Exception) -> str:
    """Say why a sound could not be written, without the unfinished file's own name."""
    return str(error).rpartition("': ")[2].rstrip(".")
