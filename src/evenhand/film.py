"""A film as values: what its file was, a few of its frames, and the coloured patches seen in each.

Conventions: places are px of the picture as it is shown (rotation undone), x to the right, y downwards.
``time_s`` is in the timeline of the film's sound: seconds from the first decoded sample. Planes of a frame
lie on the grid of its colour, every ``grid_px`` px; luma and chroma are 0 to 255, a grey's chroma 128.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from evenhand.arrays import ArrayTable, Floats, Ints
from evenhand.take import Progress

Plane = NDArray[np.uint8]
Picture = NDArray[np.uint8]  # RGB, shape (height, width, 3)
NEUTRAL = 128
NO_FILMS = frozenset({".flac", ".wav", ".mid", ".midi", ".mp3", ".aiff"})  # suffixes, not worth a look


@dataclass(frozen=True, slots=True)
class FilmFacts:
    """What a film's file was. ``capture_fps`` is how fast it says that it was filmed, where it says so."""

    format: str  # "mp4/h264"
    width_px: int
    height_px: int
    seconds: float
    fps: float
    rotation_deg: int = 0
    bits: int = 8
    wide_range: bool = False  # HDR
    capture_fps: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class SampledFrame:
    """One frame: luma and chroma, each of shape (rows, columns)."""

    time_s: float
    y: Plane
    u: Plane
    v: Plane


@dataclass(frozen=True, slots=True, eq=False)
class FilmSample:
    """A film's facts, and some of its frames in order of time, from the whole of it."""

    facts: FilmFacts
    frames: tuple[SampledFrame, ...]
    grid_px: int


@dataclass(frozen=True, slots=True, eq=False)
class Colours:
    """What to look for: each colour's weights, in what differs from the still background's chroma.

    ``weights`` say how much of a colour there is at a chroma less the background's, plus ``NEUTRAL`` (256 of
    U by 256 of V); ``u`` and ``v`` are the background's, shape (rows, columns).
    """

    weights: tuple[Plane, ...]
    u: Plane
    v: Plane


@dataclass(slots=True)
class Blobs(ArrayTable):
    """Patches of the colours looked for, in order of frames; every column of shape (n_blobs,).

    ``mass`` is the patch's weight in px.
    """

    frame: Ints
    colour: Ints
    x: Floats
    y: Floats
    mass: Floats


@dataclass(frozen=True, slots=True, eq=False)
class SeenFilm:
    """What was seen in the whole film. ``times_s`` has each frame's time, shape (n_frames,)."""

    times_s: Floats
    blobs: Blobs


@dataclass(frozen=True, slots=True)
class Cut:
    """Which pictures of a film are wanted, and what of them.

    ``times_s`` are frames' own times, rising; None is all. ``box_px`` is left, top, right and bottom, None
    the whole; ``width_px`` is how wide they come, even.
    """

    times_s: tuple[float, ...] | None
    width_px: int
    box_px: tuple[int, int, int, int] | None = None


class ShowsFilms(Protocol):
    """Gives a film's pictures, or refuses it by name."""

    def show(self, path: Path, cut: Cut, take: Callable[[float, Picture], None]) -> None:
        """Give pictures one by one, each of shape (height, width, 3) with its time."""
        ...


class LooksAtFilms(Protocol):
    """Reads a film's pictures, or refuses it by name."""

    def is_film(self, path: Path) -> bool:
        """Tell whether a recording has moving pictures; what cannot be opened has none."""
        ...

    def sample(self, path: Path) -> FilmSample:
        """Look at some of a film's frames."""
        ...

    def look(self, path: Path, colours: Colours, progress: Progress | None = None) -> SeenFilm:
        """Look for colours in all of a film's frames; ``progress`` is told the share done."""
        ...
