"""Samples to files. A file appears whole or not at all: it is written beside its place and then moved.

Conventions: samples are floats, full scale 1, shape (n,) or (n, n_channels). What lies beyond full
scale is clipped by the formats that store whole numbers. A track is written block by block, each of shape
(n, n_channels): hours need no memory.

A folder of drum samples, one stroke a file at different strengths, is read as layers for the simulated
player.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import BadSamples, CannotWrite, WrongOptions

Floats = NDArray[np.float32] | NDArray[np.float64]
WavSample = Literal["PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"]
MOST_CHANNELS = 8


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


def write_wav(path: Path, samples: Floats, rate_hz: int, *, sample: WavSample = "PCM_16") -> None:
    """Write a WAV file.

    Parameters
    ----------
    samples
        Full scale 1, shape (n,) or (n, n_channels).
    """
    write_whole(path, samples, rate_hz, "WAV", sample)


def write_flac(path: Path, samples: Floats, rate_hz: int) -> None:
    """Write a FLAC file, 16 bit.

    Parameters
    ----------
    samples
        Full scale 1, shape (n,) or (n, n_channels).
    """
    write_whole(path, samples, rate_hz, "FLAC", "PCM_16")


def write_whole(path: Path, samples: Floats, rate_hz: int, container: str, sample: str) -> None:
    """Write samples into a container of libsndfile's.

    Raises
    ------
    CannotWrite
        Where the place or the encoder does not take them.

    Parameters
    ----------
    samples
        Full scale 1, shape (n,) or (n, n_channels).
    """
    import soundfile

    frames = checked(samples)
    with in_place(path) as temporary:
        soundfile.write(temporary, frames, rate_hz, subtype=sample, format=container)


def checked(samples: Floats) -> Floats:
    """Give samples as (n, n_channels); refuse what is no sound.

    Parameters
    ----------
    samples
        Full scale 1, shape (n,) or (n, n_channels).

    Returns
    -------
    Of shape (n, n_channels).
    """
    frames = samples[:, None] if samples.ndim == 1 else samples
    if frames.ndim != 2 or not 1 <= frames.shape[1] <= MOST_CHANNELS:
        raise WrongOptions(
            got=f"samples of shape {samples.shape}", must_be=f"(n,) or (n, 1 to {MOST_CHANNELS})"
        )
    if not np.isfinite(frames).all():
        raise WrongOptions(got="samples that are not numbers", must_be="finite")
    return frames


def check_format(path: Path, rate_hz: int) -> SoundFormat:
    """Return the format that a name asks for, or refuse it before the work is done."""
    form = FORMATS.get(path.suffix.lower())
    if form is None:
        raise WrongOptions(got=f"{path.name}", must_be=f"a name that ends in {', '.join(FORMATS)}")
    if rate_hz not in form.rates_hz:
        rates = ", ".join(str(rate) for rate in form.rates_hz)
        raise WrongOptions(got=f"{rate_hz} samples a second for {path.suffix}", must_be=f"one of {rates}")
    return form


def write_track(path: Path, blocks: Iterable[NDArray[np.float32]], rate_hz: int, channels: int) -> None:
    """Write blocks one after the other; the name's ending says the format.

    Parameters
    ----------
    blocks
        Full scale 1, each of shape (n, channels).
    """
    import soundfile

    form = check_format(path, rate_hz)
    with (
        in_place(path) as temporary,
        soundfile.SoundFile(
            str(temporary),
            "w",
            samplerate=rate_hz,
            channels=channels,
            format=form.container,
            subtype=form.sample,
            compression_level=form.compression,
        ) as file,
    ):
        for block in blocks:
            file.write(block)


@contextmanager
def in_place(path: Path) -> Iterator[Path]:
    """Lend a name beside the file's; move it there at the end, or leave nothing."""
    import soundfile

    if path.exists() and not path.is_file():  # a device or a pipe: nothing may take its place
        raise CannotWrite(name=str(path), got="it is not a regular file")
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        yield temporary
        temporary.replace(path)
    except OSError as error:
        raise CannotWrite(name=str(path), got=error.strerror or str(error)) from None
    except soundfile.SoundFileError as error:
        raise CannotWrite(name=str(path), got=_why(error)) from None
    finally:
        with suppress(OSError):
            temporary.unlink()


def _why(error: Exception) -> str:
    """Say why a sound could not be written, without the unfinished file's own name."""
    return str(error).rpartition("': ")[2].rstrip(".")


ENDINGS = {".wav", ".flac", ".ogg", ".aif", ".aiff", ".mp3"}
MOST_LAYERS = 256
LONGEST_S = 20.0
_LOUDEST_S = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """One blow: mono float32, shape (n,); its level is that of its loudest 10 ms, lows taken off, in dB."""

    samples: NDArray[np.float32]
    rate_hz: int
    level_db: float


def load_layers(folder: Path, pattern: str = "*") -> list[Layer]:
    """Load a folder's drum samples, soft to loud by their measured level.

    ``pattern`` picks among the files' names, such as ``*snare*``, whatever the case.

    Raises
    ------
    BadSamples
        The folder is none, or holds no sound that can be read.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise BadSamples(folder=str(folder), got="no folder")
    files = sorted(
        file
        for file in folder.iterdir()
        if file.suffix.lower() in ENDINGS and fnmatch(file.name.lower(), pattern.lower()) and file.is_file()
    )
    layers = [layer for file in files[:MOST_LAYERS] if (layer := _load(file)) is not None]
    if not layers:
        got = (
            f"{len(files)} sound files, none of which can be read"
            if files
            else "no sound files of that name"
            if pattern != "*"
            else "no sound files"
        )
        raise BadSamples(folder=str(folder), got=got)
    return sorted(layers, key=lambda layer: layer.level_db)


def _load(file: Path) -> Layer | None:
    """Load one blow, its loudest channel; None where nothing sounds in it."""
    import soundfile

    try:
        with soundfile.SoundFile(file) as sound:
            rate_hz = sound.samplerate
            frames = sound.read(int(LONGEST_S * rate_hz), dtype="float32", always_2d=True)
    except (soundfile.SoundFileError, OSError):
        return None
    if len(frames) < 2 or not np.isfinite(frames).all():
        return None
    channels = [np.ascontiguousarray(frames[:, i]) for i in range(frames.shape[1])]
    level_db, loudest = max(
        ((_level_db(channel, rate_hz), i) for i, channel in enumerate(channels)), key=lambda pair: pair[0]
    )
    return Layer(channels[loudest], rate_hz, level_db) if np.isfinite(level_db) else None


def _level_db(samples: NDArray[np.float32], rate_hz: int) -> float:
    """Measure the loudest 10 ms of the samples' differences, dB: an order, not a loudness."""
    energy = np.cumsum(np.concatenate([[0.0], np.diff(samples.astype(np.float64)) ** 2]))
    span = min(max(int(_LOUDEST_S * rate_hz), 1), len(energy) - 1)
    loudest = float((energy[span:] - energy[:-span]).max()) / span
    return 10.0 * float(np.log10(loudest)) if loudest > 0 else -np.inf
