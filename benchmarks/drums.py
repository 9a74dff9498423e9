"""Recorded drums of several strengths, found in a folder: those that speak at once, and those that do not.

A folder holds drum kits (each with a ``drumkit.xml`` that names the layers of each instrument) or plain
sound files whose names differ in their number or strength only (``snare-1.wav``, ``Snare-Soft.wav``).
"""

from __future__ import annotations

import glob
import os
import re
import subprocess
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np

from evenhand.errors import EvenhandError
from evenhand.media.write import ENDINGS, Layer, load_layers
from evenhand.synthesis.strokes import biquad_highpass
from evenhand.synthesis.voice import SampleBank

VARIABLE = "EVENHAND_SAMPLES"
PACKAGE = "hydrogen-drumkits"
LEAST_LAYERS = 3
LATE_PEAK_S = 0.012  # a drum that peaks later than this after its start is scored apart
CUT_SHARE = 0.3  # and so is one that stands at this share of its peak within one sample: cut in mid-wave
SNARE = re.compile(r"snare|^sd|^sn\d?$", re.IGNORECASE)
NOT_ONE_BLOW = re.compile(r"roll|rim ?click", re.IGNORECASE)
VARIES = re.compile(r"[\W_]*(softest|soft|med(ium)?|hardest|hard|loud|v?\d+)$", re.IGNORECASE)


@dataclass(frozen=True)
class Drum:
    """One drum's recorded blows, by file."""

    name: str
    files: tuple[Path, ...]

    @cached_property
    def layers(self) -> tuple[Layer, ...]:
        """Load the blows, soft to loud."""
        loaded = [layer for file in self.files for layer in load_layers(file.parent, glob.escape(file.name))]
        return tuple(sorted(loaded, key=lambda layer: layer.level_db))

    @cached_property
    def bank(self) -> SampleBank:
        """Give the blows to the simulated player."""
        return SampleBank(tuple((layer.samples, layer.rate_hz) for layer in self.layers))

    @cached_property
    def speaks_late(self) -> bool:
        """Tell whether most of its blows peak late or are cut in mid-wave."""
        lags, jumps = zip(*(_lag_and_jump(layer) for layer in self.layers), strict=True)
        return bool(np.median(lags) > LATE_PEAK_S or np.median(jumps) > CUT_SHARE)


def find_drums(folder: Path | None) -> tuple[list[Drum], str]:
    """Find snares with enough layers, and say in a line where they are from, or why there are none."""
    where = folder or _usual_folder()
    if where is None:
        return [], f"skipped: no folder was given, {VARIABLE} is not set, {PACKAGE} is not installed"
    if not where.is_dir():
        return [], f"skipped: {where} is no folder"
    kits = sorted(where.rglob("drumkit.xml"))
    found = [drum for kit in kits for drum in _of_kit(kit)] if kits else _by_names(where)
    drums = [drum for drum in found if len(drum.files) >= LEAST_LAYERS and _readable(drum)]
    if not drums:
        return [], f"skipped: no snare with {LEAST_LAYERS} layers or more in {where}"
    return drums, f"{len(drums)} snares from {where}"


def _usual_folder() -> Path | None:
    """Return the folder of the environment, or of Debian's package where it is installed."""
    if os.environ.get(VARIABLE):
        return Path(os.environ[VARIABLE])
    try:
        asked = ["dpkg", "-L", PACKAGE]
        listed = subprocess.run(asked, capture_output=True, text=True, check=False)  # noqa: S603
    except OSError:
        return None
    folders = [Path(line) for line in listed.stdout.splitlines() if line.endswith("/drumkits")]
    return folders[0] if folders else None


def _of_kit(kit: Path) -> list[Drum]:
    """Read a drum kit's snares and their layers, soft to loud."""
    try:
        root = ET.parse(kit).getroot()  # noqa: S314 - the user's own installed kits
    except ET.ParseError:
        return []
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2]
    drums = []
    for instrument in root.iter("instrument"):
        name = instrument.findtext("name") or ""
        layers = sorted(instrument.iter("layer"), key=lambda layer: float(layer.findtext("min") or 0))
        files = tuple(dict.fromkeys(kit.parent / (layer.findtext("filename") or "") for layer in layers))
        if SNARE.search(name) and not NOT_ONE_BLOW.search(name):
            drums.append(Drum(f"{kit.parent.name}: {name.split('(')[0].strip()}", files))
    return drums


def _by_names(folder: Path) -> list[Drum]:
    """Group sound files by names without the number or strength at the end; snares where any are named so."""
    groups: dict[tuple[Path, str], list[Path]] = {}
    for file in sorted(folder.rglob("*")):
        if file.suffix.lower() in ENDINGS and file.is_file():
            groups.setdefault((file.parent, VARIES.sub("", file.stem)), []).append(file)
    drums = [
        Drum(f"{parent.name}: {stem or 'blows'}", tuple(files)) for (parent, stem), files in groups.items()
    ]
    return [drum for drum in drums if SNARE.search(drum.name.split(": ")[1])] or drums


def _readable(drum: Drum) -> bool:
    try:
        return len(drum.layers) >= LEAST_LAYERS
    except EvenhandError:
        return False


def _lag_and_jump(layer: Layer) -> tuple[float, float]:
    """Return how long after its start a blow peaks (s), and its share of the peak at the first sample."""
    from scipy.signal import lfilter

    b, a = biquad_highpass(200.0, layer.rate_hz)
    size = np.abs(lfilter(b, a, layer.samples.astype(np.float64)))
    start, peak = int(np.argmax(size >= 0.01 * size.max())), int(np.argmax(size))
    return (peak - start) / layer.rate_hz, float(size[start] / size[peak])
