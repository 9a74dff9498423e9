"""Words spoken by the speech program that the machine has: eSpeak NG, or macOS' own. No network is needed.

The program runs as a process of its own; it is no part of Evenhand and comes with the system
(docs/dependencies.md). Where there is none, nothing is spoken, and whoever asked does without.

Conventions: samples are floats of shape (n,), full scale 1.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Speaks = Callable[[str, int], Floats | None]  # words and a rate in, samples of shape (n,) out

WORDS_A_MINUTE = 150
LONGEST_S = 20.0  # that the program may take for one announcement
MOST_LETTERS = 400
SILENT_SHARE = 0.01  # of the peak: softer than this before the first word and after the last is cut
SPOKEN_PEAK = 0.5


def speak(words: str, rate_hz: int) -> Floats | None:
    """Speak some words; None where the machine has no program for it, or it fails.

    Returns
    -------
    Samples of shape (n,), their peak a half of full scale, without silence before and after.
    """
    command = _command()
    if command is None:
        return None
    with TemporaryDirectory() as folder:
        file = Path(folder) / "said.wav"
        try:
            subprocess.run(  # noqa: S603 - a known program; the words come by its input
                [*command, str(file)],
                input=words[:MOST_LETTERS].encode(),
                capture_output=True,
                timeout=LONGEST_S,
                check=True,
            )
            return _read(file, rate_hz)
        except (OSError, subprocess.SubprocessError, RuntimeError):
            return None


def _command() -> Sequence[str] | None:
    """Return how the machine's program is called; the file's name comes last, the words at its input."""
    for name in ("espeak-ng", "espeak"):
        found = shutil.which(name)
        if found is not None:
            return (found, "-v", "en", "-s", str(WORDS_A_MINUTE), "--stdin", "-w")
    found = shutil.which("say")
    if found is not None:
        return (found, "-r", str(WORDS_A_MINUTE), "-f", "-", "--data-format=LEI16@22050", "-o")
    return None


def _read(file: Path, rate_hz: int) -> Floats | None:
    """Read what was spoken: one channel, at the rate that is wanted, without silence around it."""
    import soundfile

    samples, spoken_hz = soundfile.read(str(file), dtype="float64", always_2d=True)
    mono = samples.mean(axis=1)
    peak = float(np.max(np.abs(mono), initial=0.0))
    if peak == 0.0:
        return None
    sounding = np.flatnonzero(np.abs(mono) > SILENT_SHARE * peak)
    kept = mono[sounding[0] : sounding[-1] + 1]
    return resampled(kept * (SPOKEN_PEAK / peak), spoken_hz, rate_hz)


def resampled(samples: Floats, from_hz: int, to_hz: int) -> Floats:
    """Bring a sound that begins and ends in silence to another rate, through its spectrum.

    Parameters
    ----------
    samples
        Of shape (n,).

    Returns
    -------
    Samples of shape (n,).
    """
    size = round(len(samples) * to_hz / from_hz)
    spectrum = np.fft.rfft(samples)
    kept = np.zeros(size // 2 + 1, np.complex128)
    both = min(len(kept), len(spectrum))
    kept[:both] = spectrum[:both]
    return np.asarray(np.fft.irfft(kept, size) * (size / len(samples)))
