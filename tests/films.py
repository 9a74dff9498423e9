"""Small films for tests, drawn here and written by an encoder: bands of tape going up and down."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from evenhand.synthesis.drops import record_blows
from evenhand.synthesis.instruments import Scene

Shown = NDArray[np.uint8]
BLUE, GREEN, RED = (20, 70, 210), (30, 170, 60), (205, 30, 40)
WALL, PAD = (150, 148, 146), (60, 62, 66)
PX_PER_CM = 6.0
PAD_TOP, PAD_LEFT, PAD_WIDE = 220, 170, 180  # 30 cm
TIP_X = {BLUE: 260, GREEN: 262}
JITTER_MS = (0, 9, -7, 4, -11, 6, 10, -5, 8, -9, 3, -6)  # ms: no click is so uneven
HITS_S = tuple(0.5 + 0.25 * i + ms / 1000 for i, ms in enumerate(JITTER_MS))


def bounces(times_s: NDArray[np.float64], hits_s: Sequence[float], top_cm: float) -> NDArray[np.float64]:
    """Give a height, cm: a parabola from each hit to the next, as high as ``top_cm``; shape (n,)."""
    edges = np.concatenate([[hits_s[0] - 0.5], hits_s, [hits_s[-1] + 0.5]])
    i = np.clip(np.searchsorted(edges, times_s, side="right") - 1, 0, len(edges) - 2)
    share = np.clip((times_s - edges[i]) / (edges[i + 1] - edges[i]), 0, 1)
    return np.asarray(4 * top_cm * share * (1 - share))


def bar(picture: Shown, x: float, y: float, colour: Sequence[int]) -> None:
    """Draw a band of tape about a place: 16 px long, 8 px high."""
    top, left = round(y) - 4, round(x) - 8
    picture[top : top + 8, left : left + 16] = colour


def still(size: tuple[int, int] = (480, 320), round_px: float = 10, slope: float = 0.0) -> Shown:
    """Draw what stands still: a wall, and a pad that is 30 cm wide, its top ``round_px`` to either side."""
    return _still(size, round_px, slope).copy()


@lru_cache
def _still(size: tuple[int, int], round_px: float, slope: float) -> Shown:
    picture = np.empty((size[1], size[0], 3), np.uint8)
    picture[:] = WALL
    rows, columns = np.ogrid[: size[1], : size[0]]
    middle = PAD_LEFT + PAD_WIDE / 2
    down = rows - PAD_TOP - 10 - slope * (columns - middle)
    off = np.minimum(abs(columns - middle) / (PAD_WIDE / 2), 1)
    half = round_px * np.sqrt(1 - off * off)
    picture[(off < 1) & (down >= -half) & (down < 24 + half)] = PAD
    return picture


def two_sticks(
    time_s: float,
    colours: Sequence[Sequence[int]] = (BLUE, GREEN),
    behind: Shown | None = None,
    px_per_cm: float = PX_PER_CM,
) -> Shown:
    """Draw two bands that hit in turn at ``HITS_S``, from 20 cm; a colour that is empty is left out."""
    picture = still() if behind is None else behind.copy()
    for hand, colour in enumerate(colours):
        if not colour:
            continue
        height = bounces(np.array([time_s]), HITS_S[hand::2], 20.0)[0]
        bar(picture, 255 + 6 * hand, PAD_TOP + 6 - px_per_cm * height, colour)
    return picture


def sound_of(hits_s: Sequence[float], seconds: float) -> NDArray[np.float32]:
    """Record hits on an invented pad, shape (n,)."""
    scene = Scene(rate_hz=48_000, noise_snr_db=45.0, tail_s=max(seconds - hits_s[-1], 0.1))
    samples, _, _ = record_blows(
        hits_s, [-16.0 - 3 * (i % 3) for i in range(len(hits_s))], scene, np.random.default_rng(5)
    )
    return samples[: round(48_000 * seconds)]


def a_film(
    path: Path,
    draw: Callable[[float], Shown] = two_sticks,
    *,
    fps: float = 60.0,
    seconds: float = 4.0,
    codec: str = "libx264",
    form: str = "yuv420p",
    hits_s: Sequence[float] = HITS_S,
    tags: dict[str, str] | None = None,
) -> Path:
    """Write a film; without ``hits_s`` it has no sound."""
    with av.open(path, "w", options={"movflags": "use_metadata_tags"} if tags else {}) as container:
        container.metadata.update(tags or {})
        first = draw(0.0)
        picture = container.add_stream(codec, rate=round(fps))
        assert isinstance(picture, av.VideoStream)
        picture.width, picture.height, picture.pix_fmt = first.shape[1], first.shape[0], form
        picture.options = {"crf": "20", "preset": "ultrafast", "x265-params": "log-level=none"}
        sound = container.add_stream("aac", rate=48_000, layout="mono") if hits_s else None
        for i in range(round(fps * seconds)):
            frame = av.VideoFrame.from_ndarray(draw(i / fps), format="rgb24").reformat(format=form)
            container.mux(picture.encode(frame))
        container.mux(picture.encode(None))
        if sound is not None:
            samples = sound_of(hits_s, seconds)[None]
            heard = av.AudioFrame.from_ndarray(samples, format="fltp", layout="mono")
            heard.sample_rate = 48_000
            container.mux(sound.encode(heard))
            container.mux(sound.encode(None))
    return path
