"""A folder of drum samples, one blow a file at different strengths, as layers for the simulated player."""

from __future__ import annotations

from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenhand.errors import BadSamples

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
