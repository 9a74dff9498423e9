"""Sounds in the formats that phones and other programs send: what tests and benchmarks let Evenhand hear."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from evenhand.errors import CannotWrite
from evenhand.media.write import Floats, checked, in_place, write_whole

if TYPE_CHECKING:
    import av

Codec = Literal[
    "aac", "libmp3lame", "libopus", "alac", "flac", "pcm_s16le", "pcm_s16be", "pcm_f32le", "ac3", "mp2"
]

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


def write_mp3(path: Path, samples: Floats, rate_hz: int) -> None:
    """Write an MP3 file; the rate must be one that MP3 knows, 8 to 48 kHz."""
    write_whole(path, samples, rate_hz, "MP3", "MPEG_LAYER_III")


def write_ogg(path: Path, samples: Floats, rate_hz: int) -> None:
    """Write an Ogg Vorbis file."""
    write_whole(path, samples, rate_hz, "OGG", "VORBIS")


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

    frames = checked(samples)
    with in_place(path) as temporary:
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
            raise CannotWrite(name=str(path), got=str(error)) from None


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
