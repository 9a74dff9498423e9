"""Decoded frames on their way in: kept in memory while they are few, in a temporary file beyond."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np

from evenhand.media.stored import FORMS, OnDisk, Raw, Source, Stored, fits_memory

MOST_BYTES = 6 << 30
SILENCE_FRAMES = 1 << 15  # written at once


class TooLarge(Exception):
    """More was decoded than a recording should hold."""


class Spool:
    """Frames of one form and number of channels, added block by block."""

    def __init__(self, form: str, channels: int) -> None:
        self.form, self.channels = form, channels
        self.frames = 0
        self._blocks: list[Raw] = []
        self._file: BinaryIO | None = None

    def add(self, block: Raw) -> None:
        """Add frames, shape (n, channels)."""
        self.frames += block.shape[0]
        if self.frames * self.channels * FORMS[self.form].size > MOST_BYTES:
            raise TooLarge
        if self._file is not None:
            self._file.write(np.ascontiguousarray(block).data)
            return
        self._blocks.append(block)
        if not fits_memory(self.form, self.frames * self.channels):
            self._to_file()

    def add_message(self, body: bytearray, *, planar: bool) -> None:
        """Add frames as the decoder sends them."""
        flat = np.frombuffer(body, FORMS[self.form].dtype)
        frames = flat.size // self.channels
        flat = flat[: frames * self.channels]
        self.add(flat.reshape(self.channels, frames).T if planar else flat.reshape(frames, self.channels))

    def add_silence(self, frames: int) -> None:
        """Add frames in which nothing sounds."""
        rest = 128 if self.form == "u8" else 0
        for start in range(0, frames, SILENCE_FRAMES):
            size = min(SILENCE_FRAMES, frames - start)
            self.add(np.full((size, self.channels), rest, FORMS[self.form].dtype))

    def close(self) -> None:
        """Drop what was gathered."""
        self._blocks.clear()
        if self._file is not None:
            self._file.close()

    def gathered(self, skip: int = 0) -> Source:
        """Hand over what was gathered, without the first ``skip`` frames."""
        skip = min(skip, self.frames)
        if self._file is None:
            empty = np.zeros((0, self.channels), FORMS[self.form].dtype)
            whole = np.concatenate(self._blocks) if self._blocks else empty
            self._blocks.clear()
            return Stored(self.form, whole[skip:])
        self._file.flush()
        offset = skip * self.channels * FORMS[self.form].size
        file, self._file = self._file, None
        return OnDisk(file, self.form, channels=self.channels, frames=self.frames - skip, offset=offset)

    def _to_file(self) -> None:
        """Move to disk; the file has no name, or loses it when it is closed."""
        import tempfile

        self._file = tempfile.TemporaryFile()  # noqa: SIM115 - the last reader of its samples closes it
        for block in self._blocks:
            self._file.write(np.ascontiguousarray(block).data)
        self._blocks.clear()
