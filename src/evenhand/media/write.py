"""Samples to files. A file appears whole or not at all: it is written beside its place and then moved.

Conventions: samples are floats, full scale 1, shape (n,) or (n, n_channels). What lies beyond full
scale is clipped by the formats that store whole numbers.

Write a track block by block: hours need no memory. The name's ending says the format.

Conventions: blocks have shape (n, channels), full scale 1. The file appears whole or not at all.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import CannotWrite, WrongOptions

if TYPE_CHECKING:
    import av


Floats = NDArray[np.float32] | NDArray[np.float64]
Codec = Literal[
    "aac", "libmp3lame", "libopus", "alac", "flac", "pcm_s16le", "pcm_s16be", "pcm_f32le", "ac3", "mp2"
]
WavSample = Literal["PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"]

_MUXERS = {
    ".m4a": "ipod",
    ".aac": "adts",
    ".mkv": "matroska",
    ".opus": "ogg",
    ".ts": "mpegts",
    ".aiff": "aiff",
}
_LAYOUTS = {1: "mono", 2: "stereo", 3: "2.1", 4: "quad", 5: "5.0", 6: "5.1", 7: "6.1", 8: "7.1"}
_FRAMES_AT_ONCE = 1 << 16


def write_wav(path: Path, samples: Floats, rate_hz: int, *, sample: WavSample = "PCM_16") -> None:
    """Write a WAV file."""
    _write_with_soundfile(path, samples, rate_hz, "WAV", sample)


def write_flac(path: Path, samples: Floats, rate_hz: int) -> None:
    """Write a FLAC file, 16 bit."""
    _write_with_soundfile(path, samples, rate_hz, "FLAC", "PCM_16")


def write_mp3(path: Path, samples: Floats, rate_hz: int) -> None:
    """Write an MP3 file; the rate must be one that MP3 knows, 8 to 48 kHz."""
    _write_with_soundfile(path, samples, rate_hz, "MP3", "MPEG_LAYER_III")


def write_ogg(path: Path, samples: Floats, rate_hz: int) -> None:
    """Write an Ogg Vorbis file."""
    _write_with_soundfile(path, samples, rate_hz, "OGG", "VORBIS")


def encode(
    path: Path,
    samples: Floats,
    rate_hz: int,
    *,
    codec: Codec,
    bit_rate: int | None = None,
    options: Mapping[str, str] | None = None,
) -> None:
    """Encode into the container that the name's ending says: m4a, mp4, mov, aac, opus, webm, caf and more.

    Args:
        path: Where to; the ending chooses the container.
        samples: Shape (n,) or (n, n_channels).
        rate_hz: Samples a second; Opus takes 48000 only.
        codec: The encoder's name.
        bit_rate: Bits a second, for lossy codecs.
        options: Options of the container's writer, such as ``{"movflags": "..."}``.

    """
    import av

    frames = _checked(samples)
    with _in_place(path) as temporary:
        try:
            with av.open(
                str(temporary),
                "w",
                format=_MUXERS.get(path.suffix, path.suffix[1:]),
                options=dict(options or {}),
            ) as container:
                _encode_all(container, frames, rate_hz, codec, bit_rate)
        except (
            av.error.FFmpegError,
            ValueError,
        ) as error:  # a value error: container and codec do not go together
            raise _cannot(path, str(error)) from None


def _encode_all(
    container: av.container.OutputContainer, frames: Floats, rate_hz: int, codec: Codec, bit_rate: int | None
) -> None:
    """Feed an encoder block by block, and let it finish."""
    import av

    layout = _LAYOUTS[frames.shape[1]]
    stream = container.add_stream(codec, rate=rate_hz, layout=layout)
    if bit_rate is not None:
        stream.bit_rate = bit_rate
    for start in range(0, len(frames), _FRAMES_AT_ONCE):
        block = np.ascontiguousarray(frames[start : start + _FRAMES_AT_ONCE].T, np.float32)
        frame = av.AudioFrame.from_ndarray(block, format="fltp", layout=layout)
        frame.sample_rate, frame.pts = rate_hz, start
        container.mux(stream.encode(frame))
    container.mux(stream.encode(None))


def _write_with_soundfile(path: Path, samples: Floats, rate_hz: int, container: str, sample: str) -> None:
    """Write by libsndfile."""
    import soundfile

    frames = _checked(samples)
    with _in_place(path) as temporary:
        try:
            soundfile.write(temporary, frames, rate_hz, subtype=sample, format=container)
        except (soundfile.SoundFileError, ValueError) as error:
            raise _cannot(path, str(error)) from None


def _checked(samples: Floats) -> Floats:
    """Give samples as (n, n_channels); refuse what is no sound."""
    frames = samples[:, None] if samples.ndim == 1 else samples
    if frames.ndim != 2 or frames.shape[1] not in _LAYOUTS:
        raise WrongOptions(got=f"samples of shape {samples.shape}", must_be="(n,) or (n, 1 to 8)")
    if not np.isfinite(frames).all():
        raise WrongOptions(got="samples that are not numbers", must_be="finite")
    return frames


@contextmanager
def _in_place(path: Path) -> Iterator[Path]:
    """Lend a name beside the file's; move it there at the end, or leave nothing."""
    if path.exists() and not path.is_file():  # a device or a pipe: nothing may take its place
        raise _cannot(path, "it is not a regular file")
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        yield temporary
        temporary.replace(path)
    except OSError as error:
        raise _cannot(path, error.strerror or str(error)) from None
    finally:
        with suppress(OSError):
            temporary.unlink()


def _cannot(path: Path, why: str) -> CannotWrite:
    return CannotWrite(name=str(path), got=why)


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
