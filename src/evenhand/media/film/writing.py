"""Pictures to files: a still as JPEG, and a film at half speed.

Pictures are RGB, shape (height, width, 3), 0 to 255. Films are VP9 in WebM (libvpx, BSD-3-Clause), without
sound: FFmpeg has no encoder of H.264 of its own, and x264 is GPL. A file appears whole or not at all.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from evenhand.errors import CannotWrite
from evenhand.film import Picture

if TYPE_CHECKING:
    import av

TICKS = 90_000
QUALITY = {"deadline": "realtime", "cpu-used": "8", "crf": "32", "b": "0", "threads": "1", "row-mt": "0"}


def jpeg_of(picture: Picture) -> bytes:
    """Encode a picture whose height and width are even.

    Parameters
    ----------
    picture : shape (height, width, 3)
    """
    import av

    frame = av.VideoFrame.from_ndarray(picture, format="rgb24").reformat(format="yuvj420p")
    encoder = av.CodecContext.create("mjpeg", "w")
    encoder.width, encoder.height, encoder.pix_fmt = frame.width, frame.height, "yuvj420p"
    encoder.time_base = Fraction(1, 25)
    encoder.options = {"q:v": "4"}
    return b"".join(bytes(packet) for packet in (*encoder.encode(frame), *encoder.encode(None)))


class SlowFilm:
    """A film that is written picture by picture, each shown twice as long as it was."""

    def __init__(self, container: av.container.OutputContainer) -> None:
        self._container = container
        self._stream: av.VideoStream | None = None
        self._from_s = 0.0

    def add(self, time_s: float, picture: Picture) -> None:
        """Add a picture that was taken at a time, seconds.

        Parameters
        ----------
        picture : shape (height, width, 3), all alike and even
        """
        import av

        if self._stream is None:
            self._stream = self._container.add_stream("libvpx-vp9", rate=60, options=QUALITY)
            self._stream.height, self._stream.width = picture.shape[:2]
            self._stream.pix_fmt = "yuv420p"
            self._stream.codec_context.time_base = Fraction(1, TICKS)
            self._from_s = time_s
        frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
        frame.pts, frame.time_base = round(2 * (time_s - self._from_s) * TICKS), Fraction(1, TICKS)
        self._container.mux(self._stream.encode(frame))

    def end(self) -> None:
        """Write what is still in the encoder."""
        if self._stream is not None:
            self._container.mux(self._stream.encode(None))


def write_slow(path: Path, fill: Callable[[SlowFilm], None]) -> None:
    """Write a film at half speed that ``fill`` adds the pictures of.

    Raises
    ------
    CannotWrite
        Where the place does not take it.
    """
    import av

    unfinished = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with av.open(str(unfinished), "w", format="webm") as container:
            film = SlowFilm(container)
            fill(film)
            film.end()
        unfinished.replace(path)
    except OSError as error:
        raise CannotWrite(name=str(path), got=error.strerror or str(error)) from error
    finally:
        unfinished.unlink(missing_ok=True)
