"""Show what was seen: a strip of frames around a stroke, or all of the video slowly, the tip's path drawn.

Conventions: px of the picture as it is shown; seconds on the sound's timeline, but for frames' own times.
Strokes are numbered from 1, in order of time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evenhand.arrays import Floats, Ints
from evenhand.errors import WrongOptions
from evenhand.film import Cut, Picture, ShowsFilms
from evenhand.measuring.seen import SeenTake
from evenhand.media.film.writing import SlowFilm, jpeg_of, write_slow
from evenhand.music.exercise import Hand
from evenhand.report.plots.strip import Shot, strip_picture
from evenhand.watching.values import SeenStick, SeenStroke

BEFORE_S, AFTER_S, SHOTS = 0.20, 0.28, 12
AROUND_CM, LEAST_WIDE = 7.0, 0.9  # about the tip's places; of the height
SHOT_PX, WIDEST_PX = 200, 960
TRAIL_S = 0.35
DOT_PX = 2
INKS: Mapping[Hand, tuple[int, int, int]] = {"R": (255, 255, 255), "L": (255, 214, 0)}


@dataclass(frozen=True, slots=True)
class _Around:
    """One stroke with its stick, the frames to be shown, and the part of the picture."""

    stroke: SeenStroke
    stick: SeenStick
    frames: tuple[int, ...]
    box_px: tuple[int, int, int, int]


def strip_of(path: Path, take: SeenTake, number: int, *, shows: ShowsFilms) -> str:
    """Return frames around one stroke as an SVG file, the path of its tip drawn.

    Raises
    ------
    WrongOptions
        There is no such stroke, or no stick was seen at it.
    UnreadableRecording
        The pictures cannot be decoded.
    """
    around = _around(take, number)
    shots = list(_shots(path, take, around, shows))
    return strip_picture(shots, f"Stroke {number} of {len(take.watched.strokes)}, {take.heard.name}")


def _around(take: SeenTake, number: int) -> _Around:
    """Choose what is shown of a stroke."""
    strokes = take.watched.strokes
    if not 1 <= number <= len(strokes):
        raise WrongOptions(got=f"stroke {number}", must_be=f"1 to {len(strokes)}: so many were seen")
    stroke = strokes[number - 1]
    stick = None if stroke.hand is None else take.watched.sticks.get(stroke.hand)
    if stick is None or stick.tip_px is None:
        raise WrongOptions(got=f"stroke {number}, of which no stick was seen", must_be="another stroke")
    frames = frames_around(stroke, stick, SHOTS)
    near = slice(frames[0], frames[-1] + 1) if frames.size else slice(0)
    x, y = (places[near][np.isfinite(places[near])] for places in stick.tip_px)
    if x.size < 2:
        raise WrongOptions(got=f"stroke {number}, of which no stick was seen", must_be="another stroke")
    return _Around(stroke, stick, tuple(frames.tolist()), _box(take, stick, x, y))


def frames_around(stroke: SeenStroke, stick: SeenStick, most: int) -> Ints:
    """Return so many frames around a stroke, evenly, shape (n_frames,)."""
    after = stick.times_s - stroke.time_s
    near = np.flatnonzero((after > -BEFORE_S) & (after < AFTER_S))
    return near[np.unique(np.linspace(0, near.size - 1, min(most, near.size)).round().astype(np.int64))]


def shift_s(take: SeenTake) -> float:
    """Return how much later the sound comes than the picture, seconds."""
    return (take.watched.shift_ms or 0.0) / 1000


def whole_box(take: SeenTake) -> tuple[int, int, int, int]:
    """Return the part of the picture about all places of both tips."""
    sticks = [stick for stick in take.watched.sticks.values() if stick.tip_px is not None]
    x, y = (np.concatenate([places[i] for s in sticks if (places := s.tip_px)]) for i in (0, 1))
    return _box(take, sticks[0], x[np.isfinite(x)], y[np.isfinite(y)])


def _box(take: SeenTake, stick: SeenStick, x: Floats, y: Floats) -> tuple[int, int, int, int]:
    """Return the part of the picture about the tip's places."""
    far = AROUND_CM * stick.px_per_cm
    low, high = (y.min() - far, y.max() + far)
    half = max(float(x.max() - x.min()) / 2 + far, LEAST_WIDE * float(high - low) / 2)
    middle = float(x.max() + x.min()) / 2
    left, top = max(int(middle - half), 0), max(int(low), 0)
    return left, top, min(int(middle + half), take.film.width_px), min(int(high), take.film.height_px)


def _shots(path: Path, take: SeenTake, around: _Around, shows: ShowsFilms) -> Iterator[Shot]:
    """Cut the frames, with the tip's places in each from the first on."""
    stick, box = around.stick, around.box_px
    times = tuple(float(stick.times_s[i] - shift_s(take)) for i in around.frames)
    pictures: list[Picture] = []
    shows.show(path, Cut(times, SHOT_PX, box), lambda _time_s, picture: pictures.append(picture))
    scale = SHOT_PX / (box[2] - box[0])
    for i, picture in zip(around.frames, pictures, strict=False):
        x, y = (each[around.frames[0] : i + 1] for each in stick.tip_px or ())
        places = np.stack([scale * (x - box[0]), scale * (y - box[1])], axis=1)
        places = places[np.isfinite(places).all(axis=1)]
        after_ms = 1000 * float(stick.times_s[i] - around.stroke.time_s)
        size = float(picture.shape[1]), float(picture.shape[0])
        yield Shot(
            jpeg_of(picture), size, after_ms, float(stick.height_cm[i]), tuple(map(tuple, places.tolist()))
        )


def write_marked(path: Path, take: SeenTake, out: Path, *, shows: ShowsFilms) -> None:
    """Write the video at half speed, without its sound, where each tip was for the last moments drawn.

    Raises
    ------
    CannotWrite, UnreadableRecording
        The place, or the pictures.
    """
    width = 2 * (min(take.film.width_px, WIDEST_PX) // 2)
    scale = width / take.film.width_px
    shift = shift_s(take)

    def fill(film: SlowFilm) -> None:
        def add(time_s: float, picture: Picture) -> None:
            marked = picture.copy()
            for hand, stick in take.watched.sticks.items():
                _mark(marked, stick, time_s + shift, scale, INKS[hand])
            film.add(time_s, marked)

        shows.show(path, Cut(None, width), add)

    write_slow(out, fill)


def _mark(picture: Picture, stick: SeenStick, time_s: float, scale: float, ink: tuple[int, int, int]) -> None:
    """Draw where a tip was in the last moments, dot by dot."""
    if stick.tip_px is None:
        return
    a, b = np.searchsorted(stick.times_s, (time_s - TRAIL_S, time_s + 1e-3))
    for x, y in zip(*(scale * each[a:b] for each in stick.tip_px), strict=True):
        if np.isfinite(x) and np.isfinite(y):
            rows = slice(max(int(y) - DOT_PX, 0), max(int(y) + DOT_PX, 0))
            picture[rows, max(int(x) - DOT_PX, 0) : max(int(x) + DOT_PX, 0)] = ink
