"""Onset detectors of other libraries, as their documentation has them used. Absent ones are said.

Each takes samples of shape (n,), float32, and a rate, and returns rising times in seconds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib.util import find_spec

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Detector = Callable[[NDArray[np.float32], int], Floats]

HOP, N_FFT = 64, 256  # samples; short frames, at the take's own rate
DELTA, WAIT_S, MAX_S, AFTER_S = 0.12, 0.012, 0.030, 0.004


def detectors(*, quick: bool = False) -> Mapping[str, Detector]:
    """Return the detectors that are installed here, by name; the quick ones only where time is short."""
    found: dict[str, Detector] = {}
    if find_spec("librosa"):
        found["librosa default"] = librosa_default
        found["librosa best"] = librosa_best
    if find_spec("essentia") and not quick:
        found["essentia"] = essentia_best
    return found


def absent() -> list[str]:
    """Name the libraries that are not installed here."""
    return [name for name in ("librosa", "essentia") if not find_spec(name)]


def librosa_default(samples: NDArray[np.float32], rate_hz: int) -> Floats:
    """Detect with every setting left alone (hop 512)."""
    import librosa

    return np.asarray(librosa.onset.onset_detect(y=samples, sr=rate_hz, units="time"), np.float64)


def librosa_best(samples: NDArray[np.float32], rate_hz: int) -> Floats:
    """Detect with what a search over frames, bands and peak picking found best on the tuning part."""
    import librosa

    strength = librosa.onset.onset_strength(
        y=samples, sr=rate_hz, hop_length=HOP, n_fft=N_FFT, n_mels=24, aggregate=np.median
    )
    frames_a_s = rate_hz / HOP
    found = librosa.onset.onset_detect(
        onset_envelope=strength,
        sr=rate_hz,
        hop_length=HOP,
        units="time",
        delta=DELTA,
        wait=int(WAIT_S * frames_a_s),
        pre_max=int(MAX_S * frames_a_s),
        post_max=int(AFTER_S * frames_a_s),
    )
    return np.asarray(found, np.float64)


def essentia_best(samples: NDArray[np.float32], rate_hz: int) -> Floats:
    """Detect with what a search over methods, frames and peak picking found best; fed from Python."""
    import essentia

    essentia.log.infoActive = False
    essentia.log.warningActive = False
    import essentia.standard as es

    window, spectrum, polar = es.Windowing(type="hann"), es.FFT(size=512), es.CartesianToPolar()
    detect = es.OnsetDetection(method="flux", sampleRate=rate_hz)
    frames = es.FrameGenerator(samples, frameSize=512, hopSize=HOP)
    curve = [detect(*polar(spectrum(window(frame)))) for frame in frames]
    pick = es.Onsets(frameRate=rate_hz / HOP, alpha=0.3, delay=3, silenceThreshold=0.02)
    return np.asarray(pick(essentia.array([curve]), [1.0]), np.float64)
